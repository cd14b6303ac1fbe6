"""What players add to the strokes of a style: drawn players, a shared beat, lengths."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

import pytest
from acceptance.tunes import chart_text
from listening import deviation, mean

from backing.band.drummer import KICK, PEDAL, SNARE, TIME, drummer
from backing.band.hand_figures import FAMILIES, FIGURES
from backing.chart.read import read_chart
from backing.notes import Note, Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import find_style, style_files
from backing.style.model import FEELS

SEEDS = range(1, 41)
BASS_LINES = ("swing", "two-beat", "bluegrass", "jazz-waltz", "jig", "boogie")


def notes_of(style: str, seed: int, looseness: float = 1.0, choruses: int = 1) -> list[Note]:
    """Return all notes of a song in the style's meter, played by everybody."""
    settings = Settings(
        style=style, seed=seed, looseness=looseness, choruses=choruses, count_in=0,
        called=frozenset(Player),
    )  # fmt: skip
    chart = read_chart(chart_text("Song", find_style(style).meters[0]), "x")
    return [note for bar in Performance(chart, settings).bars() for note in bar.notes]


@pytest.mark.parametrize("feel", FEELS)
def test_a_drummer_lies_within_the_takes(feel: str) -> None:
    """What is drawn lies about p50, and mostly between p10 and p90 of the takes (GMD)."""
    figures = FIGURES[FAMILIES.get(feel, "all")]
    drawn = [drummer(seed, feel) for seed in SEEDS]
    for limb, takes in ((KICK, figures.kick), (SNARE, figures.snare), (PEDAL, figures.pedal)):
        found = [each.after_ms[limb] for each in drawn]
        inside = [takes.after.low <= each <= takes.after.high for each in found]
        assert sum(inside) >= 0.65 * len(found)
        assert takes.after.low < mean(found) < takes.after.high
        assert deviation(found) > 0
    for each in drawn:
        assert each.after_ms[TIME] == 0
        assert min(each.own_ms) > 0
        assert min(each.scatter) > 0


def test_another_seed_is_another_drummer() -> None:
    """No two takes have the same drummer; one seed has the same one in every style of a feel."""
    assert len({drummer(seed, "swing") for seed in SEEDS}) == len(SEEDS)
    assert drummer(3, "swing") == drummer(3, "swing")


def late_by_beat(style: str, seed: int) -> dict[Player, dict[tuple[int, int], float]]:
    """Return the delay of each player's first note on each notated tick, in ticks."""
    exact, loose = (notes_of(style, seed, looseness, choruses=2) for looseness in (0.0, 1.0))
    found: dict[Player, dict[tuple[int, int], float]] = defaultdict(dict)
    by_key: dict[tuple[Player, int], tuple[list[int], list[int]]] = defaultdict(lambda: ([], []))
    for side, notes in enumerate((exact, loose)):
        for note in sorted(notes):
            by_key[note.player, note.pitch][side].append(note.tick)
    for (player, _), (written, played) in by_key.items():
        for tick, after in zip(written, played, strict=True):
            found[player].setdefault((tick, 0), after - tick)
    return found


def correlation(first: dict[tuple[int, int], float], second: dict[tuple[int, int], float]) -> float:
    """Return the correlation of the delays of two players on the same ticks."""
    both = sorted(first.keys() & second.keys())
    a, b = [first[each] for each in both], [second[each] for each in both]
    middle = mean(a), mean(b)
    products = [(x - middle[0]) * (y - middle[1]) for x, y in zip(a, b, strict=True)]
    return mean(products) / (deviation(a) * deviation(b))


@pytest.mark.parametrize("style", ["swing", "two-beat", "shuffle"])
def test_the_band_moves_together(style: str) -> None:
    """Bass and drums, and chop and drums, are late together: limbs share .43 to .77 (GMD).

    Between players nothing is known to us; a third at least is ours.
    """
    found = [late_by_beat(style, seed) for seed in range(1, 7)]
    for player in (Player.BASS, Player.CHOP):
        assert mean([correlation(each[player], each[Player.DRUMS]) for each in found]) > 0.33


@pytest.mark.parametrize("looseness", [1.0, 2.0])
@pytest.mark.parametrize("style", BASS_LINES)
def test_the_bass_is_one_string(style: str, looseness: float) -> None:
    """However loose, no note of the bass sounds into the next one, across bar lines neither."""
    for seed in range(1, 5):
        bass = sorted(n for n in notes_of(style, seed, looseness) if n.player is Player.BASS)
        assert all(before.end <= after.tick for before, after in pairwise(bass))


@pytest.mark.parametrize("style", style_files())
def test_lengths_vary(style: str) -> None:
    """At looseness 1 hardly a length of bass or chop comes twice as often as others together.

    A figure of players' lengths is not known to us; that most notes differ is ours.
    """
    exact, loose = (notes_of(style, 2, looseness) for looseness in (0.0, 1.0))
    for player in (Player.BASS, Player.CHOP):
        often = []
        for notes in (exact, loose):
            ticks = {note.tick: note.length for note in notes if note.player is player}
            lengths = list(ticks.values())
            often.append(max(map(lengths.count, lengths)) / len(lengths))
        assert often[1] < 0.25
        assert often[1] < often[0]


@pytest.mark.parametrize("style", ["swing", "two-beat", "bossa-nova"])
def test_strokes_of_one_place_differ_in_loudness(style: str) -> None:
    """The strokes of a drum are of many velocities, in every place (GMD: scatter .12 to .5)."""
    struck: dict[int, list[int]] = defaultdict(list)
    for note in notes_of(style, 5, choruses=2):
        if note.player is Player.DRUMS:
            struck[note.pitch].append(note.velocity)
    for velocities in struck.values():
        if len(velocities) >= 40:
            assert deviation(velocities) / mean(velocities) > 0.06
