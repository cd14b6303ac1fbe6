"""Drum fills: where they stand, how long they are, and how they are joined from parts.

Conventions: the fills of a style are cut into beats. The last beat of a fill is a close, the beats
before it are openings. A fill of some beats is as many openings and a close, and goes down the
drums, never up (common practice, no source). A written fill that is no whole number of beats is a
close as it is. Short fills also stand inside a bar, where the hands answer the tune.

Chances and lengths: computed from the Groove MIDI Dataset v1.0.0 (Gillick et al. 2019, CC BY 4.0).
The takes are practice, not songs: how much more the end of a part is marked than that of four bars
is ours, between p50 and p90 of what the takes have at ends of four and eight bars.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.drummer import drawn, turn
from backing.band.habits import HANDS, stays
from backing.band.hits import hit_of
from backing.band.plan import PHRASE_BARS
from backing.style.model import FEET
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from random import Random

    from backing.chart.sequence import SequencedBar
    from backing.style.model import Lanes, Style


class Fill(NamedTuple):
    """A fill or a part of one.

    Attributes:
        ticks: its length; a fill ends with its bar.
        lanes: its strokes by lane, in ticks from its start.
    """

    ticks: int
    lanes: Lanes


class _Chances(NamedTuple):
    """Chances of a fill by place, for the median drummer.

    Attributes:
        part: at the end of a part.
        eight, four: at the end of eight or four bars of a part.
        elsewhere: at the end of another bar.
        inside: inside a bar.
        lengths: relative chances of one, two, three and four beats.
        a_bar: fills a bar: p10, p50 and p90 of takes.
    """

    part: float
    eight: float
    four: float
    elsewhere: float
    inside: float
    lengths: tuple[float, ...]
    a_bar: tuple[float, float, float]


_CHANCES = {
    "swing": _Chances(0.22, 0.12, 0.07, 0.01, 0.05, (69, 25, 5, 1), (0.02, 0.09, 0.33)),
    "shuffle": _Chances(0.62, 0.55, 0.45, 0.06, 0.08, (55, 26, 8, 6), (0.15, 0.25, 0.57)),
    "straight": _Chances(0.4, 0.3, 0.2, 0.09, 0.04, (65, 23, 11, 0), (0.08, 0.18, 0.24)),
    "latin": _Chances(0.4, 0.35, 0.25, 0.03, 0.1, (32, 11, 13, 17), (0.11, 0.2, 0.29)),
    "none": _Chances(0.4, 0.3, 0.2, 0.09, 0, (65, 23, 11, 0), (0.08, 0.18, 0.24)),
}
"""As many in all as the dataset has; at bar lines stand .40 of them in swing, .69 in shuffle, .79
straight and .46 latin."""

_LEAST, _MOST = 0.3, 1.6
"""Limits of one drummer's factor on all chances (ours)."""

_CALM, _LIVELIER = 0.6, 0.8
"""Factor on chances at the least energy, and what the most adds; 1 in the middle (ours)."""

_CHORUS_END = 1.5
"""Factor on the chance of a fill before the next chorus (ours)."""

_LONG_PART = 8
_SOFTLY = {"soft", "break"}
"""Directions before which a fill is one beat long (ours)."""

_DEPTHS = {"high-tom": 1, "tom": 2, "floor-tom": 3}
"""How far down a drum is; all others are at the top."""

_Weighted = tuple[tuple[Fill, float], ...]


def _factor(style: Style, seed: int, energy: float) -> float:
    """Return one drummer's factor on all chances."""
    return _liking(style.drums.habits, seed) * (_CALM + _LIVELIER * energy)


@lru_cache(64)
def _liking(family: str, seed: int) -> float:
    row = _CHANCES[family].a_bar
    return max(min(drawn(row, turn(seed, "fills")) / row[1], _MOST), _LEAST)


def fill_of(
    style: Style,
    sequenced: SequencedBar,
    following: SequencedBar | None,
    *,
    ends: bool,
    chorus_bars: int,
    address: tuple[int, int, int],
    energy: float,
) -> Fill | None:
    """Return the drum fill at the end of a bar, or None.

    There is one where the chart asks for it, in a pickup and before the ending; elsewhere by
    chance, but none before a pickup or where the band hits together.

    Args:
        style: the style.
        sequenced: the bar.
        following: the bar that follows, or None.
        ends: whether the last chord of the performance comes on the next first beat.
        chorus_bars: bars of the chorus.
        address: the seed, the chorus and the bar's index in it.
        energy: from 0 to 1; the more, the more fills.
    """
    bar = sequenced.bar
    seed, chorus, step = address
    words = frozenset(each.word for each in bar.directions)
    asked = "fill" in words
    is_last = step == chorus_bars - 1
    if not asked:
        if following is None or following.bar.pickup or hit_of(words):
            return None
        if not (ends or bar.pickup):
            here = _at_end(_CHANCES[style.drums.habits], sequenced, following)
            here *= _CHORUS_END if is_last else 1.0
            if chance.unit(seed, "fills", chorus, step) >= here * _factor(style, seed, energy):
                return None
    soft = following is not None and bool(_SOFTLY & following.bar.words_at(0))
    big = ends or (is_last and chorus_bars >= _LONG_PART)
    source = chance.source(seed, "fill", chorus, step)
    beats = 1 if soft else max(_length(style, source) for _ in range(1 + big))
    return _joined(style, source, min(beats * _beat(style), bar.ticks))


