"""Puts the bars of a part into repeats and endings as their bar lines say.

Conventions: a repeat without `|:` begins where the last one ended, or with the part. The last
ending runs up to the next repeat or the end of the part, whether or not `:|` closes it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backing.chart.diagnostics import quoted
from backing.chart.endings import ending_times
from backing.chart.model import MOST_TIMES, Bar, Ending, Repeat

if TYPE_CHECKING:
    from backing.chart.diagnostics import Diagnostics
    from backing.chart.tokens import BarLine, Word

_LONGEST_FIGURES = 20
_LENGTH_CLOSE = "; a chord's length stands close behind its colon, such as Em:1/4"


@dataclass(slots=True)
class _OpenEnding:
    mark: Word
    times: tuple[int, ...]
    bars: list[Bar] = field(default_factory=list)
    closed: bool = False


class Sections:
    """Takes the bar lines and the bars of one part in order.

    Attributes:
        sound: whether no fault was found; only the first of a part is reported.

    """

    def __init__(self, faults: Diagnostics) -> None:
        self.sound = True
        self._faults = faults
        self._done: list[Bar | Repeat] = []
        self._bars: list[Bar] = []
        self._opening: BarLine | None = None
        self._endings: list[_OpenEnding] = []
        self._after: list[Bar] = []  # bars behind the last ending when `:|` has closed it

    @property
    def opened(self) -> bool:
        """Whether a repeat has been opened and not closed."""
        return self._opening is not None

    def bar(self, bar: Bar) -> None:
        """Take a bar."""
        if bar.pickup:
            self._done.append(bar)
        elif not self._endings:
            self._bars.append(bar)
        elif self._endings[-1].closed:
            self._after.append(bar)
        else:
            self._endings[-1].bars.append(bar)

    def bar_line(self, line: BarLine) -> None:
        """Take a bar line."""
        if not line.known:
            self._fault(
                line,
                f"{quoted(line.text)} is not a bar line",
                "write |, |: to open a repeat, :| to close it, or :|: to close and open"
                + (_LENGTH_CLOSE if line.text == ":" else ""),
            )
            return
        if line.closes:
            self._close(line)
        if line.opens:
            self._open(line)
        if line.figures:
            self._begin_ending(line.figures)

    def finish(self) -> tuple[Bar | Repeat, ...]:
        """Return the sections when the part is over."""
        if self._endings:
            self._run_on()
        elif self._opening:
            self._fault(
                self._opening,
                "this repeat is not closed",
                "write :| behind its last bar, or take the sign away",
            )
        return (*self._done, *self._bars)

    def _fault(self, place: BarLine | Word, found: str, allowed: str) -> None:
        if self.sound:
            self.sound = False
            self._faults.add(place.line, place.column, found, allowed)

    def _open(self, line: BarLine) -> None:
        if self._endings:
            self._run_on()
        elif self._opening:
            self._fault(
                line,
                f"a repeat opens inside the repeat of line {self._opening.line}",
                "close that one with :| first; a repeat cannot hold another",
            )
        self._done += self._bars
        self._bars = []
        self._opening = line

    def _close(self, line: BarLine) -> None:
        if self._endings and not self._endings[-1].closed:
            self._close_ending(line)
            return
        if self._after:
            self._finish_endings()
        if self._bars and not self._endings:
            self._done.append(Repeat(tuple(self._bars), self._times(line)))
            self._bars, self._opening = [], None
        else:
            self._fault(
                line,
                f"{quoted(line.text)} closes a repeat without bars",
                "write it once, behind the last bar to be repeated",
            )

    def _close_ending(self, line: BarLine) -> None:
        ending = self._endings[-1]
        ending.closed = True
        if line.times:
            self._fault(
                line.times,
                f"x{line.times.text[:9]} stands behind an ending",
                "the endings say how often: write :| alone, and one more number to an ending, "
                "such as |1,2",
            )

    def _times(self, line: BarLine) -> int:
        """Return how often a repeat is played, 2 without a word about it."""
        if not line.times:
            return 2
        times = int(line.times.text) if len(line.times.text) < 5 else 0
        if not 2 <= times <= MOST_TIMES:
            self._fault(
                line.times,
                f"a repeat is played x{line.times.text[:9]}",
                f"write a number from 2 to {MOST_TIMES}, such as :|x3",
            )
            return 2
        return times

    def _begin_ending(self, mark: Word) -> None:
        if self._after:
            self._finish_endings()
        ending = _OpenEnding(mark, ending_times(mark.text))
        if not self._endings and not self._bars:
            self._fault(
                mark,
                f"ending {quoted(mark.text)} has no bars before it",
                "write what is played every time first; for a chord put a space behind the bar "
                "line",
            )
        elif self._endings and not self._endings[-1].closed:
            self._fault(
                mark,
                f"ending {quoted(mark.text)} begins before the last ending is closed",
                "write :| at the end of every ending but the last; for a chord put a space behind "
                "the bar line",
            )
        self._endings.append(ending)

    def _run_on(self) -> None:
        """Let the last ending run up to here."""
        self._endings[-1].bars += self._after
        self._after = []
        self._finish_endings()

    def _finish_endings(self) -> None:
        """Put the repeat away; bars behind a last ending that is closed are left for the next."""
        self._check_numbers()
        self._check_bars()
        times = sum(len(each.times) for each in self._endings)
        endings = tuple(Ending(each.times, tuple(each.bars)) for each in self._endings)
        self._done.append(Repeat(tuple(self._bars), times, endings))
        self._bars, self._after = self._after, []
        self._opening, self._endings = None, []

    def _check_numbers(self) -> None:
        times = [each.times for each in self._endings]
        given = [number for each in times for number in each]
        in_order = all(times) and times == sorted(tuple(sorted(each)) for each in times)
        complete = sorted(given) == list(range(1, len(given) + 1))
        if len(times) > 1 and in_order and complete and len(given) == times[-1][-1]:
            return
        numbers = " / ".join(_short(each.mark.text) for each in self._endings[:9])
        self._fault(
            self._endings[0].mark,
            f"the endings of this repeat are {numbers}",
            "give every time round one ending, from 1 upwards and the last time in the last, such "
            "as |1 ... :|2 ...; for a chord put a space behind the bar line",
        )

    def _check_bars(self) -> None:
        for ending in self._endings:
            if not ending.bars:
                self._fault(
                    ending.mark,
                    f"ending {quoted(ending.mark.text)} has no bars",
                    "write its chords behind the number; for a chord put a space behind the bar "
                    "line",
                )


def _short(figures: str) -> str:
    return figures if len(figures) <= _LONGEST_FIGURES else f"{figures[:_LONGEST_FIGURES]}…"
