"""Selections of a chart: a part, several parts, or bars, as players name them.

Conventions: `A` is a part, `A 2` the second A of the form, `A-B` the parts from A to the next B,
`5-8` the bars 5 to 8, counted from 1 through the whole form. Case does not matter. What is the name
of a part is that part.
"""

from __future__ import annotations

import re
from itertools import accumulate
from typing import TYPE_CHECKING

from backing.chart.sequence import length_in_bars
from backing.errors import SettingsError

if TYPE_CHECKING:
    from backing.chart.model import Chart

_NUMBERED = re.compile(r"(\S+)\s+(\d{1,9})")


def bars_of(chart: Chart, text: str) -> tuple[int, int]:
    """Return the first and last bar of a selection, from 0 through the whole form.

    Raises:
        SettingsError: when there is no such part or bar.

    """
    numbered = _NUMBERED.fullmatch(text)
    if (numbered[1] if numbered else text).lower() in map(str.lower, chart.order):
        return _bars_of_parts(chart, text, text)
    first, dash, last = (each.strip() for each in text.partition("-"))
    if first.isdecimal() and (not dash or last.isdecimal()):
        start, end, bars = int(first), int(last or first), length_in_bars(chart)
        if start > end:
            raise SettingsError(
                f"bars {text}: the first comes behind the last; write {end}-{start}"
            )
        if not 1 <= start <= end <= bars:
            raise SettingsError(f"bars {text}: the form has bars 1 to {bars}")
        return start - 1, end - 1
    return _bars_of_parts(chart, first, last if dash else first)


def _bars_of_parts(chart: Chart, first: str, last: str) -> tuple[int, int]:
    """Return the bars from one part to the end of another: the one that is named, or the next."""
    start = form_index_of(chart, *part_of(chart, first))
    name, occurrence = part_of(chart, last)
    ends = range(start, len(chart.order))
    if occurrence is not None:
        ends = range(max(start, named := form_index_of(chart, name, occurrence)), named + 1)
    end = next((each for each in ends if chart.order[each] == name), None)
    if end is None:
        raise SettingsError(f"part {last} does not come behind part {first}")
    starts = [0, *accumulate(chart.part(each).length() for each in chart.order)]
    return starts[start], starts[end + 1] - 1


def form_index_of(chart: Chart, name: str, occurrence: int | None) -> int:
    """Return which part of the form, from 0, is this one of its name; None is the first."""
    return [index for index, each in enumerate(chart.order) if each == name][occurrence or 0]


def part_of(chart: Chart, text: str) -> tuple[str, int | None]:
    """Return a part's name, and for `A 2` which part of that name in the form it is, from 0.

    Raises:
        SettingsError: when there is no such part.

    """
    if not (numbered := _NUMBERED.fullmatch(text.strip())):
        return part_name(chart, text), None
    name, number = part_name(chart, numbered[1]), int(numbered[2])
    comes = chart.order.count(name)
    if not 1 <= number <= comes:
        raise SettingsError(f"{name} {number}: {name} comes {comes} times in the form")
    return name, number - 1


def part_name(chart: Chart, text: str) -> str:
    """Return a part's name as the chart writes it.

    Raises:
        SettingsError: when there is no such part.

    """
    for name in chart.order:
        if name.lower() == text.strip().lower():
            return name
    parts = ", ".join(dict.fromkeys(chart.order))
    raise SettingsError(f"'{text}' is not a part: choose from {parts}")
