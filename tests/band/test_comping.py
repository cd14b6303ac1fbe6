"""What the chop makes of its patterns: variety, ghost strokes, room, a steady backbeat."""

from __future__ import annotations

from collections import defaultdict
from functools import lru_cache
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

import pytest
from test_chords_heard import bars_of, in_full, is_ghost

from backing.band.comping import comped
from backing.chart.read import read_chart
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import all_styles
from backing.style.model import LIGHT

if TYPE_CHECKING:
    from backing.band.context import BarContext, Stroke

STYLES = {style.name: style for style in all_styles()[0]}

STEADY = {
    **dict.fromkeys(
        ("bluegrass", "two-beat", "train-beat", "rag", "reel", "hornpipe", "boogie", "shuffle",
         "western-swing", "la-pompe"), (960, 2880)),
    "polka": (480, 1440), "march": (480, 1440), "slow-blues": (1440, 4320), "waltz": (960,),
    "jig": (960, 2400), "slip-jig": (960, 2400, 3840),
}  # fmt: skip
"""The strokes that each of these grooves lives by, in ticks: common practice, no source."""

CHOPPED = ("bluegrass", "two-beat", "train-beat", "rag", "reel", "hornpipe")
"""Grooves of which the chop is the backbeat and hardly more."""

SEEDS = range(1, 7)

Bars = list[tuple["BarContext", list["Stroke"]]]


@lru_cache(200)
def bars(style: str, seed: int, choruses: int = 8) -> Bars:
    """Return the bars of some choruses of a tune with a chord to the bar, with their strokes."""
    meter = STYLES[style].meters[0]
    lines = "| G | % | C | G |\n| Em | Am | D7 | G |\n" * 2
    text = f"key: G\nmeter: {meter}\nending: none\n[A] 16\n{lines}"
    settings = Settings(style=style, seed=seed, choruses=choruses, looseness=0.0)
    return list(bars_of(Performance(read_chart(text, "x"), settings)))


def weighed(context: BarContext, seed: int) -> tuple[object, ...]:
    """Return the rhythm of a bar with its accents and ghost strokes, before velocities vary."""
    comping = comped(context, seed)
    return tuple(comping.strokes), tuple(comping.ghosts)


def rhythm(strokes: list[Stroke]) -> frozenset[int]:
    """Return the ticks of some strokes."""
    return frozenset(each.tick for each in strokes)


@pytest.mark.parametrize("style", STEADY)
def test_what_the_groove_lives_by_is_in_every_bar(style: str) -> None:
    """2 and 4, or what stands for them, are struck in every bar, in full and never lightest."""
    for seed in SEEDS:
        for context, strokes in bars(style, seed):
            full = in_full(context, strokes)
            assert set(STEADY[style]) <= rhythm(full), (seed, context.number)


@pytest.mark.parametrize("style", STYLES)
def test_what_a_style_calls_steady_is_in_all_patterns_or_in_none(style: str) -> None:
    """A pattern that keeps time has all of the steady strokes; most styles have no other."""
    chop = STYLES[style].chop
    keeps = [
        {tick for tick, _ in chop.habits.steady.within(0, each.grid.ticks)}
        <= {tick for tick, _ in each.grid.within(0, each.grid.ticks)}
        for each in chop.patterns
    ]
    assert any(keeps)
    assert style == "swing" or all(keeps)
    if chop.habits.answer and style != "swing":
        answer = {tick for tick, _ in chop.habits.answer.hits}
        assert {tick for tick, _ in chop.habits.steady.hits} <= answer


@pytest.mark.parametrize("style", STYLES)
def test_no_rhythm_for_long(style: str) -> None:
    """No bar, with accents and ghost strokes, is played for more than four phrases on end.

    And the groove is still known: of the bars of styles with patterns of one bar, between a
    twentieth and six tenths are as the bar before. All figures are ours.
    """
    same: list[bool] = []
    for seed in SEEDS:
        rhythms = [weighed(context, seed) for context, _ in bars(style, seed)]
        assert max(len(list(group)) for _, group in groupby(rhythms)) <= 16
        same += [before == after for before, after in pairwise(rhythms)]
    ticks = {each.grid.ticks for each in STYLES[style].chop.patterns}
    if ticks == {STYLES[style].bar_ticks}:
        assert 0.05 <= sum(same) / len(same) <= 0.6


