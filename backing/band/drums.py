"""The drummer: grooves, fills, and hits with the whole band."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from backing import chance
from backing.band.context import Stroke
from backing.style.model import COUNT_INS, DRUM_KEYS, FIRM, PLAIN
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from backing.band.context import BarContext, PerformanceView, SoundingChord
    from backing.style.model import DrumGroove, DrumStyle
    from backing.timing import Meter

_HIT_TICKS = EIGHTH // 2
_TIME_KEEPERS = {"ride", "hat", "open-hat", "ride-bell"}
_FEET = {"kick", "pedal-hat"}
_COUNT_VELOCITY = (76, 92)
_SOFT_LEVEL = 0.85
"""Level below which no cymbal marks the start of a part."""


class Drums:
    """The drummer of one performance."""

    def __init__(self, view: PerformanceView) -> None:
        self._view = view

    def play(self, context: BarContext) -> list[Stroke]:
        """Return the strokes of one bar."""
        if not context.harmony:
            return []
        style = context.style.drums
        until = context.ticks - context.fill.ticks if context.fill else context.ticks
        strokes: list[Stroke] = []
        hits: list[Stroke] = []
        for sounding in context.harmony:
            if sounding.flows:
                strokes += self._flowing(context, sounding, max(until, 0))
            if not sounding.held_over:
                hits += _hits(style, sounding)
        if context.fill:
            strokes += _beaten(style, context.fill, max(until, 0), context.ticks, -until)
        rest = [each for each in strokes if not any(_covers(hit, each) for hit in hits)]
        return _with_top(context, hits + rest) if self._is_marked(context) else hits + rest

    def _is_marked(self, context: BarContext) -> bool:
        """Whether a cymbal marks the first beat: always in a chorus, by chance after a fill."""
        first, style = context.harmony[0], context.style.drums
        if not style.top or not first.flows or first.held_over or context.level(0) < _SOFT_LEVEL:
            return False
        if context.is_top:
            return True
        before = self._view.context(context.number - 1)
        if not context.sequenced.is_part_start or before is None or before.fill is None:
            return False
        share = chance.unit(self._view.seed, "mark", context.chorus, context.step)
        return share < style.marks

    def _flowing(self, context: BarContext, sounding: SoundingChord, until: int) -> list[Stroke]:
        """Return the groove under one chord.

        During a fill, keep the kick and pedal-hat lanes that it does not use.
        """
        if context.sequenced.bar.pickup:
            return []
        style, groove = context.style.drums, context.groove
        start, end = sounding.tick, sounding.end
        strokes = _beaten(style, groove, start, min(end, until), context.phase)
        if context.fill and end > until:
            busy = {lane for lane, _ in context.fill.lanes}
            feet = tuple(each for each in groove.lanes if each[0] in _FEET - busy)
            strokes += _beaten(
                style, replace(groove, lanes=feet), max(start, until), end, context.phase
            )
        if sounding.held_over:  # the band has struck this chord already
            strokes = [each for each in strokes if each.tick or each.pitch != DRUM_KEYS["kick"]]
        return strokes


def _covers(hit: Stroke, stroke: Stroke) -> bool:
    """Whether a hit replaces a stroke: on the same drum, less than an eighth later."""
    return hit.pitch == stroke.pitch and 0 <= stroke.tick - hit.tick < EIGHTH


def _beaten(style: DrumStyle, groove: DrumGroove, start: int, end: int, phase: int) -> list[Stroke]:
    """Return the strokes of a groove between two ticks of a bar.

    Args:
        style: for the velocities.
        groove: the groove or fill.
        start: tick from the bar line.
        end: tick from the bar line.
        phase: tick of the groove at the bar line.
    """
    velocities = _velocities(style)
    return [
        Stroke(tick, _HIT_TICKS, DRUM_KEYS[lane], velocities[lane][weight])
        for lane, grid in groove.lanes
        for tick, weight in grid.within(start, end, phase)
    ]


def _hits(style: DrumStyle, sounding: SoundingChord) -> list[Stroke]:
    """Return the drummer's strokes at a hit or a push of the whole band.

    A short hit has kick and snare, a held one kick and top cymbal; a push is a plain accent.
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


def _with_top(context: BarContext, strokes: list[Stroke]) -> list[Stroke]:
    """Return the strokes with the top cymbal on the first beat, in place of the other cymbals."""
    style = context.style.drums
    keepers = {DRUM_KEYS[lane] for lane in (*_TIME_KEEPERS, style.top)}
    rest = [each for each in strokes if each.tick or each.pitch not in keepers]
    velocity = _velocities(style)[style.top][PLAIN]
    return [Stroke(0, TICKS_PER_QUARTER, DRUM_KEYS[style.top], velocity), *rest]


@cache
def _velocities(style: DrumStyle) -> dict[str, tuple[int, int, int]]:
    return dict(style.velocity)


def count_in(meter: Meter, bars: int, lane: str) -> list[tuple[int, Stroke]]:
    """Return the count-in as pairs of (bar, stroke).

    The last bar is counted on every beat, the bars before it in halves: "one, two, one two three
    four" (common practice, no source). Its velocities do not vary.
    """
    key = DRUM_KEYS[COUNT_INS[lane]]
    found = []
    for bar in range(bars):
        wide = bar < bars - 1 and meter.beats % 2 == 0
        for beat in range(0, meter.beats, meter.beats // 2 if wide else 1):
            velocity = _COUNT_VELOCITY[beat == 0]
            found.append((bar, Stroke(beat * meter.beat_ticks, _HIT_TICKS, key, velocity)))
    return found
