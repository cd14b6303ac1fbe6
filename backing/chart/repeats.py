"""Groups the bars of a part into repeats and endings by their bar lines.

Conventions: a repeat without `|:` begins after the repeat before it, or with the part. The last
ending extends to the next repeat or the end of the part, whether or not `:|` closes it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backing.chart.diagnostics import quoted
from backing.chart.model import MOST_TIMES, Bar, Ending, Repeat
from backing.chart.tokens import ending_times

if TYPE_CHECKING:
    from backing.chart.diagnostics import Diagnostics
    from backing.chart.tokens import BarLine, Word

_LONGEST_FIGURES = 20
_SPACE = "if it is a chord, put a space before it"
_LENGTH_ADVICE = "; write a chord's length right after its colon, such as Em:1/4"


@dataclass(slots=True)
class _OpenEnding:
    mark: Word
    times: tuple[int, ...]
    bars: list[Bar] = field(default_factory=list)
    closed: bool = False


class Sections:
    """Collects the bar lines and the bars of one part in order.

    Attributes:
        valid: whether no fault was found; only the first of a part is reported.

    """

    def __init__(self, faults: Diagnostics) -> None:
        self.valid = True
        self._faults = faults
        self._done: list[Bar | Repeat] = []
        self._bars: list[Bar] = []
        self._opening: BarLine | None = None
        self._endings: list[_OpenEnding] = []
        self._after: list[Bar] = []  # bars after a last ending closed by `:|`

    @property
    def opened(self) -> bool:
        """Whether a repeat is open."""
        return self._opening is not None

    def bar(self, bar: Bar) -> None:
        """Add a bar."""
        if bar.pickup:
            self._done.append(bar)
        elif not self._endings:
            self._bars.append(bar)
        elif self._endings[-1].closed:
            self._after.append(bar)
        else:
            self._endings[-1].bars.append(bar)

    def bar_line(self, line: BarLine) -> None:
        """Add a bar line."""
        if not line.known:
            self._fault(
                line,
                f"{quoted(line.text)} is not a bar line",
                "write |, |: to open a repeat, :| to close it, or :|: to close one and open another"
                + (_LENGTH_ADVICE if line.text == ":" else ""),
            )
            return
        if line.closes:
            self._close(line)
        if line.opens:
            self._open(line)
        if line.figures:
            self._begin_ending(line.figures)

    def finish(self) -> tuple[Bar | Repeat, ...]:
        """Return the sections at the end of the part."""
        if self._endings:
            self._run_on()
        elif self._opening:
            self._fault(
                self._opening,
                "this repeat is not closed",
                "write :| after its last bar, or delete this sign",
            )
        return (*self._done, *self._bars)

    def _fault(self, place: BarLine | Word, found: str, allowed: str) -> None:
        if self.valid:
            self.valid = False
            self._faults.add(place.place, found, allowed)

    def _open(self, line: BarLine) -> None:
        if self._endings:
            self._run_on()
        elif self._opening:
            self._fault(
                line,
                f"a repeat opens inside the repeat that opens in line {self._opening.place[0]}",
                "close that one with :| first; a repeat cannot contain another",
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
                "write it once, after the last bar of the repeat",
            )

    def _close_ending(self, line: BarLine) -> None:
        ending = self._endings[-1]
        ending.closed = True
        if line.times:
            self._fault(
                line.times,
                f"x{line.times.text[:9]} comes after an ending",
                "write :| alone, and number the ending for each time that it is played, such as "
                "|1,2",
            )

    def _times(self, line: BarLine) -> int:
        """Return how often a repeat is played, by default 2."""
        if not line.times:
            return 2
        times = int(line.times.text) if len(line.times.text) < 5 else 0
        if not 2 <= times <= MOST_TIMES:
            self._fault(
                line.times,
                f"a repeat cannot be played x{line.times.text[:9]}",
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
                "first write the bars that are played every time; " + _SPACE,
            )
        elif self._endings and not self._endings[-1].closed:
            self._fault(
                mark,
                f"ending {quoted(mark.text)} begins inside the ending before it",
                "write :| at the end of every ending but the last; " + _SPACE,
            )
        self._endings.append(ending)

    def _run_on(self) -> None:
        """Extend the last ending to the current bar line."""
        self._endings[-1].bars += self._after
        self._after = []
        self._finish_endings()

    def _finish_endings(self) -> None:
        """Finish the repeat; bars after a closed last ending begin the next one."""
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
            "number every time round once, from 1 up, the highest in the last ending, such as "
            "|1 ... :|2 ...; " + _SPACE,
        )

    def _check_bars(self) -> None:
        for ending in self._endings:
            if not ending.bars:
                self._fault(
                    ending.mark,
                    f"ending {quoted(ending.mark.text)} has no bars",
                    "write its chords after the number; " + _SPACE,
                )


def _short(figures: str) -> str:
    return figures if len(figures) <= _LONGEST_FIGURES else f"{figures[:_LONGEST_FIGURES]}…"
