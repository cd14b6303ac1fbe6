"""Puts pickups into the end of the bar before them.

Conventions: a bar that is short by exactly the pickup's length, in the meter of its part, is filled
by the pickup. In any other bar the pickup's chords replace those of its last beats. They do not if
a stop, a hold or a break applies to these beats, and silence (N.C.) at the start of the pickup
replaces nothing (our choice, no source). `soft`, `loud` and `build` are left out: they apply to the
next part.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from backing.chart.model import HITS, LEVELS, Bar, ChordSpan, Direction

if TYPE_CHECKING:
    from backing.timing import Meter

_Timed = TypeVar("_Timed", ChordSpan, Direction)


def fills(before: Bar, meter: Meter, pickup: Bar) -> bool:
    """Whether a bar is short by exactly the length of a pickup in the meter of its part."""
    return before.ticks + pickup.ticks == meter.bar_ticks


def with_pickup(before: Bar, meter: Meter, pickup: Bar) -> tuple[Bar, int] | None:
    """Return the bar with a pickup in its end, and how many chords are its own.

    Args:
        before: the bar as written.
        meter: the meter of its part.
        pickup: the pickup after the bar.

    Returns:
        None if the pickup cannot be in the bar.

    """
    joins = fills(before, meter, pickup)
    last = _last_chords(before, pickup, joins=joins)
    if last is None:
        return None
    start, skipped = last
    directions = before.directions
    hits = [each for each in directions if each.word in HITS and each.tick + each.ticks > start]
    if hits and not joins:
        return None
    own = [_until(each, start) for each in before.chords if each.tick < start]
    chords = [_moved(each, start, skipped) for each in pickup.chords if each.end > skipped]
    words = [_until(each, start) for each in directions if each.tick < start]
    words += [
        _moved(each, start, skipped)
        for each in pickup.directions
        if each.tick + each.ticks > skipped and each.word not in LEVELS
    ]
    return Bar(meter if joins else before.meter, (*own, *chords), tuple(words)), len(own)


def _last_chords(bar: Bar, pickup: Bar, *, joins: bool) -> tuple[int, int] | None:
    """Return the tick at which a pickup begins in a bar, and how many of its ticks are skipped.

    The first chord of the bar keeps at least one beat, or half of a bar of one beat. Return None if
    the rest of the pickup has no chord.
    """
    if joins:
        return bar.ticks, 0
    start = max(bar.ticks - pickup.ticks, bar.ticks // max(bar.meter.beats, 2))
    skipped = pickup.ticks - (bar.ticks - start)
    played = (each for each in pickup.chords if each.end > skipped)
    first = next((each for each in played if each.chord), None)
    if first is None:
        return None
    silent = max(first.tick - skipped, 0)
    return start + silent, skipped + silent


def _until(each: _Timed, end: int) -> _Timed:
    """Return a chord or direction cut off at a tick."""
    return replace(each, ticks=min(each.ticks, end - each.tick))


def _moved(each: _Timed, start: int, skipped: int) -> _Timed:
    """Return a chord or direction of a pickup that moves to a start without its skipped ticks."""
    cut = max(skipped - each.tick, 0)
    return replace(each, tick=start + max(each.tick - skipped, 0), ticks=each.ticks - cut)
