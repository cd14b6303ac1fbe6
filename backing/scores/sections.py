"""Groups bars into sections with repeats and endings, and writes D.C. and D.S. out.

Conventions: a repeat without a start sign begins after the last repeat, double bar line or label,
or with the tune (ABC v2.1, 4.8). The last ending runs to the next double bar line, repeat or label.
After D.C. and D.S. repeats are played once, with the last ending (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeAlias

from backing.chart.melody import in_silence
from backing.chart.model import MOST_TIMES
from backing.scores.tune import Jump

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.scores.tune import Remarks, TuneBar


Ending: TypeAlias = "tuple[tuple[int, ...], list[TuneBar]]"
"""The passes, from 1, and the bars of an ending."""


@dataclass(eq=False, slots=True)
class Section:
    """Consecutive bars between double bar lines, repeats and labels.

    Attributes:
        label: the label at its start, or "".
        body: its bars before the endings.
        endings: the passes, from 1, and the bars of each ending.
        times: how often it is played, from 1.
        opened, closed: whether a repeat starts and ends with it.
        pickup: its pickup, whose meter is its length, or None; set by `normalised_section`.

    """

    label: str = ""
    body: list[TuneBar] = field(default_factory=list)
    endings: list[Ending] = field(default_factory=list)
    times: int = 1
    opened: bool = False
    closed: bool = False
    pickup: TuneBar | None = None

    def bars(self) -> list[TuneBar]:
        """Return its bars in written order, without the pickup."""
        return [*self.body, *(bar for _, ending in self.endings for bar in ending)]

    def pass_of(self, time: int) -> list[TuneBar]:
        """Return the bars of a pass, from 1, without the pickup."""
        return self.body + next((bars for times, bars in self.endings if time in times), [])

    def without_first_pass(self) -> Section:
        """Return the repeat without its first pass."""
        if self.times == 2:
            return Section(self.label, self.pass_of(2))
        rest = [
            (tuple(time - 1 for time in times if time > 1), bars) for times, bars in self.endings
        ]
        endings = [each for each in rest if each[0]]
        if len(endings) == 1:
            return replace(self, body=self.pass_of(2), endings=[], times=self.times - 1)
        return replace(self, endings=endings, times=self.times - 1)

    def with_pickup_behind(self, bars: list[TuneBar]) -> list[TuneBar]:
        """Return bars with the pickup's notes in the silent end of the last one."""
        last, pickup = bars[-1], self.pickup
        if not pickup:
            return bars
        notes = in_silence(last.notes, last.ticks, pickup.notes, pickup.ticks)
        return [*bars[:-1], replace(last, notes=(*last.notes, *notes))]


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
    if not endings_in_order(section):
        _remark(remarks, section, "a chart cannot have endings in this order: written out")
        _write_out(section)
    return [section, *hidden]


def endings_in_order(section: Section) -> bool:
    """Whether the passes of its endings ascend from 1 with the last pass in the last ending."""
    passes = [times for times, _ in section.endings]
    return not passes or (passes == sorted(passes) and max(map(max, passes)) == max(passes[-1]))


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
    remarks.at(section.bars()[0], text)


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
        bars = section.bars()
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
        bars = [bar for bar in section.pass_of(section.times) if id(bar) in wanted]
        if bars and len(bars) == len(section.bars()) and section.times == 1:
            played.append(section)
        elif bars:
            played.append(Section(body=bars))
    return played