@pytest.mark.parametrize("style", STYLES)
def test_a_phrase_keeps_its_pattern_and_turns(style: str) -> None:
    """The first three bars of a phrase have one pattern, the fourth another, where there is one."""
    for seed in SEEDS:
        phrases: dict[tuple[int, int], list[BarContext]] = defaultdict(list)
        for context, _ in bars(style, seed):
            phrases[context.chorus, context.step // 4].append(context)
        for phrase in phrases.values():
            patterns = [context.pattern for context in phrase]
            fitting = [
                each
                for each in STYLES[style].chop.patterns
                if each.variation in ("", phrase[0].variation)
            ]
            assert patterns[0] is patterns[1]
            if len(fitting) > 1 and max(each.grid.ticks for each in fitting) <= 2 * (
                STYLES[style].bar_ticks
            ):
                assert patterns[3] is not patterns[0]


@pytest.mark.parametrize("style", STYLES)
def test_choruses_differ(style: str) -> None:
    """No chorus of the chop is that of another, in rhythm and accents."""
    for seed in SEEDS:
        choruses: dict[int, list[tuple[object, ...]]] = defaultdict(list)
        for context, _ in bars(style, seed):
            choruses[context.chorus].append(weighed(context, seed))
        found = [tuple(each) for each in choruses.values()]
        assert len(set(found)) == len(found)


@pytest.mark.parametrize("style", [name for name, style in STYLES.items()
                                   if style.chop.habits.ghost_share])  # fmt: skip
def test_ghost_strokes(style: str) -> None:
    """Ghost strokes come now and then: in fewer than half of the bars.

    Each is softer than the accents of its bar.
    """
    damped = []
    for seed in SEEDS:
        for context, strokes in bars(style, seed):
            soft = [each.velocity for each in strokes if is_ghost(context, each)]
            damped.append(bool(soft))
            if soft:
                full = in_full(context, strokes)
                assert max(soft) <= max(each.velocity for each in full) - 5
    assert 0.01 <= sum(damped) / len(damped) < 0.5


def test_more_ghosts_with_more_energy() -> None:
    """Where the chop is the backbeat, ghost strokes grow with the energy of the band."""
    found: list[tuple[float, int]] = []
    for style in ("bluegrass", "two-beat", "rag"):
        for seed in range(1, 25):
            for context, strokes in bars(style, seed):
                count = len({each.tick for each in strokes if is_ghost(context, each)})
                found.append((context.energy, count))
    low = [count for energy, count in found if energy < 0.45]
    high = [count for energy, count in found if energy > 0.65]
    assert sum(high) / len(high) > 1.2 * sum(low) / len(low)


@pytest.mark.parametrize("style", STYLES)
def test_room_for_an_answer(style: str) -> None:
    """Where another player answers or fills there are fewer strokes than elsewhere at that place.

    The chop's own answer has more.
    """
    beat_ticks = STYLES[style].meters[0].beat_ticks
    counts: dict[str, list[int]] = defaultdict(list)
    for seed in range(1, 31):
        for context, strokes in bars(style, seed):
            if context.step % 4 != 3:
                continue
            late = {each.tick for each in strokes if each.tick >= context.ticks - beat_ticks}
            who = context.plan.answers
            kind = "own" if who is Player.CHOP else "other" if who or context.fill else "none"
            counts[kind].append(len(late))
    means = {kind: sum(each) / len(each) for kind, each in counts.items()}
    assert means["other"] <= means["none"] + 0.05
    assert means["own"] > means["other"]


@pytest.mark.parametrize("style", STYLES)
def test_accents_are_struck(style: str) -> None:
    """Off the beat the band's accents are struck, nearly all, and are no light strokes.

    Not where another player answers or fills.
    """
    light = STYLES[style].chop.velocity[LIGHT]
    beat_ticks = STYLES[style].meters[0].beat_ticks
    struck = []
    for seed in range(1, 13):
        for context, strokes in bars(style, seed):
            if context.plan.answers or context.fill:
                continue
            for accent in context.plan.accents:
                if accent % beat_ticks:
                    here = [each.velocity for each in strokes if each.tick == accent]
                    struck.append(bool(here) and max(here) > light)
    if struck:
        assert sum(struck) / len(struck) >= 0.85


@pytest.mark.parametrize("style", CHOPPED)
def test_the_off_beats_stay_rare(style: str) -> None:
    """Where the chop is the backbeat, 1 and 3 have at most a light stroke in few of the bars."""
    on_one = []
    for seed in SEEDS:
        for context, strokes in bars(style, seed):
            full = rhythm(in_full(context, strokes))
            on_one += [0 in full, 1920 in full]
    assert sum(on_one) / len(on_one) <= 0.3
