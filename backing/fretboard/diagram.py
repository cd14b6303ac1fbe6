"""Chord diagrams, as text for the terminal and as SVG.

Conventions (common practice, no source): strings run down the page, with the bass side on the left,
for left-handed players on the right; a row is a fret; x is a muted string, o an open one; a double
line is the nut. In the text a finger's number is where it presses, and a line between two numbers
is a barre.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.fretboard.hand import Shape

LEAST_ROWS = 4
"""Least number of frets in a diagram."""

_GAP = "   "


@dataclass(frozen=True, slots=True)
class Diagram:
    """A chord diagram.

    Attributes:
        title: the line above it, such as a chord symbol.
        shape: the shape.
        remarks: the lines below it.
        left: whether it is drawn for a left-handed player.
    """

    title: str
    shape: Shape
    remarks: tuple[str, ...] = ()
    left: bool = False

    @property
    def first_row(self) -> int:
        """The fret of the first row; 1, at the nut, if the shape fits there."""
        highest = max((fret for fret in self.shape.frets if fret), default=0)
        return 1 if highest <= LEAST_ROWS else self.shape.position

    @property
    def rows(self) -> range:
        """The frets that are drawn."""
        highest = max((fret for fret in self.shape.frets if fret), default=0)
        return range(self.first_row, max(highest + 1, self.first_row + LEAST_ROWS))

    @property
    def order(self) -> list[int]:
        """Strings from left to right."""
        strings = list(range(len(self.shape.frets)))
        return strings[::-1] if self.left else strings

    def bars(self) -> Iterator[tuple[int, int, int, int]]:
        """Yield (finger, fret, lowest string, highest string) for every finger that presses."""
        for finger in (1, 2, 3, 4):
            strings = [string for string, each in enumerate(self.shape.fingers) if each == finger]
            if strings:
                yield finger, self.shape.frets[strings[0]] or 0, strings[0], strings[-1]


def remarks(shape: Shape) -> tuple[str, ...]:
    """Return the remarks on a shape: a big stretch, omitted degrees."""
    found = []
    if shape.big_stretch:
        found.append(f"big stretch {shape.span_mm:.0f} mm")
    if shape.left_out:
        found.append(f"without {' '.join(map(str, shape.left_out))}")
    return tuple(found)


def text_lines(diagram: Diagram) -> list[str]:
    """Return a diagram as lines of text of equal width."""
    margin = len(str(diagram.rows[-1]))
    order, frets = diagram.order, diagram.shape.frets
    marks = [{None: "x", 0: "o"}.get(frets[string], " ") for string in order]
    lines = [diagram.title, str(diagram.shape)]
    lines.append(" " * (margin + 1) + " ".join(marks))
    if diagram.first_row == 1:
        lines.append(" " * (margin + 1) + "═" * (2 * len(order) - 1))
    lines += [f"{fret:>{margin}} {_text_row(diagram, fret)}" for fret in diagram.rows]
    lines += diagram.remarks
    width = max(map(len, lines))
    return [line.ljust(width) for line in lines]


def _text_row(diagram: Diagram, fret: int) -> str:
    order = diagram.order
    signs = ["┼"] * len(order)
    links = ["─"] * (len(order) - 1)
    for _, there, low, high in diagram.bars():
        if there == fret:
            for place, (string, other) in enumerate(pairwise(order)):
                if low <= min(string, other) and max(string, other) <= high:
                    links[place] = "━"
                    signs[place] = signs[place + 1] = "━"
    for place, string in enumerate(order):
        if diagram.shape.frets[string] == fret:
            signs[place] = str(diagram.shape.fingers[string])
    return signs[0] + "".join(link + sign for link, sign in zip(links, signs[1:], strict=True))


def side_by_side(diagrams: Sequence[Diagram], width: int = 80) -> list[str]:
    """Return diagrams as lines of text, side by side in rows of at most `width` characters."""
    lines: list[str] = []
    row: list[list[str]] = []
    for block in map(text_lines, diagrams):
        if row and sum(len(each[0]) + len(_GAP) for each in row) + len(block[0]) > width:
            lines += [*_joined(row), ""]
            row = []
        row.append(block)
    return lines + _joined(row)


def _joined(row: list[list[str]]) -> list[str]:
    height = max(map(len, row), default=0)
    filled = [block + [" " * len(block[0])] * (height - len(block)) for block in row]
    return [_GAP.join(parts).rstrip() for parts in zip(*filled, strict=True)]


_STRING_PX, _FRET_PX, _DOT_PX = 26, 30, 10
_LEFT_PX, _TOP_PX, _LINE_PX = 44, 62, 17
_FONT = 'font-family="sans-serif"'


def svg(diagram: Diagram) -> str:
    """Return a diagram as the text of an SVG file."""
    order, rows = diagram.order, diagram.rows
    across = _STRING_PX * (len(order) - 1)
    down = _FRET_PX * len(rows)
    place = {string: _LEFT_PX + _STRING_PX * index for index, string in enumerate(order)}
    middle = _LEFT_PX + across / 2
    longest = max(map(len, (diagram.title, *diagram.remarks)))
    side = max(0.0, 4.5 * longest - middle)
    width = max(_LEFT_PX + across + 24.0, middle + 4.5 * longest)
    height = _TOP_PX + down + _LINE_PX * len(diagram.remarks) + 16
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{-side:g} 0 {width + side:g} {height}" '
        f'width="{width + side:g}" height="{height}" role="img">',
        f"<title>{escape(diagram.title)} {diagram.shape}</title>",
        f'<rect x="{-side:g}" width="{width + side:g}" height="{height}" fill="white"/>',
        _text(middle, 24, 20, diagram.title, 'font-weight="bold"'),
    ]
    for index in range(len(rows) + 1):
        y = float(_TOP_PX + _FRET_PX * index)
        stroke = 5 if index == 0 and diagram.first_row == 1 else 1
        parts.append(_line(_LEFT_PX, y, _LEFT_PX + across, y, stroke))
    for string, x in place.items():
        parts.append(_line(x, _TOP_PX, x, _TOP_PX + down, 1))
        mark = {None: "x", 0: "o"}.get(diagram.shape.frets[string])
        if mark:
            parts.append(_text(x, _TOP_PX - 10, 15, mark))
    for fret in rows:
        y = _row_px(diagram, fret)
        if fret == diagram.shape.position or fret == diagram.first_row:
            parts.append(_text(_LEFT_PX - 26, y + 5, 14, str(fret)))
    for finger, fret, low, high in diagram.bars():
        y = _row_px(diagram, fret)
        if low != high:
            parts.append(
                f'<line x1="{place[low]}" y1="{y:g}" x2="{place[high]}" y2="{y:g}" '
                f'stroke="black" stroke-width="{2 * _DOT_PX}" stroke-linecap="round"/>'
            )
        for string, each in enumerate(diagram.shape.fingers):
            if each == finger:
                parts.append(f'<circle cx="{place[string]}" cy="{y:g}" r="{_DOT_PX}"/>')
                parts.append(_text(place[string], y + 5, 14, str(finger), 'fill="white"'))
    for index, remark in enumerate(diagram.remarks, start=1):
        parts.append(_text(middle, _TOP_PX + down + _LINE_PX * index + 4, 13, remark))
    return "\n".join([*parts, "</svg>", ""])


def _row_px(diagram: Diagram, fret: int) -> float:
    return _TOP_PX + _FRET_PX * (fret - diagram.first_row + 0.5)


def _line(x1: float, y1: float, x2: float, y2: float, width: int) -> str:
    return (
        f'<line x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}" '
        f'stroke="black" stroke-width="{width}"/>'
    )


def _text(x: float, y: float, size: int, text: str, more: str = "") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size}" {_FONT} text-anchor="middle"'
        f"{' ' + more if more else ''}>{escape(text)}</text>"
    )
