"""Aligns the bars of each part in columns."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import chain, islice, zip_longest
from typing import TYPE_CHECKING

from backing.chart.outline import LineKind, line_kind
from backing.chart.read import read_chart
from backing.chart.tokens import read_cells, settle_figures

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.chart.tokens import BarLine, Cell

_BYTE_ORDER_MARK = "\ufeff"


def tidy_text(text: str, source: str = "chart") -> str:
    """Return the text of a chart with the bars of each part in columns.

    Only spaces change, in lines of bars and at the ends of lines.

    Raises:
        ChartError: if the chart has faults.

    """
    read_chart(text, source)
    mark = _BYTE_ORDER_MARK if text.startswith(_BYTE_ORDER_MARK) else ""
    pieces = re.split(r"(\r\n|\r|\n)", text.removeprefix(_BYTE_ORDER_MARK))
    lines = [line.rstrip() for line in pieces[::2]]
    for numbers in _parts(lines):
        for number, aligned in zip(numbers, align_bars([lines[n] for n in numbers]), strict=True):
            lines[number] = aligned
    pieces[::2] = lines
    return mark + "".join(pieces)


def _parts(lines: Sequence[str]) -> Iterator[list[int]]:
    """Yield for each part the indices of its lines of bars."""
    part: list[int] = []
    for number, line in enumerate(lines):
        kind = line_kind(line)
        if kind is LineKind.PART:
            yield part
            part = []
        elif kind is LineKind.BARS:
            part.append(number)
    yield part


@dataclass(frozen=True, slots=True)
class _Box:
    """A bar line and the bar after it.

    Attributes:
        left: the bar line up to its first stroke.
        right: the bar line from its first stroke, with its digits.
        content: the words of the bar; "" after the last bar line.

    """

    left: str = ""
    right: str = ""
    content: str = ""


def align_bars(lines: Sequence[str]) -> list[str]:
    """Return the lines of bars of one part with their bar lines in columns."""
    split = [read_cells(number, line) for number, line in enumerate(lines)]
    cells = iter(settle_figures(list(chain.from_iterable(split)))[0])
    rows = [_boxes(list(islice(cells, len(row)))) for row in split]
    if rows and len(rows[0]) > 2 and rows[0][0].content.lower().startswith("(pickup"):
        rows = [rows[0], *([_Box(), *row] for row in rows[1:])]
    columns = list(zip_longest(*rows, fillvalue=_Box()))
    left = [max(len(box.left) for box in column) for column in columns]
    right = [max(len(box.right) * bool(box.content) for box in column) for column in columns]
    content = [max(len(box.content) for box in column) for column in columns]
    widths = list(zip(left, right, content, strict=True))
    return [_aligned(row, widths) for row in rows]


def _boxes(row: Sequence[Cell]) -> list[_Box]:
    """Return the boxes of a line; adjacent bar lines are one box."""
    boxes = []
    line = ""
    for cell in row:
        line = f"{line} {_text(cell.bar_line)}".strip()
        if cell.words or cell.last:
            stroke = len(line) - len(line.lstrip(":"))
            content = " ".join(word.text for word in cell.words)
            boxes.append(_Box(line[:stroke], line[stroke:], content))
            line = ""
    return boxes


def _text(bar_line: BarLine | None) -> str:
    if not bar_line:
        return ""
    times = f"x{bar_line.times.text}" if bar_line.times else ""
    return bar_line.text + times + (bar_line.figures.text if bar_line.figures else "")


def _aligned(row: Sequence[_Box], widths: Sequence[tuple[int, int, int]]) -> str:
    boxes = (
        f"{box.left:>{left}}{box.right:<{right}}{' ' * (left + right > 0)}{box.content:<{content}} "
        for box, (left, right, content) in zip(row, widths, strict=False)
    )
    return "".join(boxes).rstrip()
