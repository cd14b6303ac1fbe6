"""A drummer's habits: what he leaves out of a groove and adds to it, bar by bar and limb by limb.

A seed is one drummer, whose habits are drawn once. In each bar a limb is touched or left alone; if
it is touched, strokes are left out and added by their place in the beat. Changes come in clumps:
each limb has a life of its own, which is drawn every four bars.

Some strokes always stay (common practice, no source): accents; what is struck plainly on the first
beat, for dancers; pulse and backbeat, which are what kick and snare strike plainly at the same
place of both halves of the bar; and strokes of rolls that stand at no place of the beat. Where no
cymbal keeps time the snare does, and has the habits of a hand at a cymbal.

Shares: computed from the Groove MIDI Dataset v1.0.0 (Gillick et al. 2019, CC BY 4.0), p10, p50 and
p90 of takes. Swing is 16 takes by four drummers, shuffle five by four; all is 33 takes by seven and
serves where a family has fewer than three drummers. All are in 4/4; other meters have the same
shares by place. In 6/8, 9/8 and 12/8 the second and third eighth of a beat are a triplet's places.
"""

from __future__ import annotations

from functools import lru_cache
from math import sqrt
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from backing import chance
from backing.band.drummer import drawn, turn
from backing.style.model import FIRM, LIGHT, PLAIN
from backing.timing import EIGHTH, TICKS_PER_QUARTER, seconds_to_ticks

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.style.model import DrumGroove, Hits, Lanes, Style

_Place = TypeVar("_Place")

_ON, _OFF, _BETWEEN = range(3)
"""Places: a beat, its off-beat, and between: the other sixteenths, or the middle of a triplet."""

_TOUCHED, _LEFT_OUT, _ADDED = 0, 1, 4
"""Columns: bars like the one before; left out on, off and between the beats; added there."""

_TABLE = """
swing time     0 32 59   7 11 21  11 17 31  34 39 44   0  0  0   0  2  8   0  0  4
swing kick     5 19 40  12 16 38  33 39 41  33 39 41   3  5 12   3  7 14   0  3  8
swing snare    1  7 33  10 33 46  30 38 43  30 37 43   3  7 14   6 12 18   4  8 15
swing pedal   15 31 86   7 19 32  23 28 40   8  8  8   2  3 17   1  5  7   0  0  2
shuffle time   4 14 53  12 21 32  12 15 27  13 22 24   6  7 13   4 11 13   2  7 18
shuffle kick  24 71 91   1  2  7  10 16 23  20 30 41   2  5  7   1  3 14   0  4  7
shuffle snare  2 13 69   6 12 18   4 30 34   5 20 35   3 10 15   5 13 19   5 10 16
shuffle pedal 17 54 69   6 19 28  14 27 41  38 38 39   3  7 13   0  0  6   0  1  8
all time       0 28 58   7 12 32   9 15 31  12 24 36   2  5 18   0  3 14   0  1  6
all kick       6 33 82   1  9 34  10 36 42  24 40 45   1  6 13   0  5 11   0  3  8
all snare      0 12 54   4 12 43   3 32 39  12 34 44   2  7 15   4 11 19   4  8 16
all pedal     16 41 75   5 19 32  10 27 46  14 38 43   2  7 16   0  3  8   0  1  4
"""
"""By family and limb: p10, p50 and p90 of each column, in percent; see above for the source."""

_PART = 0.6
"""Part of the shares that is played; the rest comes from grooves that change (ours)."""

_LIVES = (
    0.09, 0.19, 0.28, 0.37, 0.45, 0.55, 0.64, 0.75, 0.86, 0.98, 1.13, 1.29, 1.5, 1.77, 2.17, 3.0,
)  # fmt: skip
"""A gamma distribution of shape 1.5 and mean 1, in sixteen equal parts."""

_LIFE_BARS = 4
_LEAST, _MOST = 0.1, 0.9
"""Limits of the shares of bars that are touched, and of strokes that are left out (ours)."""

_CALM, _LIVELIER = 0.6, 0.8
"""Factor on changes at the least energy, and what the most adds; 1 in the middle (ours)."""

_GHOSTS = 0.55
"""Share of light strokes among what is added: of the snare's strokes .51 to .65 in each family."""

_QUICKEST_SECONDS = 0.1
"""Least time from a beat to a place for anything to be added there (ours)."""

