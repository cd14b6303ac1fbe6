"""Tempo over a performance: the tempi of every bar, and the time of every tick.

Conventions: a ritard takes two bars, beat by beat, down to six tenths of the tempo, and the last
chord comes at its slowest point (common practice, no source).
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
"""The tempo in a bar as shares of its written tempo: pairs of (tick from its bar line, share)."""

Tempi = tuple[tuple[int, float], ...]
"""The tempi of a bar, as pairs of (tick from its bar line, quarter notes a minute)."""

_SLOWED_BARS, _SLOWEST = 2, 0.6
"""Bars of a ritard, and the share of the tempo at its end."""

_FIRST_ALIKE = 2
"""The first of the identical choruses."""


@dataclass(frozen=True, slots=True)
class TempoChange:
    """A change of tempo.

    Attributes:
        tick: its tick.
        seconds: its time.
        bpm: the tempo from there on, in quarter notes a minute.

    """

    tick: float
    seconds: float
    bpm: float

    def seconds_at(self, tick: float) -> float:
        """Return the time of a tick at this tempo, in seconds."""
        return self.seconds + ticks_to_seconds(tick - self.tick, self.bpm)

    def tick_at(self, seconds: float) -> float:
        """Return the tick at a time in seconds; the inverse of `seconds_at`."""
        return self.tick + seconds_to_ticks(seconds - self.seconds, self.bpm)

    def to(self, change: tuple[float, float]) -> TempoChange:
        """Return a later change, given as (tick, quarter notes a minute)."""
        tick, bpm = change
        return TempoChange(tick, self.seconds_at(tick), bpm)


@dataclass(frozen=True)
class TempoMap:
    """The time of every tick.

    Attributes:
        changes: at least one, in order of ticks; the first tempo also holds before it.

    """

    changes: tuple[TempoChange, ...]

    @staticmethod
    def of(tempi: Iterable[tuple[float, float]]) -> TempoMap:
        """Return the map of pairs of (tick, quarter notes a minute); the first tick is at 0 s."""
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
        """Return the tick at a time in seconds; the inverse of `seconds_at`."""
        return self.changes[max(bisect_right(self._seconds, seconds) - 1, 0)].tick_at(seconds)

    def then(self, tick: float, bpm: float) -> TempoMap:
        """Return the map with another tempo from a tick on, at or after the last change."""
        last = self.changes[-1]
        kept = self.changes[:-1] if last.tick == tick else self.changes
        return TempoMap((*kept, last.to((tick, bpm))))


class PerformanceTempo:
    """The tempi of all bars of a performance.

    Args:
        arrangement: how the chart is performed.
        count_in_ticks: ticks before the first bar.

    """

    def __init__(self, arrangement: Arrangement, count_in_ticks: int) -> None:
        self._arrangement = arrangement
        self._count_in_ticks = count_in_ticks

    def of_bar(self, number: int, before: float | None = None) -> Tempi:
        """Return the tempi of a bar.

        Args:
            number: the bar's number.
            before: as in `shares`.

        """
        bpm = self._arrangement.bpm_at(self._arrangement.bar(number))
        shares = self.shares(number, before)
        return tuple((tick, max(bpm * share, SLOWEST_BPM)) for tick, share in shares)

    def shares(self, number: int, before: float | None = None) -> Shares:
        """Return the shares of the tempo in a bar.

        Args:
            number: the bar's number.
            before: the share at the end of the bar that was played before this one, if that may be
                another one than here; the tempo then continues from it without a jump.

        """
        own = self._own_shares(number)
        if before is None or before == (self._own_shares(number - 1)[-1][1] if number else 1.0):
            return own
        return _eased(own, before, self._arrangement.bar(number))

    def seconds(self) -> float:
        """Return the length of the performance in seconds, including count-in and ending.

        The choruses between the first one and the ritard are identical and measured once.
        """
        arrangement, route = self._arrangement, self._arrangement.route
        count_in = ticks_to_seconds(self._count_in_ticks, arrangement.bpm_at(arrangement.bar(0)))
        slowing, _ = route.locate(self._slow_from)
        if slowing <= _FIRST_ALIKE:
            return count_in + self._seconds_between(0, arrangement.length)
        first, second, rest = (
            route.find(chorus, None) for chorus in (_FIRST_ALIKE, _FIRST_ALIKE + 1, slowing)
        )
        alike = (slowing - _FIRST_ALIKE) * self._seconds_between(first, second)
        outer = self._seconds_between(0, first) + self._seconds_between(rest, arrangement.length)
        return count_in + alike + outer

    def seconds_once_round(self) -> float:
        """Return the length of the form in seconds, without intro and tag."""
        bpm_at = self._arrangement.bpm_at
        sequence = once_round(self._arrangement.chart)
        return _seconds_of((each.bar.ticks, ((0, bpm_at(each)),)) for each in sequence)

    def _seconds_between(self, first: int, end: int) -> float:
        bars = range(first, end)
        return _seconds_of((self._arrangement.bar(bar).bar.ticks, self.of_bar(bar)) for bar in bars)

    @property
    def _slow_from(self) -> int:
        """The first bar of a ritard, unless a chorus with its own count-in begins later."""
        return max(self._arrangement.ending.bar - _SLOWED_BARS, 0)

    def _own_shares(self, number: int) -> Shares:
        """Return the shares of the tempo in a bar that follows the bar before it.

        With fewer bars than a ritard takes, the tempo falls at the same rate, and so less far.
        """
        arrangement, last, start = self._arrangement, self._arrangement.ending.bar, self._slow_from
        if not arrangement.ends_with("ritard"):
            return ((0, 1.0),)
        sequenced, tick = arrangement.bar(number), arrangement.route.tick
        if arrangement.settings.count_each:
            start = max(start, arrangement.route.find(arrangement.settings.choruses, None))
        if not start <= number or last <= start or sequenced.bar.pickup:
            return ((0, 1.0),)
        begin, end = tick(start), tick(last)
        lost = (1.0 - _SLOWEST) * (last - start) / _SLOWED_BARS
        before = min(tick(number), end) - begin
        ticks = range(0, sequenced.bar.ticks, sequenced.meter.beat_ticks) if number < last else (0,)
        return tuple((inside, 1.0 - lost * (before + inside) / (end - begin)) for inside in ticks)


def _seconds_of(bars: Iterable[tuple[int, Tempi]]) -> float:
    """Return the length in seconds of bars, given as pairs of (ticks, tempi in the bar)."""
    tempi: list[tuple[float, float]] = []
    start = 0
    for ticks, own in bars:
        tempi += [(start + tick, bpm) for tick, bpm in own]
        start += ticks
    return TempoMap.of(tempi).seconds_at(start)


def _eased(own: Shares, before: float, sequenced: SequencedBar) -> Shares:
    """Return the shares of the tempo in a bar that continues from another share, beat by beat.

    From beat to beat the tempo changes at most as fast as in a ritard.

    Args:
        own: the bar's own shares.
        before: the share at the end of the bar that was played before this one.
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