def _at_end(chances: _Chances, sequenced: SequencedBar, following: SequencedBar) -> float:
    """Return the chance of a fill at the end of a bar."""
    new = sequenced.length >= PHRASE_BARS or following.part != sequenced.part
    if sequenced.is_part_end and new:
        return chances.part
    bars = sequenced.index + 1
    if bars % PHRASE_BARS:
        return chances.elsewhere
    return chances.four if bars % _LONG_PART else chances.eight


def _length(style: Style, source: Random) -> int:
    """Return a number of beats."""
    lengths = _CHANCES[style.drums.habits].lengths
    return chance.pick(source, tuple(enumerate(lengths, 1)))


def with_answer(
    style: Style, lanes: Lanes, ticks: int, address: tuple[int, int, int], energy: float
) -> Lanes:
    """Return the strokes of a bar, at times with a short fill inside it, in place of the hands."""
    seed, chorus, step = address
    here = _CHANCES[style.drums.habits].inside * _factor(style, seed, energy)
    if chance.unit(seed, "answers", chorus, step) >= here:
        return lanes
    beat = _beat(style)
    starts = _free_beats(lanes, ticks, beat)
    if not starts:
        return lanes
    source = chance.source(seed, "answer", chorus, step)
    start = source.choice(starts)
    most = next(n for n in range(1, len(starts) + 1) if start + n * beat not in starts)
    fill = _joined(style, source, min(_length(style, source), most) * beat)
    end, busy = start + fill.ticks, {lane for lane, _ in fill.lanes}
    kept = tuple(
        (lane, tuple(hit for hit in hits if not start <= hit[0] < end))
        if lane in busy or lane not in FEET
        else (lane, hits)
        for lane, hits in lanes
    )
    return kept + tuple(
        (lane, tuple((start + tick, weight) for tick, weight in hits)) for lane, hits in fill.lanes
    )


def _free_beats(lanes: Lanes, ticks: int, beat: int) -> list[int]:
    """Return the beats between first and last that have no accent of the snare and no backbeat."""
    taken = {
        tick // beat * beat
        for lane, hits in lanes
        if lane in HANDS
        for tick, weight in hits
        if stays(lane, hits, tick, weight, ticks)
    }
    return [start for start in range(beat, ticks - beat, beat) if start not in taken]


def _beat(style: Style) -> int:
    """Return the length of a part of a fill: a beat, or a quarter where beats are halves."""
    beat = style.meters[0].beat_ticks
    return beat if beat % TICKS_PER_QUARTER else TICKS_PER_QUARTER


def _joined(style: Style, source: Random, ticks: int) -> Fill:
    """Return a fill of at most so many ticks, or one of the shortest closes."""
    closes, openings = _parts(style)
    most = max(ticks, min(part.ticks for part, _ in closes))
    found = [chance.pick(source, tuple([each for each in closes if each[0].ticks <= most]))]
    for _ in range((ticks - found[0].ticks) // _beat(style) if openings else 0):
        deepest = _depth(found[0])
        down = tuple([each for each in openings if _depth(each[0]) <= deepest])
        found.insert(0, chance.pick(source, down or openings))
    return _in_a_row(found)


def _in_a_row(parts: list[Fill]) -> Fill:
    lanes: dict[str, list[tuple[int, int]]] = {}
    start = 0
    for part in parts:
        for lane, hits in part.lanes:
            lanes.setdefault(lane, []).extend((start + tick, weight) for tick, weight in hits)
        start += part.ticks
    return Fill(start, tuple((lane, tuple(hits)) for lane, hits in lanes.items()))


def _depth(part: Fill) -> int:
    return max((_DEPTHS.get(lane, 0) for lane, _ in part.lanes), default=0)


@lru_cache(64)
def _parts(style: Style) -> tuple[_Weighted, _Weighted]:
    """Return the closes and the openings of a style's fills, with their weights."""
    beat = _beat(style)
    closes: list[tuple[Fill, float]] = []
    openings: list[tuple[Fill, float]] = []
    for fill in style.drums.fills:
        cut = beat if fill.ticks % beat == 0 else fill.ticks
        for start in range(0, fill.ticks, cut):
            lanes = tuple(
                (lane, tuple((tick - start, weight) for tick, weight in hits))
                for lane, grid in fill.lanes
                if (hits := grid.within(start, start + cut))
            )
            last = start + cut == fill.ticks
            (closes if last else openings).append((Fill(cut, lanes), fill.weight))
    return tuple(closes), tuple(openings)
