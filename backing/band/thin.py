"""The bass line of a phrase in which everybody plays less than usual."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.band.path import moved
from backing.band.ways import ABOVE, BELOW, DOTTED, OCTAVE, OTHER, PASSES
from backing.band.weights import (
    JUMP_STEPS,
    JUMP_STEPS_BY_WAY,
    ONLY_BASS,
    STRONG,
    TWO_ONE,
    TWO_THREE,
)
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from backing.band.chord_context import ChordContext
    from backing.band.path import Onset


def thin(context: ChordContext) -> list[Onset]:
    """Return the first note of a chord, and few after it.

    Where those stand depends on the way of the bar: in four, six ways have six rhythms.
    """
    sounding = context.sounding
    reached = sounding.tick + (EIGHTH if "push" in sounding.words else 0)
    found = [] if sounding.held_over else [sounding.tick]
    found += [tick for tick in _later_ticks(context) if reached < tick < sounding.end]
    leads = context.changes and len(found) > 1 and sounding.end - found[-1] <= TICKS_PER_QUARTER
    kept = found[:-1] if leads else found
    onsets = [_onset(context, tick) for tick in kept]
    return [*onsets, context.leading_onset(found[-1])] if leads else onsets


def _onset(context: ChordContext, tick: int) -> Onset:
    steps = JUMP_STEPS_BY_WAY.get(context.way, JUMP_STEPS)
    if tick == context.sounding.tick:
        needs_bass = context.is_new or context.needs_bass()
        return context.onset(tick, ONLY_BASS if needs_bass else TWO_ONE, steps)
    weights = STRONG if _walks(context) else TWO_THREE
    return context.onset(tick, weights, moved(steps))  # no pitch comes three times


def _walks(context: ChordContext) -> bool:
    """Whether the line would walk."""
    return context.bar_context.style.bass.line(context.bar_context.variation) == "walking"


def _later_ticks(context: ChordContext) -> tuple[int, ...]:
    """Return the ticks of a bar's notes after the first."""
    bar, beat = context.bar_context.ticks, context.bar_context.sequenced.meter.beat_ticks
    beats = bar // beat
    in_quarters = bar >= 3 * TICKS_PER_QUARTER and beat % TICKS_PER_QUARTER == 0
    is_small = bar < 4 * TICKS_PER_QUARTER
    last = bar - (TICKS_PER_QUARTER if in_quarters else EIGHTH)
    middle = beats // 2 * beat if beats > 1 else bar // 2
    after = last if beats % 2 else middle
    if _walks(context) and not is_small:  # two notes in a third of the bars, three in the others
        by_way = {
            BELOW: (middle,),
            ABOVE: (last,),
            OTHER: (middle, last),
            OCTAVE: (middle - EIGHTH, middle),
            PASSES: (middle, bar - EIGHTH),
            DOTTED: (TICKS_PER_QUARTER, middle),
        }
        return by_way[context.way]
    sparse: dict[int, tuple[int, ...]] = {
        BELOW: (),
        ABOVE: (middle,),
        OTHER: (last,),
        OCTAVE: (after - EIGHTH,),
        PASSES: (bar - EIGHTH if in_quarters else middle,),
        DOTTED: () if is_small else (after - EIGHTH, after),
    }
    return sparse[context.way]
