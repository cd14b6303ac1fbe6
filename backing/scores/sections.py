"""Groups bars into sections with repeats and endings, and writes D.C. and D.S. out.

Conventions: a repeat without a start sign begins after the last repeat, double bar line or label,
or with the tune (ABC v2.1, 4.8). The last ending runs to the next double bar line, repeat or label.
After D.C. and D.S. repeats are played once, with the last ending (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backing.chart.model import MOST_TIMES
from backing.scores.tune import Jump

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.scores.tune import Remarks, TuneBar


@dataclass(eq=False, slots=True)
class Section:
    """Consecutive bars between double bar lines, repeats and labels.

    Attributes:
        label: the label at its start, or "".
        body: its bars before the endings.
        endings: the passes, from 1, and the bars of each ending.
        times: how often it is played, from 1.
        opened, closed: whether a repeat starts and ends with it.

    """

    label: str = ""
    body: list[TuneBar] = field(default_factory=list)
    endings: list[tuple[tuple[int, ...], list[TuneBar]]] = field(default_factory=list)
    times: int = 1
    opened: bool = False
    closed: bool = False

    def bars(self) -> Iterator[TuneBar]:
        """Yield its bars in written order."""
        yield from self.body
        for _, bars in self.endings:
            yield from bars

    def last_time(self) -> list[TuneBar]:
        """Return its bars as played on the last pass."""
        return [*self.body, *(self.endings[-1][1] if self.endings else ())]


def sections_of(bars: Sequence[TuneBar], remarks: Remarks) -> list[Section]:
    """Return the sections of the bars in written order; corrections go into the remarks."""
    found: list[Section] = []
    now = Section()
    before: TuneBar | None = None
    for bar in bars:
        if before and _is_new(now, before, bar):
            found.append(now)
            now = Section()
        _take(now, bar)
        before = bar
    found.append(now)
    return [mended for each in found for mended in _mended(each, remarks)]


def _take(section: Section, bar: TuneBar) -> None:
    section.label = section.label or bar.part
    section.opened = section.opened or bar.opens
    if bar.ending and section.body:
        section.endings.append((bar.ending, [bar]))
    elif section.endings:
        section.endings[-1][1].append(bar)
    else:
        section.body.append(bar)
    if bar.closes:
        section.closed = True
        section.times = max(section.times, bar.closes)


def _is_new(section: Section, before: TuneBar, bar: TuneBar) -> bool:
    """Whether a bar begins a new section."""
    if bar.opens or bar.part or Jump.CODA in bar.jumps:
        return True
    if section.endings and bar.ending:
        return False
    if before.closes:
        return True
    if section.endings:
        return before.double or before.ending_stops
    return before.double and not section.opened


def _mended(section: Section, remarks: Remarks) -> list[Section]:
    """Return a section with repeats and endings that a chart can hold; two where one was hidden."""
    if section.endings:
        return _mended_endings(section, remarks)
    if section.opened and not section.closed:
        _remark(remarks, section, "a repeat begins and does not end: played once")
    section.times = min(section.times, MOST_TIMES) if section.closed else 1
    return [section]


def _mended_endings(section: Section, remarks: Remarks) -> list[Section]:
    hidden = _hidden_repeat(section)
    numbers = [times for times, _ in section.endings]
    if len(numbers) == 1:
        section.body += section.endings.pop()[1]
        section.times = max(section.times, 2) if section.closed else 1
        return [section, *hidden]
    given = sorted(number for times in numbers for number in times)
    if given != list(range(1, len(given) + 1)):
        _remark(remarks, section, "the endings are not numbered from 1 up: renumbered")
        section.endings = [((n,), bars) for n, (_, bars) in enumerate(section.endings, 1)]
        given = list(range(1, len(section.endings) + 1))
    section.times = len(given)
    if not endings_in_order([times for times, _ in section.endings]):
        _remark(remarks, section, "a chart cannot have endings in this order: written out")
        _write_out(section)
    return [section, *hidden]


def endings_in_order(endings: Sequence[tuple[int, ...]]) -> bool:
    """Whether endings, given as their passes, ascend from 1 with the last pass in the last."""
    return not endings or (
        list(endings) == sorted(endings) and max(map(max, endings)) == max(endings[-1])
    )


def _hidden_repeat(section: Section) -> list[Section]:
    """Cut a repeat off the last ending: `|1 x :|2 y | z z z z :|` without a double bar line."""
    bars = section.endings[-1][1]
    usual = len(section.endings[0][1])
    if len(section.endings) < 2 or not bars[-1].closes or len(bars) < usual + 4:
        return []
    found = Section(body=bars[usual:], times=bars[-1].closes, closed=True)
    del bars[usual:]
    return [found]


def _write_out(section: Section) -> None:
    """Write a repeat out, pass after pass."""
    by_time = {time: bars for times, bars in section.endings for time in times}
    section.body = [bar for time in sorted(by_time) for bar in (*section.body, *by_time[time])]
    section.endings, section.times = [], 1


def _remark(remarks: Remarks, section: Section, text: str) -> None:
    remarks.at(next(section.bars()), text)


def jumps_written_out(sections: list[Section], remarks: Remarks) -> list[Section]:
    """Return the sections in performance order with D.C., D.S., fine and coda written out.

    Only the first jump is. A section that is played again unchanged is the same object; one that is
    played in part, or without its repeat, is a new one.
    """
    flat = [(section, bar) for section in sections for bar in section.bars()]
    back = [
        (n, bar, jump) for n, (_, bar) in enumerate(flat) for jump in bar.jumps if jump.goes_back
    ]
    if not back:
        return sections
    at, bar, jump = back[0]
    start = 0 if jump.startswith("D.C.") else _find(flat, Jump.SEGNO)
    if start is None:
        remarks.at(bar, f"there is no segno: {jump} goes back to the start")
    fine = None if jump.endswith("coda") else _find(flat, Jump.FINE)
    leave = None if jump.endswith("fine") else _find(flat, Jump.TO_CODA)
    coda = _find(flat, Jump.CODA)
    order = sections[: _index(sections, flat[at][0]) + 1]
    if fine is None and leave is not None and coda is not None:
        order += _after_jump(sections, flat, start, leave)
        order += sections[_index(sections, flat[coda][0]) :]
    else:
        end = fine if fine is not None else (leave if leave is not None else at)
        order += _after_jump(sections, flat, start, end)
    remarks.at(bar, f"{jump} is written out: the form is longer than in the source")
    for index, other_bar, other in back:
        if index != at:
            remarks.at(other_bar, f"{other} is ignored: an earlier jump is written out")
    return order


def unreached(
    sections: list[Section], played: Sequence[Section], remarks: Remarks
) -> list[Section]:
    """Return the sections, or the bars left of them, that are never played; remark them."""
    reached = {bar.number for section in played for bar in section.bars()}
    found = []
    for section in sections:
        bars = list(section.bars())
        rest = [bar for bar in bars if bar.number not in reached]
        if rest:
            remarks.at(rest[0], "the jump skips this: it is not played")
            found.append(section if rest == bars else Section(section.label, rest))
    return found


def remark_ignored_jumps(bars: Sequence[TuneBar], remarks: Remarks) -> None:
    """Remark the jumps that are ignored because P: gives the order."""
    for bar in bars:
        for jump in bar.jumps:
            if jump.goes_back:
                remarks.at(bar, f"{jump} is ignored: P: gives the order of the parts")


def _index(sections: list[Section], section: Section) -> int:
    return next(n for n, each in enumerate(sections) if each is section)


def _find(flat: list[tuple[Section, TuneBar]], jump: Jump) -> int | None:
    return next((n for n, (_, bar) in enumerate(flat) if jump in bar.jumps), None)


def _after_jump(
    sections: list[Section], flat: list[tuple[Section, TuneBar]], start: int | None, end: int
) -> list[Section]:
    """Return the sections played after a jump, from one bar to another, both given by index."""
    wanted = {id(bar) for _, bar in flat[start or 0 : end + 1]}
    played = []
    for section in sections:
        bars = [bar for bar in section.last_time() if id(bar) in wanted]
        if bars and len(bars) == len(list(section.bars())) and section.times == 1:
            played.append(section)
        elif bars:
            played.append(Section(body=bars))
    return played