_TIME, _SNARE = "time", "snare"
_LIMBS = {
    _TIME: (
        "hat", "ride", "open-hat", "ride-bell", "sweep", "tambourine", "high-wood-block",
        "low-wood-block", "crash", "splash",
    ),
    "kick": ("kick",),
    _SNARE: ("snare", "side-stick", "tom", "floor-tom", "high-tom"),
    "pedal": ("pedal-hat",),
}  # fmt: skip
HANDS = _LIMBS[_SNARE]
"""Lanes of the hand that does not keep time."""

_EVEN = ("kick", *HANDS)
"""Lanes that have pulse or backbeat."""

_JOINS_IN = ("kick", _SNARE)
"""Limbs that may add strokes to a groove that does not use them."""


class _Limb(NamedTuple):
    """A limb in one bar of a groove.

    Attributes:
        name: one of `_LIMBS`.
        lanes: its lanes.
        loose: what may be left out by place, as pairs of (lane, tick).
        free: the ticks by place where something may be added.
        gaps: the ticks from one beat to the next and to each other place.
        joins: the lane that is added to; it is one of the lanes.
    """

    name: str
    lanes: Lanes
    loose: tuple[tuple[int, tuple[tuple[str, int], ...]], ...]
    free: tuple[tuple[int, tuple[int, ...]], ...]
    gaps: dict[int, int]
    joins: str


@lru_cache(64)
def _drummer(family: str, seed: int) -> dict[str, tuple[float, ...]]:
    """Return one drummer's shares by limb in the columns of `_TABLE`, from 0 to 1.

    The first is the share of bars in which the limb is touched; the others hold in these.
    """
    found = {}
    rows = [row.split() for row in _TABLE.strip().splitlines()]
    own = family if any(row[0] == family for row in rows) else "all"
    for _, name, *figures in [row for row in rows if row[0] == own]:
        columns = zip(*[iter(map(int, figures))] * 3, strict=True)
        same, *others = [
            max(drawn(row, turn(seed, f"habit {name} {column}")), 0.0) / 100
            for column, row in enumerate(columns)
        ]
        touched = max(1.0 - sqrt(same), _LEAST)  # two bars are alike if neither is touched
        found[name] = (touched, *(_PART * each / touched for each in others))
    return found


@lru_cache(64)
def _lives(seed: int, chorus: int, phrase: int) -> dict[str, float]:
    source = chance.source(seed, "lives", chorus, phrase)
    return {name: source.choice(_LIVES) for name in _LIMBS}


