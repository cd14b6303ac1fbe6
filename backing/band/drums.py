"""The drummer: a groove by part, fills that lead into the next, hits with the band."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from backing import chance
from backing.band.context import Stroke
from backing.style.model import COUNT_INS, DRUM_KEYS, FIRM, PLAIN
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.band.context import BarContext, PerformanceView, Sounding
    from backing.style.model import DrumGroove, DrumStyle
    from backing.timing import Meter

_HIT_TICKS = EIGHTH // 2
_TIME_KEEPERS = {"ride", "hat", "open-hat", "ride-bell"}
_FEET = {"kick", "pedal-hat"}
_NOISE = 10
"""Address of the drummer's wobbling loudness."""

_COUNT_VELOCITY = (76, 92)
_SOFT_LEVEL = 0.85
"""Level below which no part is marked with a cymbal."""


#: milliseconds early or late at looseness 1; the pedal hat comes before the beat, kick and snare a
#: little (reference: J. New Music Research 46(4), 2017, abstract; Groove MIDI Dataset)
_LATE_MS = {"pedal-hat": -5.0, "kick": -2.0, "snare": -2.0}


class Drums:
    """The drummer of one performance."""

    def __init__(self, look: PerformanceView) -> None:
        self._look = look

    def play(self, place: BarContext) -> list[Stroke]:
        """Return the strokes of one bar."""
        if not place.harmony:
            return []
        style = place.style.drums
        wobble = chance.noise(self._look.seed, _NOISE, place.chorus, place.step)
        until = place.ticks - place.fill.ticks if place.fill else place.ticks
        strokes: list[Stroke] = []
        hits: list[Stroke] = []
        for sounding in place.harmony:
            if sounding.flows:
                strokes += self._flowing(place, sounding, wobble, max(until, 0))
            if not sounding.held_over:
                hits += _hits(style, sounding)
        if place.fill:
            strokes += _beaten(style, place.fill, wobble, max(until, 0), place.ticks, -until)
        rest = [each for each in strokes if not any(_covers(hit, each) for hit in hits)]
        return _with_top(place, hits + rest) if self._is_marked(place) else hits + rest

    def _is_marked(self, place: BarContext) -> bool:
        """Whether the first beat is marked: at the top of a chorus, and where a fill leads to."""
        first, style = place.harmony[0], place.style.drums
        if not style.top or not first.flows or first.held_over or place.level(0) < _SOFT_LEVEL:
            return False
        if place.is_top:
            return True
        before = self._look.place(place.number - 1)
        if not place.sequenced.is_part_start or before is None or before.fill is None:
            return False
        share = chance.unit(self._look.seed, "mark", place.chorus, place.step)
        return share < style.marks

    def _flowing(
        self,
        place: BarContext,
        sounding: Sounding,
        wobble: Iterator[float],
        until: int,
    ) -> list[Stroke]:
        """Return the groove under one chord; in a fill the feet go on as far as it leaves them."""
        if place.sequenced.bar.pickup:
            return []
        style, groove = place.style.drums, place.groove
        start, end = sounding.tick, sounding.end
        strokes = _beaten(style, groove, wobble, start, min(end, until), place.phase)
        if place.fill and end > until:
            busy = {lane for lane, _ in place.fill.lanes}
            feet = tuple(each for each in groove.lanes if each[0] in _FEET - busy)
            strokes += _beaten(
                style, replace(groove, lanes=feet), wobble, max(start, until), end, place.phase
            )
        if sounding.held_over:  # the band has struck this chord already
            strokes = [each for each in strokes if each.tick or each.pitch != DRUM_KEYS["kick"]]
        return strokes


def _covers(hit: Stroke, stroke: Stroke) -> bool:
    """Whether a hit takes the place of a stroke on the same drum: for an eighth from the hit."""
    return hit.pitch == stroke.pitch and 0 <= stroke.tick - hit.tick < EIGHTH


def _beaten(
    style: DrumStyle, groove: DrumGroove, wobble: Iterator[float], start: int, end: int, phase: int
) -> list[Stroke]:
    """Return a groove's strokes between two ticks of a bar, whose line is at `phase` in it."""
    velocities = _velocities(style)
    return [
        Stroke(
            tick,
            _HIT_TICKS,
            DRUM_KEYS[lane],
            velocities[lane][weight] + round(2.5 * next(wobble)),
            _LATE_MS.get(lane, 0.0),
        )
        for lane, grid in groove.lanes
        for tick, weight in grid.within(start, end, phase)
    ]


def _hits(style: DrumStyle, sounding: Sounding) -> list[Stroke]:
    """Return what the drummer hits together with the band.

    A short hit is dry, kick and snare; what is held rings with the top cymbal; a push is a plain
    accent.
    """
    if not sounding.is_together:
        return []
    velocities = _velocities(style)
    rings = sounding.hit is not None and sounding.hit.rings
    lanes = ("kick", style.top if rings else "snare")
    weight = FIRM if sounding.hit else PLAIN
    return [
        Stroke(
            sounding.tick,
            sounding.ticks if lane == style.top else _HIT_TICKS,
            DRUM_KEYS[lane],
            velocities[lane][weight],
        )
        for lane in lanes
        if lane in velocities
    ]


def _with_top(place: BarContext, strokes: list[Stroke]) -> list[Stroke]:
    """Return the strokes with the first beat marked; the other cymbals leave it to the top one."""
    style = place.style.drums
    keepers = {DRUM_KEYS[lane] for lane in (*_TIME_KEEPERS, style.top)}
    rest = [each for each in strokes if each.tick or each.pitch not in keepers]
    velocity = _velocities(style)[style.top][PLAIN]
    return [Stroke(0, TICKS_PER_QUARTER, DRUM_KEYS[style.top], velocity), *rest]


@cache
def _velocities(style: DrumStyle) -> dict[str, tuple[int, int, int]]:
    return dict(style.velocity)


def count_in(meter: Meter, bars: int, lane: str) -> list[tuple[int, Stroke]]:
    """Return the count-in as pairs of (bar, stroke).

    One bar is counted on every beat. Of two or more the bars before the last are counted in
    halves: "one, two, one two three four" (common practice, no wobble).
    """
    key = DRUM_KEYS[COUNT_INS[lane]]
    found = []
    for bar in range(bars):
        wide = bar < bars - 1 and meter.beats % 2 == 0
        for beat in range(0, meter.beats, meter.beats // 2 if wide else 1):
            velocity = _COUNT_VELOCITY[beat == 0]
            found.append((bar, Stroke(beat * meter.beat_ticks, _HIT_TICKS, key, velocity)))
    return found
