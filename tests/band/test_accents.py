"""A hit of the whole band is louder than everything that each player plays around it.

A stop is an accent: common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

import pytest

from backing.band.context import level_at
from backing.chart.read import read_chart
from backing.notes import RHYTHM, Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import all_styles

if TYPE_CHECKING:
    from backing.band.context import BarContext
    from backing.timing import Meter

STYLES = {style.name: style for style in all_styles()[0]}
LOUDEST = 120
"""Greatest velocity of an ordinary stroke, which leaves room for hits (our choice)."""

PARTS = (
    '| C | F "stop" | G7 | C | Am "hold" | Dm | {} G7 "stop" | C | F "stop" | C | G7 | C |',
    '| F {} | F | C "stop" | C | G7 "hold" | G7 | C "stop" | C | F | F "stop" | G7 | C |',
)


class Struck(NamedTuple):
    """A stroke of one player.

    Attributes:
        velocity: 1 to 127.
        level: the factor of soft, loud and build at its place.
        is_hit: whether the whole band hits there.
    """

    velocity: int
    level: float
    is_hit: bool


def chart_of(meter: Meter, words: tuple[str, str] = ("", ""), ending: str = "none") -> str:
    """Return two parts with stops and holds at every distance from their starts."""
    head = f"key: C\nmeter: {meter}\nending: {ending}\nform: A B\n"
    first, second = (part.format(word) for part, word in zip(PARTS, words, strict=True))
    return f"{head}[A]\n{first}\n[B]\n{second}\n"


def played(text: str, style: str, seed: int, looseness: float = 0.0) -> Performance:
    """Return two choruses of a chart, played by the whole band."""
    settings = Settings(
        style=style, seed=seed, choruses=2, looseness=looseness, called=frozenset(Player)
    )
    return Performance(read_chart(text, "x.chart"), settings)


def strokes_of(one: Performance) -> dict[tuple[Player, int, int], list[Struck]]:
    """Return the strokes by player, chorus and part; the ending belongs to the last part."""
    found: dict[tuple[Player, int, int], list[Struck]] = defaultdict(list)
    for number in range(one.length):
        context = one.context(number)
        assert context
        form_index = min(context.sequenced.form_index, one.route.last.form_index)
        levels = one.route.levels(number)
        for note in one.bar(number).notes:
            tick = note.tick - context.start
            struck = Struck(note.velocity, level_at(levels, tick), is_hit_at(context, tick))
            found[note.player, context.chorus, form_index].append(struck)
    return found


def is_hit_at(context: BarContext, tick: int) -> bool:
    """Whether the whole band hits the chord at a tick."""
    sounding = context.at(tick)
    return sounding is not None and sounding.hit is not None and sounding.hit.is_struck


def softer_hits(one: Performance) -> list[tuple[Player, int, int, int]]:
    """Return the hits that are no louder than an ordinary stroke of at most the same level."""
    found = []
    for (player, chorus, form_index), strokes in strokes_of(one).items():
        ordinary = [each for each in strokes if not each.is_hit]
        for hit in (each for each in strokes if each.is_hit):
            below = [each.velocity for each in ordinary if each.level <= hit.level + 1e-9]
            if below and max(below) >= hit.velocity:
                found.append((player, chorus, form_index, hit.velocity))
    return found


@pytest.mark.parametrize("name", STYLES)
def test_hits_are_accents(name: str) -> None:
    """Each hit is louder than every ordinary stroke of its player in the same part and chorus."""
    style = STYLES[name]
    for meter in style.meters:
        one = played(chart_of(meter), name, 3)
        hits = [each for part in strokes_of(one).values() for each in part if each.is_hit]
        assert len(hits) >= 2 * 3 * 7
        assert not softer_hits(one)


@pytest.mark.parametrize("name", STYLES)
@pytest.mark.parametrize("words", [('"soft"', '"loud"'), ('"loud"', '"build"')])
def test_hits_are_accents_at_every_level(name: str, words: tuple[str, str]) -> None:
    """In soft, loud and build, too, against strokes that the chart makes no louder.

    Ordinary strokes stay below what hits may reach.
    """
    one = played(chart_of(STYLES[name].meters[0], words), name, 4)
    assert not softer_hits(one)
    strokes = [each for part in strokes_of(one).values() for each in part]
    assert max(each.velocity for each in strokes if not each.is_hit) <= LOUDEST
    assert max(each.velocity for each in strokes) <= 127


@pytest.mark.parametrize("name", STYLES)
@pytest.mark.parametrize("ending", ["hold", "short", "two-hit", "tag"])
def test_the_last_hits_are_accents(name: str, ending: str) -> None:
    """The hits of an ending are louder than the last part."""
    meter = STYLES[name].meters[0]
    one = played(chart_of(meter, ending=ending), name, 5)
    assert not softer_hits(one)


def test_the_chord_after_a_tag_has_the_lift_of_the_last_part() -> None:
    """After a tag of the second part the last chord is as loud as the tag's loudest bar."""
    text = (
        "key: C\nending: tag\nform: A B\n[A]\n" + "| C " * 8 + "|\n[B]\n" + "| F | G7 " * 4 + "|\n"
    )
    one = played(text, "swing", 5)
    contexts = [context for context in map(one.context, range(one.length)) if context]
    loudest = max(context.level(0) for context in contexts if context.sequenced.part == "tag")
    ((_, factor),) = next(context.hit_levels for context in contexts if context.is_end)
    assert factor >= loudest


@pytest.mark.parametrize("name", ["ballad", "waltz", "slow-blues"])
def test_a_ritard_ends_without_a_blow(name: str) -> None:
    """The last chord of a ritard is softer than a last chord that is hit."""
    meter = STYLES[name].meters[0]
    takes = [played(chart_of(meter, ending=ending), name, 5) for ending in ("ritard", "hold")]
    rested, hit = (
        next(bar for bar in map(one.bar, range(one.length)) if bar.marker == "ending")
        for one in takes
    )
    for player in RHYTHM:
        soft, loud = (
            max(note.velocity for note in bar.notes if note.player is player)
            for bar in (rested, hit)
        )
        assert soft < loud


@pytest.mark.parametrize("name", ["jig", "shuffle", "swing"])
def test_looseness_changes_no_loudness(name: str) -> None:
    """Looseness does not change the loudness of any bar of any player."""
    text = chart_of(STYLES[name].meters[0])
    exact, loose = (played(text, name, 6, looseness) for looseness in (0.0, 1.0))
    for number in range(0, exact.length, 3):
        here, there = (
            sorted((note.player, note.pitch, note.velocity) for note in one.bar(number).notes)
            for one in (exact, loose)
        )
        assert here == there