def played(
    style: Style,
    groove: DrumGroove,
    bar: tuple[int, int, int],
    address: tuple[int, int, int],
    *,
    bpm: float,
    energy: float,
) -> Lanes:
    """Return the strokes of one bar as the drummer of this seed plays a groove.

    Args:
        style: the style.
        groove: the groove.
        bar: ticks from the start of the groove to the bar line, ticks of the bar, and of a beat.
        address: the seed, the chorus and the bar's index in it.
        bpm: quarter notes a minute.
        energy: from 0 to 1; the more, the livelier.
    """
    seed, chorus, step = address
    if style.drums.habits == "none":
        phase, ticks, _ = bar
        return tuple((lane, grid.within(0, ticks, phase)) for lane, grid in groove.lanes)
    drummer = _drummer(style.drums.habits, seed)
    lives = _lives(seed, chorus, step // _LIFE_BARS)
    quickest = seconds_to_ticks(_QUICKEST_SECONDS, bpm)
    limbs, count = _limbs(style, groove, *bar)
    draws = chance.units(seed, "bar", chorus, step, count=count)
    found: list[tuple[str, Hits]] = []
    for limb in limbs:
        shares = drummer[limb.name]
        if next(draws) < shares[_TOUCHED]:
            life = lives[limb.name] * (_CALM + _LIVELIER * energy)
            found += _touched(limb, shares, life, draws, quickest)
        else:
            found += limb.lanes
    return tuple(found)


def _touched(
    limb: _Limb, shares: tuple[float, ...], life: float, draws: Iterator[float], quickest: float
) -> Iterator[tuple[str, Hits]]:
    """Yield the lanes of a limb with strokes left out and added."""
    out: set[tuple[str, int]] = set()
    for place, loose in limb.loose:
        out.update(_some(loose, shares[_LEFT_OUT + place] * life, draws))
    new: list[tuple[int, int]] = []
    for place, free in limb.free:
        if limb.gaps[place] >= quickest:
            ticks = _some(free, shares[_ADDED + place] * life, draws)
            new += [(tick, LIGHT if next(draws) < _GHOSTS else PLAIN) for tick in ticks]
    for lane, hits in limb.lanes:
        kept = [each for each in hits if (lane, each[0]) not in out] if out else hits
        yield lane, tuple(sorted([*kept, *new]) if new and lane == limb.joins else kept)


def _some(places: tuple[_Place, ...], share: float, draws: Iterator[float]) -> Sequence[_Place]:
    """Return some of the places: as many as their share, rounded up or down by chance."""
    count = int(len(places) * min(share, _MOST) + next(draws))
    if not count:
        return ()
    rest = list(places)
    return [rest.pop(int(next(draws) * len(rest))) for _ in range(count)]


@lru_cache(1024)
def _limbs(
    style: Style, groove: DrumGroove, phase: int, ticks: int, beat: int
) -> tuple[tuple[_Limb, ...], int]:
    """Return the limbs of one bar of a groove, and how many draws they need at most."""
    lanes = {lane: grid.within(0, ticks, phase) for lane, grid in groove.lanes}
    places = _places(style.feel != "straight", ticks, beat)
    has_time = any(lane in lanes for lane in _LIMBS[_TIME])
    found = []
    for name in _LIMBS:
        if name == _SNARE and not has_time:
            continue
        members = _LIMBS[_SNARE if name == _TIME and not has_time else name]
        own = {lane: lanes[lane] for lane in members if lane in lanes}
        if not own and name in _JOINS_IN:
            own = {lane: () for lane in members[:1] if lane in dict(style.drums.velocity)}
        if own:
            found.append(_limb(name, own, places, ticks))
    return tuple(found), sum(map(_draws, found))


def _draws(limb: _Limb) -> int:
    """Return how many draws a limb needs at most: for itself, each place, each stroke."""
    strokes = [len(each) for _, each in limb.loose] + [2 * len(each) for _, each in limb.free]
    return 1 + len(strokes) + sum(strokes)


def _limb(name: str, lanes: dict[str, Hits], places: dict[int, int], ticks: int) -> _Limb:
    struck = {tick for hits in lanes.values() for tick, _ in hits}
    loose = [
        (places[tick], (lane, tick))
        for lane, hits in lanes.items()
        for tick, weight in hits
        if tick in places and not stays(lane, hits, tick, weight, ticks)
    ]
    free = [
        (place, tick)
        for tick, place in places.items()  # a swung off-beat is played where a triplet's third is
        if all(abs(each - tick) >= EIGHTH // 2 for each in struck)
    ]
    gaps = {place: tick for tick, place in reversed(places.items())} | {_ON: TICKS_PER_QUARTER}
    return _Limb(
        name, tuple(lanes.items()), _by_place(loose), _by_place(free), gaps, next(iter(lanes))
    )


def _by_place(pairs: list[tuple[int, _Place]]) -> tuple[tuple[int, tuple[_Place, ...]], ...]:
    """Return what stands at each place, for those that have something."""
    found: dict[int, list[_Place]] = {}
    for place, each in pairs:
        found.setdefault(place, []).append(each)
    return tuple((place, tuple(some)) for place, some in found.items())


def stays(lane: str, hits: Hits, tick: int, weight: int, ticks: int) -> bool:
    """Whether a stroke is never left out: an accent, plain on the first beat, or pulse."""
    if weight != PLAIN:
        return weight == FIRM
    again = (tick + ticks // 2) % ticks
    is_even = any(at == again and other > LIGHT for at, other in hits)
    return not tick or (is_even and lane in _EVEN)


def _places(swings: bool, ticks: int, beat: int) -> dict[int, int]:
    """Return the places of a bar by tick: of triplets if it swings or beats have three eighths."""
    if beat % TICKS_PER_QUARTER == EIGHTH and beat > EIGHTH:
        inside = {0: _ON, EIGHTH: _BETWEEN, 2 * EIGHTH: _OFF}
    else:
        beat = TICKS_PER_QUARTER
        third, fourth = beat // 3, beat // 4
        inside = {0: _ON, EIGHTH: _OFF}
        inside |= {third: _BETWEEN} if swings else {fourth: _BETWEEN, 3 * fourth: _BETWEEN}
    return {
        tick + at: place
        for tick in range(0, ticks, beat)
        for at, place in inside.items()
        if tick + at < ticks
    }
