"""The bars of a part in rows, as they stand on a sheet.

Conventions (common practice, no source): four bars to a row, a pickup over and above them; a repeat
begins a row; a second ending stands below the first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.chart.model import Bar

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.chart.model import Part, Repeat
    from backing.timing import Meter


@dataclass(frozen=True, slots=True)
class Cell:
    """A bar on a sheet.

    Attributes:
        bar: the bar.
        number: its number in the part as written, from 1; 0 for the pickup.
        opens: whether a repeat begins at its left.
        closes: how often the repeat that ends at its right is played; 0 for none.
        ending: the figures of the ending that begins with it, such as "1. 3.", or "".
        in_ending: whether it is in an ending.
        open_end: whether the bracket of its ending ends with it and stays open.
        last: whether the part ends with it.
        opens_next: whether a repeat begins at its right.
        shows_meter: whether its meter is written.
    """

    bar: Bar
    number: int
    opens: bool = False
    closes: int = 0
    ending: str = ""
    in_ending: bool = False
    open_end: bool = False
    last: bool = False
    opens_next: bool = False
    shows_meter: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """Bars beside each other.

    Attributes:
        cells: at least one.
        indent: how many bars are left free on the left.
        columns: how many bars it has room for, a pickup not counted.
        first: whether the part begins with it.
    """

    cells: tuple[Cell, ...]
    indent: int
    columns: int
    first: bool


def rows_of(part: Part, columns: int, meter: Meter | None) -> tuple[list[Row], Meter | None]:
    """Return a part in rows, and the meter that was written last.

    Args:
        part: the part.
        columns: how many bars stand in a row.
        meter: the meter that was written last before it, or None.
    """
    cells = list(_numbered(part))
    cells[-1] = replace(cells[-1], last=True)
    if cells[0].bar.pickup and len(cells) > 1:
        cells[0] = replace(cells[0], opens_next=cells[1].opens)
    for index, cell in enumerate(cells):
        if not cell.bar.pickup and cell.bar.meter != meter:
            meter = cell.bar.meter
            cells[index] = replace(cell, shows_meter=True)
    return list(_rows(cells, columns)), meter


def _numbered(part: Part) -> Iterator[Cell]:
    number = 0
    for cell in _cells(part):
        number += not cell.bar.pickup
        yield replace(cell, number=0 if cell.bar.pickup else number)


def _cells(part: Part) -> Iterator[Cell]:
    for section in part.sections:
        if isinstance(section, Bar):
            yield Cell(section, 0)
        else:
            yield from _repeat(section)


def _repeat(repeat: Repeat) -> Iterator[Cell]:
    cells = [Cell(bar, 0) for bar in repeat.bars]
    cells[0] = replace(cells[0], opens=True)
    if not repeat.endings:
        cells[-1] = replace(cells[-1], closes=repeat.times)
    yield from cells
    for ending in repeat.endings:
        bars = [Cell(bar, 0, in_ending=True) for bar in ending.bars]
        bars[0] = replace(bars[0], ending=" ".join(f"{time}." for time in ending.times))
        final = ending is repeat.endings[-1]
        bars[-1] = replace(bars[-1], closes=0 if final else 2, open_end=final)
        yield from bars


def _rows(cells: list[Cell], columns: int) -> Iterator[Row]:
    row: list[Cell] = []
    indent, first, ending_at = 0, True, 0
    for index, cell in enumerate(cells):
        length = indent + sum(not each.bar.pickup for each in row)
        if row and (length >= columns or _breaks(cells, index, row, columns - length)):
            yield Row(tuple(row), indent, columns, first)
            row, indent, length, first = [], 0, 0, False
            if cell.ending and ending_at + _ending_length(cells, index) <= columns:
                indent = length = ending_at
        if cell.ending and not cells[index - 1].in_ending:
            ending_at = length
        row.append(cell)
    yield Row(tuple(row), indent, columns, first)


def _breaks(cells: list[Cell], index: int, row: list[Cell], room: int) -> bool:
    """Whether a row ends before this bar although there is room."""
    cell, before = cells[index], cells[index - 1]
    if cell.opens:
        return not all(each.bar.pickup for each in row)
    if cell.ending:
        return before.in_ending or _ending_length(cells, index) > room
    return before.closes > 0 or before.open_end


def _ending_length(cells: list[Cell], index: int) -> int:
    length = 1
    while index + length < len(cells):
        cell = cells[index + length]
        if not cell.in_ending or cell.ending:
            break
        length += 1
    return length
