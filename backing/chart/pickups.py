"""Pickups that lie in the end of the bar before them.

Conventions: a bar that lacks just the pickup's length, in the meter of its own part, is filled up
by it. In any other bar the pickup's chords take its last beats over from the chords that are
there. A bar with a stop, a hold or a break in these beats keeps them, for the chart says what the
band does there; silence (N.C.) takes nothing over where the pickup begins with it (our choice, no
source). `soft`, `loud` and `build` stay behind: they are about the part that comes.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from backing.chart.model import HITS, LEVELS, Bar, ChordSpan, Direction

if TYPE_CHECKING:
    from backing.timing import Meter

_Timed = TypeVar("_Timed", ChordSpan, Direction)


def fills(before: Bar, meter: Meter, pickup: Bar) -> bool:
    """Whether a bar lacks just the length of a pickup in the meter of its part."""
    return before.ticks + pickup.ticks == meter.bar_ticks


def with_pickup(before: Bar, meter: Meter, pickup: Bar) -> tuple[Bar, int] | None:
    """Return a bar that ends with a pickup, and how many of its chords are its own.

    Args:
        before: the bar as written.
        meter: the meter of its part.
        pickup: the pickup of what follows.

    Returns:
        None where the bar does not end with the pickup.

    """
    joins = fills(before, meter, pickup)
    last = _last_chords(before, pickup, joins=joins)
    if last is None:
        return None
    start, behind = last
    directions = before.directions
    hits = [each for each in directions if each.word in HITS and each.tick + each.ticks > start]
    if hits and not joins:
        return None
    own = [_until(each, start) for each in before.chords if each.tick < start]
    chords = [_moved(each, start, behind) for each in pickup.chords if each.end > behind]
    words = [_until(each, start) for each in directions if each.tick < start]
    words += [
        _moved(each, start, behind)
        for each in pickup.directions
        if each.tick + each.ticks > behind and each.word not in LEVELS
    ]
    return Bar(meter if joins else before.meter, (*own, *chords), tuple(words)), len(own)


def _last_chords(bar: Bar, pickup: Bar, *, joins: bool) -> tuple[int, int] | None:
    """Return where in a bar a pickup begins to sound, and how much of its front does not.

    The first chord of a bar keeps a beat, or half the bar of one beat, however long the pickup is.
    None is a pickup without a chord there.
    """
    if joins:
        return bar.ticks, 0
    start = max(bar.ticks - pickup.ticks, bar.ticks // max(bar.meter.beats, 2))
    behind = pickup.ticks - (bar.ticks - start)
    heard = (each for each in pickup.chords if each.end > behind)
    first = next((each for each in heard if each.chord), None)
    if first is None:
        return None
    spared = max(first.tick - behind, 0)
    return start + spared, behind + spared


def _until(each: _Timed, end: int) -> _Timed:
    """Return what ends at a tick at the latest."""
    return replace(each, ticks=min(each.ticks, end - each.tick))


def _moved(each: _Timed, start: int, behind: int) -> _Timed:
    """Return what begins later by a start, without what of it lies before a tick."""
    cut = max(behind - each.tick, 0)
    return replace(each, tick=start + max(each.tick - behind, 0), ticks=each.ticks - cut)
