"""What drummers leave out of a groove and add to it, and where they fill, over many seeds.

Bands are p10 to p90 of takes: computed from the Groove MIDI Dataset v1.0.0 (Gillick et al. 2019, CC
BY 4.0), as in `backing/band/habits.py` and `backing/band/fills.py`.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from listening import BEAT, mean, share

from backing.band.arrange import groove_of
from backing.band.fills import fill_of
from backing.chart.read import read_chart
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import find_style, style_files

if TYPE_CHECKING:
    from backing.band.context import BarContext

SEEDS = range(12)


def performance(style: str, seed: int) -> Performance:
    """Return a song of 32 bars, three times round."""
    meter = find_style(style).meters[0]
    part = "| C | Am | Dm | G7 | C | Am | Dm | G7 |\n"
    chart = read_chart(f"meter: {meter}\nform: A A B A\n[A] 8\n{part}[B] 8\n{part}")
    settings = Settings(style=style, seed=seed, choruses=3, called=frozenset(Player))
    return Performance(chart, settings)


@cache
def contexts(style: str, seed: int) -> tuple[BarContext, ...]:
    """Return the bars of the song without the ending."""
    band = performance(style, seed)
    found = [band.context(number) for number in range(96)]
    return tuple(context for context in found if context)


def every(style: str) -> list[BarContext]:
    """Return the bars of all seeds."""
    return [context for seed in SEEDS for context in contexts(style, seed)]


def limb(context: BarContext, *lanes: str) -> frozenset[int]:
    """Return when a limb strikes in the bar of a groove."""
    return frozenset(tick for lane, hits in context.groove if lane in lanes for tick, _ in hits)


@pytest.mark.parametrize(
    "style, lanes, least, most",
    [
        ("swing", ("hat", "open-hat", "ride"), 0.0, 0.59),
        ("swing", ("kick",), 0.05, 0.40),
        ("swing", ("snare", "side-stick"), 0.01, 0.33),
        ("swing", ("pedal-hat",), 0.15, 0.86),
        ("shuffle", ("hat", "open-hat", "ride"), 0.04, 0.53),
        ("shuffle", ("snare",), 0.02, 0.69),
        ("shuffle", ("pedal-hat",), 0.17, 0.69),
        ("bossa-nova", ("kick",), 0.10, 0.35),
        ("bossa-nova", ("hat", "ride"), 0.0, 0.58),
    ],
)
def test_bars_change(style: str, lanes: tuple[str, ...], least: float, most: float) -> None:
    """So many bars of a limb are like the one before."""
    same = []
    for seed in SEEDS:
        bars = [limb(context, *lanes) for context in contexts(style, seed)]
        same += [before == after for before, after in pairwise(bars) if before | after]
    assert least <= share(same) <= most


@pytest.mark.parametrize("style", ["boogie", "shuffle", "slow-blues"])
def test_backbeat(style: str) -> None:
    """The backbeat is in every bar: common practice, no source."""
    beat = find_style(style).meters[0].beat_ticks
    for context in every(style):
        assert {beat, 3 * beat} <= limb(context, "snare")


@pytest.mark.parametrize("style", ["march", "polka", "reel", "two-beat", "waltz"])
def test_kick_for_dancers(style: str) -> None:
    """The kick is on the first beat of every bar of a dance: common practice, no source."""
    assert all(0 in limb(context, "kick") for context in every(style))


def ends(style: str, bars: int) -> list[bool]:
    """Return whether ends of so many bars of a part have a fill, without the last of all."""
    return [
        context.fill is not None
        for seed in SEEDS
        for context in contexts(style, seed)[:-1]
        if context.sequenced.index % 8 == bars - 1
    ]


@pytest.mark.parametrize(
    "style, bars, least, most",
    [
        ("swing", 4, 0.74, 1.0),
        ("swing", 8, 0.71, 1.0),
        ("shuffle", 4, 0.19, 0.84),
        ("shuffle", 8, 0.06, 0.82),
        ("two-beat", 4, 0.54, 1.0),
        ("two-beat", 8, 0.46, 1.0),
        ("bossa-nova", 4, 0.27, 0.91),
        ("bossa-nova", 8, 0.30, 0.90),
    ],
)
def test_ends_without_a_fill(style: str, bars: int, least: float, most: float) -> None:
    """So many ends of four and of eight bars have no fill; some have one."""
    found = ends(style, bars)
    assert least <= 1 - share(found) <= most
    assert any(found)


@pytest.mark.parametrize("style", ["swing", "shuffle", "two-beat"])
def test_most_fills_are_short(style: str) -> None:
    """One beat is the usual length, two come next, and some are longer: as in all families."""
    lengths = Counter(
        context.fill.ticks // BEAT
        for seed in range(60)
        for context in contexts(style, seed)
        if context.fill
    )
    assert lengths[1] > lengths[2] > lengths[3] > 0
    assert max(lengths) <= 4


@pytest.mark.parametrize("style", style_files())
def test_fills_are_many(style: str) -> None:
    """A drummer joins at least a dozen different fills from the parts that a style has."""
    found = {
        context.fill for seed in range(40) for context in contexts(style, seed) if context.fill
    }
    assert len(found) >= 12


@pytest.mark.parametrize("style", style_files())
def test_fills_go_down(style: str) -> None:
    """The last drum of a fill is as low as the first one or lower, where it is not a written one.

    Common practice, no source. Measured on the lowest drum of each beat.
    """
    depth = {"high-tom": 1, "tom": 2, "floor-tom": 3}
    beat = find_style(style).meters[0].beat_ticks
    beat = beat if beat % BEAT else BEAT
    rising = []
    for seed in range(40):
        for context in contexts(style, seed):
            if context.fill is None or context.fill.ticks % beat:
                continue
            lowest: dict[int, int] = defaultdict(int)
            for lane, hits in context.fill.lanes:
                for tick, _ in hits:
                    lowest[tick // beat] = max(lowest[tick // beat], depth.get(lane, 0))
            order = [lowest[number] for number in range(context.fill.ticks // beat)]
            rising.append(order != sorted(order))
    assert share(rising) <= 0.2


def test_drummers_differ() -> None:
    """A seed is one drummer: some play far more kicks, or leave out more, than others."""
    sizes = [
        mean([len(limb(context, "kick")) for context in contexts("swing", seed)])
        for seed in range(30)
    ]
    assert max(sizes) - min(sizes) > 0.4


@pytest.mark.parametrize("style", ["swing", "two-beat"])
def test_energy(style: str) -> None:
    """With more energy there are more fills, and fewer bars stay as they were."""
    wanted = find_style(style)
    fills, kinds = [], []
    for energy in (0.0, 1.0):
        found, bars = 0, set()
        for seed in SEEDS:
            known = contexts(style, seed)
            for here, after in pairwise(known):
                address = seed, here.chorus, here.step
                found += fill_of(
                    wanted, here.sequenced, after.sequenced, ends=False, chorus_bars=32,
                    address=address, energy=energy,
                ) is not None  # fmt: skip
                bars.add(groove_of(
                    wanted, here.variation, here.sequenced, address, bpm=here.bpm, energy=energy,
                ))  # fmt: skip
        fills.append(found)
        kinds.append(len(bars))
    assert fills[1] > 1.3 * fills[0]
    assert kinds[1] > kinds[0]


@pytest.mark.parametrize("style", ["swing", "jig", "waltz"])
def test_a_bar_alone(style: str) -> None:
    """A bar that is made alone has the groove and the fill that it has in its place."""
    known = contexts(style, 3)
    contexts.cache_clear()
    for number in (50, 7, 31):
        alone = performance(style, 3).context(number)
        assert alone is not None
        assert (alone.groove, alone.fill) == (known[number].groove, known[number].fill)
