"""The route: all choruses one after the other.

Three sequences say it all - the first time round, the times between, the last time - so that a bar
of any chorus is found by arithmetic, however many choruses there are.
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


class _Round:
    """Once round the form, with what is known about each bar beforehand."""

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
        bars: how many bars they have together, a pickup counted as one; an intro and a tag too.

    Args:
        chart: the chart.
        choruses: how many, from 1.
        loop: first and last bar to go round, from 0 through the whole form; then there is neither
            intro nor tag.
        has_tag: whether the last bars come twice more at the end.

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
        if loop:
            self._last = _Round(loop_of(chart, *loop))
            self._middle = _Round(loop_of(chart, *loop, again=True))
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
        self._middle = _Round(once_round(chart, first=False, last=False))
        self._first = _Round((*intro, *first))
        self._last = self._first if choruses == 1 else _Round(last)
        self.bars = len(self._first.sequence)
        if choruses > 1:
            self.bars += (choruses - 2) * len(self._middle.sequence) + len(self._last.sequence)

    @property
    def pickup(self) -> Bar | None:
        """The pickup that the performance begins with, if there is one."""
        first = self._first.sequence[0].bar
        return first if first.pickup else None

    @property
    def meter(self) -> Meter:
        """The meter in which the count-in is counted."""
        return self._first.sequence[0].meter

    @property
    def last(self) -> SequencedBar:
        """The last bar of the last chorus."""
        return self._last.sequence[-1]

    def rounds(self) -> Iterator[tuple[int, tuple[SequencedBar, ...]]]:
        """Yield (how often, bars) of the rounds that make up the performance."""
        yield 1, self._first.sequence
        if self.choruses > 1:
            yield self.choruses - 2, self._middle.sequence
            yield 1, self._last.sequence

    def _locate(self, number: int) -> tuple[int, int]:
        """Return the chorus, from 1, and the place in it, from 0, of a bar; the ending goes on."""
        rest = number - len(self._first.sequence)
        if rest < 0 or self.choruses == 1:
            return 1, number
        turn, step = divmod(rest, len(self._middle.sequence))
        if turn < self.choruses - 2:
            return turn + 2, step
        return self.choruses, rest - (self.choruses - 2) * len(self._middle.sequence)

    def name_of(self, number: int) -> BarName | None:
        """Return what a bar is called in any sequence of the chart; None behind the last chorus."""
        if number >= self.bars:
            return None
        chorus, step = self.locate(number)
        return self._round(chorus).names[step]

    def find(self, chorus: int, name: BarName | None) -> int:
        """Return the number of a chorus's bar of this name; its first bar when it has none."""
        start = 0
        if chorus > 1:
            start = len(self._first.sequence) + (chorus - 2) * len(self._middle.sequence)
        return start + self._round(chorus).steps.get(name, 0)

    def has(self, chorus: int, name: BarName | None) -> bool:
        """Whether a chorus has a bar of this name; every one has a first bar, None."""
        return name is None or name in self._round(chorus).steps

    def length_of(self, chorus: int) -> int:
        """Return the number of bars of a chorus."""
        return len(self._round(chorus).sequence)

    def sequence_of(self, chorus: int) -> tuple[SequencedBar, ...]:
        """Return the bars of a chorus, from 1; choruses that are alike have the same tuple."""
        return self._round(chorus).sequence

    def sequenced_bar(self, number: int) -> SequencedBar:
        """Return a bar of the choruses by its number."""
        chorus, step = self.locate(number)
        return self._round(chorus).sequence[step]

    def tick(self, number: int) -> int:
        """Return where a bar begins, in ticks from the first bar; the ending goes on from there."""
        chorus, step = self.locate(number)
        ticks = self._round(chorus).ticks
        start = 0 if chorus == 1 else self._first.ticks[-1] + (chorus - 2) * self._middle.ticks[-1]
        beyond = step - (len(ticks) - 1)
        if beyond > 0:
            return start + ticks[-1] + beyond * self.last.meter.bar_ticks
        return start + ticks[step]

    def levels(self, number: int) -> Levels:
        """Return the loudness of a bar; the ending keeps that of the last bar."""
        chorus, step = self.locate(number)
        levels = self._round(chorus).levels
        return levels[step] if step < len(levels) else ((0, levels[-1][-1][1]),)

    def peaks(self, number: int) -> Peaks:
        """Return how loud the part around a bar becomes; the ending belongs to the last part."""
        chorus, step = self.locate(number)
        peaks = self._round(chorus).peaks
        return peaks[min(step, len(peaks) - 1)]

    def is_top(self, number: int) -> bool:
        """Whether a chorus begins at this bar, after an intro."""
        chorus, step = self.locate(number)
        return step == self._round(chorus).top

    def _round(self, chorus: int) -> _Round:
        if chorus == 1:
            return self._first
        return self._last if chorus == self.choruses else self._middle
