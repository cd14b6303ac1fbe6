"""Lays out the bars of a part in rows, for text, printed sheets and web pages.

Conventions (common practice, no source): a row has four bars, not counting a pickup; a repeat
begins a row; the first ending stays in the row of its repeat if there is room, and the others are
aligned below it. In text every ending begins a row.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import chain
from typing import TYPE_CHECKING

from backing.chart.model import Bar

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.chart.model import Part, Repeat
    from backing.timing import Meter


@dataclass(frozen=True, slots=True)
class Cell:
    """A bar in its row.

    Attributes:
        bar: the bar.
        written: its index in the part as written, from 0, including the pickup.
        number: its number in the part as written, from 1; 0 for the pickup.
        opens: whether a repeat begins at its left.
        closes: how often the repeat that ends at its right is played, 2 after an ending; 0 for
            no repeat.
        ending: the times round of the ending that begins with it; empty for none.
        in_ending: whether it is in an ending.
        open_end: whether it is the last bar of a last ending, whose bracket stays open.
        last: whether the part ends with it.
        opens_next: whether a repeat begins at its right.
        shows_meter: whether its meter differs from that of the bar before.
        same: whether it has the same chords as the bar played before it, every time round, and no
            directions.

    """

    bar: Bar
    written: int = 0
    number: int = 0
    opens: bool = False
    closes: int = 0
    ending: tuple[int, ...] = ()
    in_ending: bool = False
    open_end: bool = False
    last: bool = False
    opens_next: bool = False
    shows_meter: bool = False
    same: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """A row of bars.

    Attributes:
        cells: its bars, at least one.
        indent: empty columns at its left, in bars.
        columns: bars that fit, not counting a pickup.
        first: whether the part begins with it.

    """

    cells: tuple[Cell, ...]
    indent: int
    columns: int
    first: bool


def rows_of(
    part: Part, columns: int, meter: Meter | None = None, *, stacked: bool = True
) -> list[Row]:
    """Return a part in rows.

    Args:
        part: the part.
        columns: bars in a row.
        meter: the meter of the bar before the part, or None.
        stacked: whether to align endings below each other; False begins a row with each.

    """
    cells = list(cells_of(part))
    numbers = [index + (part.pickup is None) for index in range(len(cells))]
    shown = [meter, *(cell.bar.meter for cell in cells if not cell.bar.pickup)]
    cells = [
        replace(
            cell,
            written=index,
            number=number,
            last=cell is cells[-1],
            opens_next=cell.bar.pickup and any(each.opens for each in cells[1:2]),
            shows_meter=number > 0 and cell.bar.meter != shown[number - 1],
        )
        for index, (cell, number) in enumerate(zip(cells, numbers, strict=True))
    ]
    return list(_rows(cells, columns, stacked=stacked))


def cells_of(part: Part) -> Iterator[Cell]:
    """Yield the bars of a part as written, with their repeats and endings."""
    before: Bar | None = None
    for section in part.sections:
        if isinstance(section, Bar):
            yield from _run((section,), before)
            before = section
        else:
            yield from _repeat(section)
            before = (section.endings[-1] if section.endings else section).bars[-1]


def _run(bars: Sequence[Bar], before: Bar | None) -> list[Cell]:
    """Return the cells of bars that are played one after the other."""
    return [
        Cell(bar, same=each is not None and each.chords == bar.chords and not bar.directions)
        for each, bar in zip(chain([before], bars), bars, strict=False)
    ]


def _repeat(repeat: Repeat) -> Iterator[Cell]:
    cells = _run(repeat.bars, None)  # its own last bar comes before it, too
    cells[0] = replace(cells[0], opens=True)
    if not repeat.endings:
        cells[-1] = replace(cells[-1], closes=repeat.times)
    yield from cells
    for ending in repeat.endings:
        cells = [replace(cell, in_ending=True) for cell in _run(ending.bars, repeat.bars[-1])]
        cells[0] = replace(cells[0], ending=ending.times)
        final = ending is repeat.endings[-1]
        cells[-1] = replace(cells[-1], closes=0 if final else 2, open_end=final)
        yield from cells


def _rows(cells: list[Cell], columns: int, *, stacked: bool) -> Iterator[Row]:
    row: list[Cell] = []
    indent, ending_at = 0, 0
    for index, cell in enumerate(cells):
        length = indent + sum(not each.bar.pickup for each in row)
        is_first_ending = bool(cell.ending) and not cells[index - 1].in_ending
        full = length >= columns or (bool(cell.ending) and not stacked)
        if row and (full or _breaks(cells, index, row, columns - length)):
            yield Row(tuple(row), indent, columns, first=row[0] is cells[0])
            fits = ending_at + _ending_length(cells, index) <= columns
            indent = length = ending_at if cell.ending and not is_first_ending and fits else 0
            row = []
        if is_first_ending:
            ending_at = length
        row.append(cell)
    yield Row(tuple(row), indent, columns, first=row[0] is cells[0])


def _breaks(cells: list[Cell], index: int, row: list[Cell], room: int) -> bool:
    """Whether a new row begins at this bar although there is room."""
    cell, before = cells[index], cells[index - 1]
    if cell.opens:
        return not all(each.bar.pickup for each in row)
    if cell.ending:
        return before.in_ending or _ending_length(cells, index) > room
    return before.closes > 0 or before.open_end


def _ending_length(cells: list[Cell], index: int) -> int:
    """Return the number of bars in the ending that begins at an index."""
    after = range(index + 1, len(cells))
    end = (at for at in after if not cells[at].in_ending or cells[at].ending)
    return next(end, len(cells)) - index
