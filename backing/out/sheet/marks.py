"""Marks on a page: texts, lines, discs, boxes and links, independent of the file format.

Conventions: lengths are points of 1/72 inch; the origin is the upper left corner and y grows
downwards; the position of a text is the left end of its base line. Shade 0 is black, 1 is white.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self, TypeAlias

from backing.out.sheet.faces import PLAIN, width_of

BLACK, GREY, PALE, WHITE = 0.0, 0.35, 0.7, 1.0


@dataclass(frozen=True, slots=True)
class Run:
    """A text in one face and size.

    Attributes:
        text: the text.
        face: one of `FACES`.
        size: the font size in points.
    """

    text: str
    face: str
    size: float

    @property
    def width(self) -> float:
        """The width in points."""
        return width_of(self.text, self.face, self.size)


@dataclass(frozen=True, slots=True)
class _Placed:
    """A mark at a place.

    Attributes:
        x, y: its place, in points.
    """

    x: float
    y: float

    def moved(self, dx: float, dy: float) -> Self:
        """Return a moved copy."""
        return replace(self, x=self.x + dx, y=self.y + dy)


@dataclass(frozen=True, slots=True)
class Text(_Placed):
    """A text on a base line.

    Attributes:
        x, y: the left end of the base line.
        runs: its runs, at least one.
        order: the reading order: texts are painted, and so copied and read aloud, in it.
        shade: 0 to 1.
    """

    runs: tuple[Run, ...]
    order: int = 0
    shade: float = BLACK


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line.

    Attributes:
        x1, y1, x2, y2: its ends.
        width: in points.
        shade: 0 to 1.
    """

    x1: float
    y1: float
    x2: float
    y2: float
    width: float = 0.8
    shade: float = BLACK

    def moved(self, dx: float, dy: float) -> Line:
        """Return a moved copy."""
        return replace(self, x1=self.x1 + dx, y1=self.y1 + dy, x2=self.x2 + dx, y2=self.y2 + dy)


@dataclass(frozen=True, slots=True)
class Disc(_Placed):
    """A disc, or a ring.

    Attributes:
        x, y: its centre.
        radius: in points.
        line: the width of the ring; 0 for a filled disc.
    """

    radius: float
    line: float = 0.0


@dataclass(frozen=True, slots=True)
class Box(_Placed):
    """A box, empty or filled.

    Attributes:
        x, y: its upper left corner.
        width, height: in points.
        line: the width of its outline; 0 for none.
        fill: the shade of its inside, or None.
        radius: the radius of its corners.
    """

    width: float
    height: float
    line: float = 0.8
    fill: float | None = None
    radius: float = 0.0


@dataclass(frozen=True, slots=True)
class Link(_Placed):
    """An area that links to a page.

    Attributes:
        x, y: its upper left corner.
        width, height: in points.
        page: the number of the page, from 1.
    """

    width: float
    height: float
    page: int


Mark: TypeAlias = Text | Line | Disc | Box | Link


@dataclass(frozen=True, slots=True)
class Page:
    """A page.

    Attributes:
        width, height: in points.
        marks: its marks in painting order, drawings before texts.
        name: its bookmark; "" for the following pages of a sheet.
    """

    width: float
    height: float
    marks: tuple[Mark, ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class Block:
    """Marks that stay together, measured from their upper left corner.

    Attributes:
        height: in points.
        marks: its marks.
        gap: the space below it, in points.
        stretch: the most space that may be added below it, in points.
        together: whether it stays on the page of the next block.
        begins: whether it is the first row of a part.
        width: in points; 0 where it does not matter.
    """

    height: float
    marks: tuple[Mark, ...]
    gap: float = 0.0
    stretch: float = 0.0
    together: bool = False
    begins: bool = False
    width: float = 0.0


def word(
    x: float,
    y: float,
    text: str,
    size: float,
    face: str = PLAIN,
    shade: float = BLACK,
    order: int = 0,
) -> Text:
    """Return a text of one run."""
    return Text(x, y, (Run(text, face, size),), order, shade)


def wrapped(text: str, face: str, size: float, width: float) -> list[str]:
    """Return the lines of a text, no wider than `width` points; wider words are broken anywhere."""
    lines, line = [], ""
    for each in text.split():
        joined = f"{line} {each}" if line else each
        if width_of(joined, face, size) <= width:
            line = joined
            continue
        if line:
            lines.append(line)
        line = each
        while width_of(line, face, size) > width and len(line) > 1:
            end = next(
                n
                for n in range(len(line) - 1, 0, -1)
                if n == 1 or width_of(line[:n], face, size) <= width
            )
            lines.append(line[:end])
            line = line[end:]
    return [*lines, line] if line else lines


def fitted(
    text: str, face: str, size: float, width: float, least: float
) -> tuple[float, list[str]]:
    """Return a size from `size` down to `least`, and the lines of a text: one if it fits."""
    wide = width_of(text, face, size)
    if wide > width:
        size = max(least, size * width / wide)
        if width_of(text, face, size) > width * 1.0001:
            return size, wrapped(text, face, size, width)
    return size, [text]
