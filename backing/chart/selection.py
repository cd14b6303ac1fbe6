"""Reads selections of a chart as players name them: a part, several parts, or bars.

Conventions: `A` is a part, `A 2` the second A of the form, `A-B` the parts from A to the next B,
`5-8` bars 5 to 8, counted from 1 through the whole form. Case does not matter. A text that is the
name of a part is always that part.
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
    """Return the first and last bar of a selection, counted from 0 through the whole form.

    Raises:
        SettingsError: if there is no such part or bar.

    """
    numbered = _NUMBERED.fullmatch(text)
    if (numbered[1] if numbered else text).lower() in map(str.lower, chart.order):
        return _bars_of_parts(chart, text, text)
    first, dash, last = (each.strip() for each in text.partition("-"))
    if first.isdecimal() and (not dash or last.isdecimal()):
        start, end, bars = int(first), int(last or first), length_in_bars(chart)
        if start > end:
            raise SettingsError(f"bars {text}: the first is after the last; write {end}-{start}")
        if not 1 <= start <= end <= bars:
            raise SettingsError(f"bars {text}: the form has bars 1 to {bars}")
        return start - 1, end - 1
    return _bars_of_parts(chart, first, last if dash else first)


def _bars_of_parts(chart: Chart, first: str, last: str) -> tuple[int, int]:
    """Return the first and last bar from one part to the end of another, by default the next."""
    start = form_index_of(chart, *part_of(chart, first))
    name, occurrence = part_of(chart, last)
    ends = range(start, len(chart.order))
    if occurrence is not None:
        ends = range(max(start, named := form_index_of(chart, name, occurrence)), named + 1)
    end = next((each for each in ends if chart.order[each] == name), None)
    if end is None:
        raise SettingsError(f"part {last} does not come after part {first}")
    starts = [0, *accumulate(chart.part(each).length() for each in chart.order)]
    return starts[start], starts[end + 1] - 1


def form_index_of(chart: Chart, name: str, occurrence: int | None) -> int:
    """Return the index in the form of an occurrence of a part, from 0; None is the first."""
    return [index for index, each in enumerate(chart.order) if each == name][occurrence or 0]


def part_of(chart: Chart, text: str) -> tuple[str, int | None]:
    """Return a part's name and, for `A 2`, its occurrence in the form, from 0.

    Raises:
        SettingsError: if there is no such part.

    """
    if not (numbered := _NUMBERED.fullmatch(text.strip())):
        return part_name(chart, text), None
    name, number = part_name(chart, numbered[1]), int(numbered[2])
    count = chart.order.count(name)
    if not 1 <= number <= count:
        raise SettingsError(
            f"{name} {number}: {name} comes {count} time{'s' * (count > 1)} in the form"
        )
    return name, number - 1


def part_name(chart: Chart, text: str) -> str:
    """Return a part's name as written in the chart.

    Raises:
        SettingsError: if there is no such part.

    """
    for name in chart.order:
        if name.lower() == text.strip().lower():
            return name
    parts = ", ".join(dict.fromkeys(chart.order))
    raise SettingsError(f"'{text}' is not a part: choose from {parts}")
