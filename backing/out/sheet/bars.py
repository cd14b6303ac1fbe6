"""Rows of bars as blocks, with the name of the part and the reading order of texts."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.out.sheet.cell import BAR, CHORDS, REST, SMALL, BarMarks, Frame
from backing.out.sheet.faces import BOLD, PLAIN, width_of
from backing.out.sheet.marks import BLACK, GREY, WHITE, Block, Box, Line, Mark, Text, word, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.chart.layout import Cell, Row
    from backing.out.sheet.fretboard import Fingering

PICKUP = 0.6
"""Width of a pickup, in bars."""

_LEAST_NAME = 6.0
"""The smallest size of a part's name, in points; a longer name is wrapped."""

_NAME = -3
"""Reading order of a part's name, before its chords."""

_FIRST, _AFTER = 1, 1_000_000
"""Reading order of the first part's name, and of texts that come after all parts."""


def squeeze(row: Row, frame: Frame) -> float:
    """Return the scale, at most 1, at which the chords of a row fit."""
    return min(BarMarks(cell, frame, width).squeeze for cell, _, width in _places(row, frame))


def row_block(row: Row, frame: Frame, order: int, shown: list[Fingering | None]) -> Block:
    """Return a row as a block.

    Args:
        row: the row.
        frame: the frame of its part.
        order: the index of the part on the sheet, from 0.
        shown: a list with the shape that was drawn last; updated.
    """
    size = frame.size
    bars = [(BarMarks(cell, frame, width, shown), x) for cell, x, width in _places(row, frame)]
    top = 0.8 * size if row.first and frame.details else 0.0
    ending = 0.95 * size if any(bar.cell.in_ending or bar.cell.closes > 2 for bar, _ in bars) else 0
    labels = 0.85 * size if any(bar.labels for bar, _ in bars) else 0.0
    fretboards = max((bar.fretboard_height for bar, _ in bars), default=0.0)
    y = top + ending + labels + fretboards
    marks: list[Mark] = []
    for bar, x in bars:
        marks += [mark.moved(x, y) for mark in bar.marks()]
        marks += [mark.moved(x, top) for mark in bar.ending_marks(ending + labels + fretboards)]
        marks += [mark.moved(x, top + ending) for mark in bar.label_marks()]
        marks += [mark.moved(x, top + ending + labels) for mark in bar.fretboards()]
    if not row.cells[0].opens:
        x = bars[0][1]
        marks.append(Line(x, y, x, y + BAR * size, 0.9))
    name, height = _label(row, frame, y)
    marks += name
    if top:
        small = min(SMALL * size, frame.width / width_of(frame.details, PLAIN, 1.0))
        marks.append(word(frame.label, 0.52 * size, frame.details, small, PLAIN, GREY, REST))
    placed = [_in_order(mark, order) for mark in marks]
    return Block(
        max(y + BAR * size, height), tuple(placed), 0.42 * size, 0.5 * size, begins=row.first
    )


def _in_order(mark: Mark, part: int) -> Mark:
    """Return a mark with its reading order on the sheet instead of that in its part."""
    if not isinstance(mark, Text) or mark.order >= 0:
        return mark
    orders = {_NAME: _FIRST + 2 * part, CHORDS: _FIRST + 2 * part + 1, REST: _AFTER}
    return replace(mark, order=orders[mark.order])


def _places(row: Row, frame: Frame) -> Iterator[tuple[Cell, float, float]]:
    """Yield each bar, its left edge and its width, in points."""
    pickups = sum(cell.bar.pickup for cell in row.cells)
    unit = frame.width / (row.columns + PICKUP * pickups)
    x = frame.label + row.indent * unit
    for cell in row.cells:
        width = unit * (PICKUP if cell.bar.pickup else 1)
        yield cell, x, width
        x += width


def _label(row: Row, frame: Frame, y: float) -> tuple[list[Mark], float]:
    """Return the name of the part, or the number of the first bar, and its lower edge."""
    size, middle = frame.size, y + BAR * frame.size / 2
    if not row.first:
        number = str(row.cells[0].number)
        small = min(0.46 * size, 9.0)
        x = frame.label - 0.3 * size - width_of(number, PLAIN, small)
        return [word(x, middle + 0.36 * small, number, small, PLAIN, GREY, REST)], 0.0
    room = frame.label - 0.35 * size
    small, lines = _name_lines(frame.name, size, room - 0.4 * size)
    pad = 0.2 * small + 1
    height = max(1.2 * small * len(lines) + 2 * pad - 0.3 * small, 0.0)
    top = max(middle - height / 2, 0.0)
    width = min(room, max(width_of(line, BOLD, small) for line in lines) + 0.4 * size)
    width = max(width, min(height, room))
    marks: list[Mark] = [Box(0, top, width, height, 0, BLACK, 0.18 * size)]
    for index, line in enumerate(lines):
        base = top + pad + 0.82 * small + 1.2 * small * index
        left = (width - width_of(line, BOLD, small)) / 2
        marks.append(word(left, base, line, small, BOLD, WHITE, _NAME))
    return marks, top + height


def _name_lines(name: str, size: float, room: float) -> tuple[float, list[str]]:
    """Return the size and the lines of a name: one line, or wrapped at hyphens, or anywhere."""
    small = 0.82 * size
    if width_of(name, BOLD, small) <= room:
        return small, [name]
    labels = name.replace("-", "- ").split()
    longest = max(width_of(each, BOLD, 1.0) for each in labels)
    small = max(_LEAST_NAME, min(0.62 * size, room / longest))
    lines = wrapped(" ".join(labels), BOLD, small, room)
    return small, [line.replace("- ", "-") for line in lines]
