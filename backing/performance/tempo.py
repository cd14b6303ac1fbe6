"""Tempo over a performance: which one holds in every bar, and when each tick sounds.

Conventions: a ritard takes two bars, beat by beat, to six tenths of the tempo, and the last chord
comes when it is slowest (common practice, no source).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate
from typing import TYPE_CHECKING

from backing.chart.sequence import once_round
from backing.timing import SLOWEST_BPM, seconds_to_ticks, ticks_to_seconds

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.chart.sequence import SequencedBar
    from backing.performance.arrangement import Arrangement

Shares = tuple[tuple[int, float], ...]
"""How much of the tempo holds in a bar, as pairs of (tick from its bar line, share)."""

Tempi = tuple[tuple[int, float], ...]
"""The tempi of a bar, as pairs of (tick from its bar line, quarter notes a minute)."""

_SLOWED_BARS, _SLOWEST = 2, 0.6
"""Bars over which a ritard slows down, and the share of the tempo that is left at its end."""

_FIRST_ALIKE = 2
"""The first of the choruses that are alike."""


@dataclass(frozen=True, slots=True)
class TempoChange:
    """From here on a tempo holds.

    Attributes:
        tick: where.
        seconds: when.
        bpm: the tempo, in quarter notes a minute.

    """

    tick: float
    seconds: float
    bpm: float

    def seconds_at(self, tick: float) -> float:
        """Return when a tick sounds at this tempo."""
        return self.seconds + ticks_to_seconds(tick - self.tick, self.bpm)

    def tick_at(self, seconds: float) -> float:
        """Return the tick that sounds at a time; the inverse of `seconds_at`."""
        return self.tick + seconds_to_ticks(seconds - self.seconds, self.bpm)

    def to(self, change: tuple[float, float]) -> TempoChange:
        """Return the change to another tempo, given as (tick, quarter notes a minute)."""
        tick, bpm = change
        return TempoChange(tick, self.seconds_at(tick), bpm)


@dataclass(frozen=True)
class TempoMap:
    """Which tick sounds when.

    Attributes:
        changes: at least one, in order of ticks; before the first its tempo holds, too.

    """

    changes: tuple[TempoChange, ...]

    @staticmethod
    def of(tempi: Iterable[tuple[float, float]]) -> TempoMap:
        """Return the map of tempi as pairs of (tick, quarter notes a minute); the first at 0 s."""
        (tick, bpm), *others = tempi
        first = TempoChange(tick, 0.0, bpm)
        return TempoMap(tuple(accumulate(others, TempoChange.to, initial=first)))

    @cached_property
    def _ticks(self) -> list[float]:
        return [change.tick for change in self.changes]

    @cached_property
    def _seconds(self) -> list[float]:
        return [change.seconds for change in self.changes]

    def seconds_at(self, tick: float) -> float:
        """Return the time of a tick in seconds."""
        return self.changes[max(bisect_right(self._ticks, tick) - 1, 0)].seconds_at(tick)

    def tick_at(self, seconds: float) -> float:
        """Return the tick that sounds at a time; the inverse of `seconds_at`."""
        return self.changes[max(bisect_right(self._seconds, seconds) - 1, 0)].tick_at(seconds)

    def then(self, tick: float, bpm: float) -> TempoMap:
        """Return the map with another tempo from a tick on, at or behind the last change."""
        last = self.changes[-1]
        kept = self.changes[:-1] if last.tick == tick else self.changes
        return TempoMap((*kept, last.to((tick, bpm))))


class PerformanceTempo:
    """The tempi of all bars of a performance.

    Args:
        arrangement: what is played.
        count_in_ticks: how long the count-in is before the first bar.

    """

    def __init__(self, arrangement: Arrangement, count_in_ticks: int) -> None:
        self._arrangement = arrangement
        self._count_in_ticks = count_in_ticks

    def of_bar(self, number: int, before: float | None = None) -> Tempi:
        """Return the tempi of a bar.

        Args:
            number: the bar.
            before: as in `shares`.

        """
        bpm = self._arrangement.bpm_at(self._arrangement.bar(number))
        shares = self.shares(number, before)
        return tuple((tick, max(bpm * share, SLOWEST_BPM)) for tick, share in shares)

    def shares(self, number: int, before: float | None = None) -> Shares:
        """Return how much of the tempo holds in a bar.

        Args:
            number: the bar.
            before: the share at the end of the bar that was played before it, where that need not
                be the bar before it here; the tempo goes on from there without a jump.

        """
        own = self._own_shares(number)
        own_before = self._own_shares(number - 1)[-1][1] if number else 1.0
        if before is None or before == own_before:
            return own
        return _eased(own, before, self._arrangement.bar(number))

    def seconds(self) -> float:
        """Return the length of the performance in seconds, count-in and ending included.

        The choruses between the first one and those that slow down are alike and counted once.
        """
        form, route = self._arrangement, self._arrangement.route
        count_in = ticks_to_seconds(self._count_in_ticks, form.bpm_at(form.bar(0)))
        slowing, _ = route.locate(self._slow_from)
        if slowing <= _FIRST_ALIKE:
            return count_in + self._seconds_between(0, form.length)
        first, second, rest = (
            route.find(chorus, None) for chorus in (_FIRST_ALIKE, _FIRST_ALIKE + 1, slowing)
        )
        alike = (slowing - _FIRST_ALIKE) * self._seconds_between(first, second)
        outer = self._seconds_between(0, first) + self._seconds_between(rest, form.length)
        return count_in + alike + outer

    def seconds_once_round(self) -> float:
        """Return the length of the form in seconds, without what an intro or a tag adds."""
        bpm_at = self._arrangement.bpm_at
        sequence = once_round(self._arrangement.chart)
        return _seconds_of((each.bar.ticks, ((0, bpm_at(each)),)) for each in sequence)

    def _seconds_between(self, first: int, behind: int) -> float:
        bars = range(first, behind)
        return _seconds_of((self._arrangement.bar(bar).bar.ticks, self.of_bar(bar)) for bar in bars)

    @property
    def _slow_from(self) -> int:
        """The bar from which on a ritard slows down, unless its chorus is counted in."""
        return max(self._arrangement.ending.bar - _SLOWED_BARS, 0)

    def _own_shares(self, number: int) -> Shares:
        """Return the shares of the tempo in a bar behind the bar before it.

        The last chord comes when it is slowest. Where there are too few bars for all of it, it
        slows down as much from beat to beat, and so not as far.
        """
        form, last, start = self._arrangement, self._arrangement.ending.bar, self._slow_from
        if not form.ends_with("ritard"):
            return ((0, 1.0),)
        sequenced, tick = form.bar(number), form.route.tick
        if form.settings.count_each:
            start = max(start, form.route.find(form.settings.choruses, None))
        if not start <= number or last <= start or sequenced.bar.pickup:
            return ((0, 1.0),)
        begin, end = tick(start), tick(last)
        lost = (1.0 - _SLOWEST) * (last - start) / _SLOWED_BARS
        before = min(tick(number), end) - begin
        ticks = range(0, sequenced.bar.ticks, sequenced.meter.beat_ticks) if number < last else (0,)
        return tuple((inside, 1.0 - lost * (before + inside) / (end - begin)) for inside in ticks)


def _seconds_of(bars: Iterable[tuple[int, Tempi]]) -> float:
    """Return how long bars last, given as pairs of (ticks, tempi in the bar)."""
    tempi: list[tuple[float, float]] = []
    start = 0
    for ticks, own in bars:
        tempi += [(start + tick, bpm) for tick, bpm in own]
        start += ticks
    return TempoMap.of(tempi).seconds_at(start)


def _eased(own: Shares, before: float, sequenced: SequencedBar) -> Shares:
    """Return the shares of the tempo in a bar that goes on from another share, beat by beat.

    From beat to beat the tempo changes by as much as in a ritard at most.

    Args:
        own: the shares that the bar has by itself.
        before: the share at the end of the bar that was played before it.
        sequenced: the bar.

    """
    most = (1.0 - _SLOWEST) / (_SLOWED_BARS * sequenced.meter.beats)
    found = []
    share = before
    for tick in range(0, sequenced.bar.ticks, sequenced.meter.beat_ticks):
        goal = [each for start, each in own if start <= tick][-1]
        near = abs(goal - share) <= most
        share = goal if near else share + (most if goal > share else -most)
        found.append((tick, share))
    return tuple(found)
