"""Lay out a songbook: contents, sheets, and an index by key."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.out.sheet.faces import BOLD, PLAIN, TITLE, width_of
from backing.out.sheet.letters import key_text
from backing.out.sheet.marks import GREY, PALE, Block, Line, Link, Page, fitted, word
from backing.out.sheet.pages import pages_of, stacked_pages

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from backing.out.sheet.marks import Mark
    from backing.out.sheet.style import Sheet, SheetStyle

CONTENTS, INDEX = "Contents", "By key"

_Entry = tuple["Sheet", int]
"""A sheet and the number of its first page, from 1."""


def songbook(
    sheets: Sequence[Sheet], style: SheetStyle, made: Callable[[], None] = lambda: None
) -> list[Page]:
    """Return the pages of a songbook, numbered from 1.

    Args:
        sheets: the sheets in order, at least one.
        style: the style of the sheet.
        made: called after each sheet.
    """
    lists = [_contents([(sheet, 0) for sheet in sheets], style)]
    front = len(stacked_pages(lists[0], style, CONTENTS, 1))
    entries: list[_Entry] = []
    pages: list[Page] = []
    for sheet in sheets:
        number = front + len(pages) + 1
        entries.append((sheet, number))
        pages += pages_of(sheet, style, number)
        made()
    contents = stacked_pages(_contents(entries, style), style, CONTENTS, 1)
    index = stacked_pages(_index(entries, style), style, INDEX, front + len(pages) + 1)
    return [*contents, *pages, *index]


def _contents(entries: Sequence[_Entry], style: SheetStyle) -> list[Block]:
    rows = [_entry(sheet, page, style, key=True) for sheet, page in entries]
    return [_title(CONTENTS, style), *rows]


def _index(entries: Sequence[_Entry], style: SheetStyle) -> list[Block]:
    """Return the tunes by key, on the line of fifths from flats to sharps."""
    keys = sorted(
        {sheet.chart.key for sheet, _ in entries}, key=lambda key: (key.signature, key.mode)
    )
    blocks = [_title(INDEX, style)]
    for key in keys:
        size = 1.15 * style.text_size
        name = word(0, size, key_text(key), size, BOLD)
        blocks.append(Block(1.5 * size, (name,), 0, together=True))
        rows = [_entry(*each, style, key=False) for each in entries if each[0].chart.key == key]
        last = rows.pop()
        blocks += [*rows, Block(last.height, last.marks, 0.8 * size)]
    return blocks


def _title(text: str, style: SheetStyle) -> Block:
    size = 30.0 if style.large else 25.0
    rule = Line(0, 1.2 * size, style.width, 1.2 * size, 1.6)
    return Block(1.25 * size, (word(0, 0.8 * size, text, size, TITLE), rule), 0.5 * size)


def _entry(sheet: Sheet, page: int, style: SheetStyle, *, key: bool) -> Block:
    """Return a line that links to a sheet: its title, key and groove, and page."""
    size = 1.1 * style.text_size
    number = str(page)
    right = style.width - 2.4 * size
    details = f"{key_text(sheet.chart.key)}, {sheet.style}" if key else sheet.style
    middle = right - 15 * size
    name, lines = fitted(
        " ".join(sheet.chart.title.split()), PLAIN, size, middle - 1.5 * size, 0.7 * size
    )
    marks: list[Mark] = []
    y = 0.0
    for line in lines:
        marks.append(word(0, y + 1.05 * size, line, name, PLAIN))
        y += 1.35 * name
    base = y - 1.35 * name + 1.05 * size
    end = width_of(lines[-1], PLAIN, name) + 0.6 * size
    marks.append(Line(end, base, middle - 0.6 * size, base, 0.4, PALE))
    small, _ = fitted(details, PLAIN, 0.9 * size, 14.5 * size, 0.4 * size)
    marks.append(word(middle, base, details, small, PLAIN, GREY))
    marks.append(word(style.width - width_of(number, BOLD, size), base, number, size, BOLD))
    height = max(base + 0.4 * size, 1.5 * size)
    return Block(height, (*marks, Link(0, 0, style.width, height, page)))
