"""The route: the bars of all choruses.

It stores three sequences, for the first chorus, the ones between and the last one, and finds a bar
of any chorus by arithmetic.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import accumulate
from typing import TYPE_CHECKING

from backing.band import arrange
from backing.band.intro_and_tag import intro_of, with_tag
from backing.chart.sequence import loop_of, once_round, opens

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.band.arrange import Levels, Peaks
    from backing.chart.model import Bar, Chart
    from backing.chart.sequence import BarName, SequencedBar
    from backing.timing import Meter


class _Chorus:
    """One chorus, with what is known about each of its bars."""

    def __init__(self, sequence: tuple[SequencedBar, ...]) -> None:
        self.sequence = sequence
        self.ticks = list(accumulate((each.bar.ticks for each in sequence), initial=0))
        self.names = [each.name for each in sequence]
        self.steps: dict[BarName | None, int] = {name: i for i, name in enumerate(self.names)}
        self.levels = arrange.levels_of(sequence)
        self.peaks = arrange.peaks_of(sequence, self.levels)
        self.top = next(
            (
                step
                for step, each in enumerate(sequence)
                if each.is_part_start and not opens(each.part)
            ),
            0,
        )


class Route:
    """The bars of all choruses.

    Attributes:
        choruses: how many there are, from 1.
        bars: their number of bars, including pickups, intro and tag.

    Args:
        chart: the chart.
        choruses: how many, from 1.
        loop: first and last bar to repeat, from 0 through the whole form, without intro and tag; or
            None.
        has_tag: whether a tag follows the last chorus.

    """

    def __init__(
        self,
        chart: Chart,
        choruses: int,
        loop: tuple[int, int] | None = None,
        *,
        has_tag: bool = False,
    ) -> None:
        self.choruses = choruses
        self.locate = lru_cache(8)(self._locate)
        self.sequenced_bar = lru_cache(8)(self._sequenced_bar)
        if loop:
            self._last = _Chorus(loop_of(chart, *loop))
            self._middle = _Chorus(loop_of(chart, *loop, again=True))
            self._first = self._last if choruses == 1 else self._middle
            self.bars = choruses * len(self._last.sequence)
            return
        first = once_round(chart, first=True, last=choruses == 1)
        last = first if choruses == 1 else once_round(chart, first=False, last=True)
        last = with_tag(last) if has_tag else last
        first = last if choruses == 1 else first
        intro = intro_of(chart, first[0])
        if intro and first[0].bar.pickup:  # the intro's last bar has it
            first = first[1:]
        self._middle = _Chorus(once_round(chart, first=False, last=False))
        self._first = _Chorus((*intro, *first))
        self._last = self._first if choruses == 1 else _Chorus(last)
        self.bars = len(self._first.sequence)
        if choruses > 1:
            self.bars += (choruses - 2) * len(self._middle.sequence) + len(self._last.sequence)

    @property
    def pickup(self) -> Bar | None:
        """The pickup at the start of the performance, or None."""
        first = self._first.sequence[0].bar
        return first if first.pickup else None

    @property
    def meter(self) -> Meter:
        """The meter of the first bar, in which the count-in is counted."""
        return self._first.sequence[0].meter

    @property
    def last(self) -> SequencedBar:
        """The last bar of the last chorus."""
        return self._last.sequence[-1]

    def rounds(self) -> Iterator[tuple[int, tuple[SequencedBar, ...]]]:
        """Yield the choruses of the performance as (how many are alike, bars)."""
        yield 1, self._first.sequence
        if self.choruses > 1:
            yield self.choruses - 2, self._middle.sequence
            yield 1, self._last.sequence

    def _locate(self, number: int) -> tuple[int, int]:
        """Return a bar's chorus, from 1, and its index there; the ending continues the last one."""
        rest = number - len(self._first.sequence)
        if rest < 0 or self.choruses == 1:
            return 1, number
        turn, step = divmod(rest, len(self._middle.sequence))
        if turn < self.choruses - 2:
            return turn + 2, step
        return self.choruses, rest - (self.choruses - 2) * len(self._middle.sequence)

    def name_of(self, number: int) -> BarName | None:
        """Return the name of a bar, the same in any sequence of the chart; None in the ending."""
        if number >= self.bars:
            return None
        chorus, step = self.locate(number)
        return self._chorus(chorus).names[step]

    def find(self, chorus: int, name: BarName | None) -> int:
        """Return the number of the bar of this name in a chorus, or of the chorus's first bar."""
        start = 0
        if chorus > 1:
            start = len(self._first.sequence) + (chorus - 2) * len(self._middle.sequence)
        return start + self._chorus(chorus).steps.get(name, 0)

    def has(self, chorus: int, name: BarName | None) -> bool:
        """Whether a chorus has a bar of this name; None means its first bar."""
        return name is None or name in self._chorus(chorus).steps

    def length_of(self, chorus: int) -> int:
        """Return the number of bars of a chorus."""
        return len(self._chorus(chorus).sequence)

    def sequence_of(self, chorus: int) -> tuple[SequencedBar, ...]:
        """Return the bars of a chorus, from 1; choruses that are alike share one tuple."""
        return self._chorus(chorus).sequence

    def _sequenced_bar(self, number: int) -> SequencedBar:
        """Return a bar of the choruses by its number."""
        chorus, step = self.locate(number)
        return self._chorus(chorus).sequence[step]

    def tick(self, number: int) -> int:
        """Return the start of a bar of a chorus or the ending, in ticks from the first bar."""
        chorus, step = self.locate(number)
        ticks = self._chorus(chorus).ticks
        start = 0 if chorus == 1 else self._first.ticks[-1] + (chorus - 2) * self._middle.ticks[-1]
        beyond = step - (len(ticks) - 1)
        if beyond > 0:
            return start + ticks[-1] + beyond * self.last.meter.bar_ticks
        return start + ticks[step]

    def levels(self, number: int) -> Levels:
        """Return the written loudness of a bar; the ending keeps the last bar's."""
        chorus, step = self.locate(number)
        levels = self._chorus(chorus).levels
        return levels[step] if step < len(levels) else ((0, levels[-1][-1][1]),)

    def peaks(self, number: int) -> Peaks:
        """Return the peaks of the part around a bar; the ending belongs to the last part."""
        chorus, step = self.locate(number)
        peaks = self._chorus(chorus).peaks
        return peaks[min(step, len(peaks) - 1)]

    def is_top(self, number: int) -> bool:
        """Whether a chorus begins at this bar; an intro does not count."""
        chorus, step = self.locate(number)
        return step == self._chorus(chorus).top

    def _chorus(self, chorus: int) -> _Chorus:
        if chorus == 1:
            return self._first
        return self._last if chorus == self.choruses else self._middle
