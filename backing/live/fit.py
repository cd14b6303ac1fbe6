"""Text that fits a width on a terminal, in cells: a character takes none, one or two."""

from __future__ import annotations

import textwrap
import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

_GAP = "   "
_MORE = "…"


def cells(text: str) -> int:
    """Return the width of a text (Unicode Standard Annex 11: wide and full-width are two)."""
    return sum(map(_cells_of, text))


def _cells_of(sign: str) -> int:
    if unicodedata.combining(sign):
        return 0
    return 2 if unicodedata.east_asian_width(sign) in "WF" else 1


def cut(text: str, width: int) -> str:
    """Return the text, cut with an ellipsis when it is too long."""
    if cells(text) <= width:
        return text
    kept, wide = "", 0
    for sign in text:
        wide += _cells_of(sign)
        if wide > width - 1:
            break
        kept += sign
    return (kept + _MORE)[: max(width, 0)]


def packed(entries: Iterable[str], width: int) -> list[str]:
    """Return the entries in as few lines as possible; cut those that are too long."""
    lines: list[str] = []
    for entry in entries:
        if lines and cells(lines[-1]) + len(_GAP) + cells(entry) <= width:
            lines[-1] += _GAP + entry
        else:
            lines.append(cut(entry, width))
    return lines


def wrapped(text: str, width: int, most: int) -> list[str]:
    """Return a text in at most `most` lines, broken between words."""
    lines = [cut(line, width) for line in textwrap.wrap(text, width)]
    return (
        lines if len(lines) <= most else [*lines[: most - 1], cut(lines[most - 1] + _MORE, width)]
    )
