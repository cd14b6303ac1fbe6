"""Lay out a sheet on one page if it fits, with chords as large as possible."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from backing.chart.layout import rows_of
from backing.chart.write import BARS_A_LINE
from backing.out.sheet.around import head, notes, practice, shapes
from backing.out.sheet.bars import row_block, squeeze
from backing.out.sheet.cell import SQUEEZE, Frame
from backing.out.sheet.faces import BOLD, PLAIN, width_of
from backing.out.sheet.letters import key_text
from backing.out.sheet.marks import GREY, Block, Page, Text, fitted, word
from backing.out.sheet.style import ABOVE, BELOW, MARGIN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.model import Part
    from backing.out.sheet.fretboard import Fingering
    from backing.out.sheet.marks import Mark
    from backing.out.sheet.style import Sheet, SheetStyle
    from backing.timing import Meter

_FOOT = 16.0
"""Height of the page footer, in points."""

_WIDEST_LABEL = 4.6
"""The widest name of a part, in chord sizes."""

_FOOTER = 10**9
"""Reading order of the footer, after all other texts."""


def pages_of(sheet: Sheet, style: SheetStyle, number: int | None = None) -> list[Page]:
    """Return the pages of a sheet.

    One page wins over large chords, and those over rows for each part in the practice box. If one
    page is not enough, the chords have a comfortable size.

    Args:
        sheet: the sheet.
        style: the style of the sheet.
        number: the number of the first page in a songbook, or None.
    """
    room = _room(style) - (_FOOT if number else 0.0)
    least = style.sizes[-1]
    columns = _columns(sheet, style, least)
    if _height(_body(sheet, style, least, columns) + practice(sheet, style, full=False)) > room:
        return _fewest(sheet, style, number)
    for size in style.sizes:
        if size > least and _columns(sheet, style, size) != columns:
            continue
        body = _body(sheet, style, size, columns)
        for full in (True, False):
            foot = practice(sheet, style, full=full)
            if _height([*body, *foot]) <= room:
                return [_page(sheet, style, body, foot, number)]
    raise AssertionError("the smallest size fits on one page")


def _fewest(sheet: Sheet, style: SheetStyle, number: int | None) -> list[Page]:
    """Return the fewest pages, with the largest chords that do not need more."""

    def made(size: int) -> list[Page]:
        body = _body(sheet, style, size, _columns(sheet, style, size))
        blocks = [*body, *practice(sheet, style, full=True)]
        return stacked_pages(blocks, style, sheet.chart.title, number)

    smallest = made(style.sizes[-1])
    for size in style.sizes[len(style.sizes) // 2 : -1 : 2]:
        pages = made(size)
        if len(pages) <= len(smallest):
            return pages
    return smallest


def _room(style: SheetStyle) -> float:
    return style.page[1] - 2 * MARGIN


def _height(blocks: Sequence[Block]) -> float:
    gaps = sum(block.gap for block in blocks[:-1])
    return sum(block.height for block in blocks) + gaps


def _frames(sheet: Sheet, style: SheetStyle, size: float) -> list[Frame]:
    chart = sheet.chart
    widest = max(width_of(part.name, BOLD, 0.82 * size) for part in chart.parts) + 0.8 * size
    label = min(max(widest, 1.9 * size), _WIDEST_LABEL * size)
    return [
        Frame(
            size=size,
            label=label,
            width=style.width - label,
            name=" ".join(part.name.split()),
            details=_part_details(part),
            key=part.key or chart.key,
            spell=sheet.spell,
            fingerings=sheet.fingerings if style.shapes == ABOVE else None,
            final=part is chart.parts[-1],
        )
        for part in chart.parts
    ]


def _part_details(part: Part) -> str:
    """Return the key, tempo and style that a part sets; its meter stands in the bars."""
    details = [f"in {key_text(part.key)}"] if part.key else []
    details += [part.tempo.drawn()] if part.tempo else []
    return "  ·  ".join([*details, *([part.style] if part.style else [])])


def _columns(sheet: Sheet, style: SheetStyle, size: float) -> list[int]:
    """Return the bars in a row of each part: the most at which its chords are not too small."""
    found = []
    for part, frame in zip(sheet.chart.parts, _frames(sheet, style, size), strict=True):
        for columns in BARS_A_LINE:
            rows = rows_of(part, columns)
            if min(squeeze(row, frame) for row in rows) >= SQUEEZE:
                break
        found.append(columns)
    return found


def _body(sheet: Sheet, style: SheetStyle, size: float, columns: Sequence[int]) -> list[Block]:
    """Return head, bars and shapes."""
    body = head(sheet, style)
    meter: Meter | None = None
    shown: list[Fingering | None] = [None]
    parts = zip(sheet.chart.parts, _frames(sheet, style, size), columns, strict=True)
    for order, (part, frame, count) in enumerate(parts):
        rows = rows_of(part, count, meter)
        meter = rows[-1].cells[-1].bar.meter
        blocks = [row_block(row, frame, order, shown) for row in rows]
        last = blocks[-1]
        body += [*blocks[:-1], replace(last, gap=1.5 * last.gap)]
    if style.shapes == BELOW:
        unit = min(1.25, max(0.75, size / 17))
        body += shapes(sheet, style, unit)
    return body


def _page(
    sheet: Sheet, style: SheetStyle, body: list[Block], foot: list[Block], number: int | None
) -> Page:
    """Return one page; free space goes between the rows, the rest above the practice box."""
    bottom = style.page[1] - MARGIN - (_FOOT if number else 0.0)
    left_over = bottom - MARGIN - _height([*body, *foot])
    stretch = sum(block.stretch for block in body)
    share = min(1.0, left_over / stretch) if stretch else 0.0
    body = [replace(b, gap=b.gap + share * b.stretch) for b in body]
    marks, _ = _stacked([*body, *notes(style, left_over - share * stretch)], MARGIN)
    if foot:
        marks += _stacked(foot, bottom - _height(foot))[0]
    if number:
        marks.append(_footer(sheet.chart.title, str(number), style))
    return _finished_page(style, marks, sheet.chart.title)


def stacked_pages(
    blocks: Sequence[Block], style: SheetStyle, title: str, number: int | None = None
) -> list[Page]:
    """Return blocks on as many pages as needed; a part that fits on a page is not split.

    Args:
        blocks: the blocks, from top to bottom.
        style: the style of the sheet.
        title: the title in the footer and the bookmark.
        number: the number of the first page, or None for "1 / 2".
    """
    room = _room(style) - _FOOT
    pages: list[list[Block]] = [[]]
    for index, block in enumerate(blocks):
        needed = _height(_with_next(blocks, index))
        used = _height([*pages[-1], block]) - block.height if pages[-1] else 0.0
        part = _height(_part(blocks, index)) if block.begins else 0.0
        breaks = used + needed > room or (used > 0.5 * room and room >= part > room - used)
        if pages[-1] and breaks:
            pages.append([])
        pages[-1].append(block)
    finished = []
    for index, each in enumerate(pages):
        marks, _ = _stacked(each, MARGIN)
        figure = f"{index + 1} / {len(pages)}" if number is None else str(number + index)
        marks.append(_footer(title, figure, style))
        finished.append(_finished_page(style, marks, "" if index else title))
    return finished


def _with_next(body: Sequence[Block], index: int) -> list[Block]:
    """Return a block and those that must be on the same page."""
    kept = [body[index]]
    while kept[-1].together and index + len(kept) < len(body):
        kept.append(body[index + len(kept)])
    return kept


def _part(body: Sequence[Block], index: int) -> list[Block]:
    """Return the rows of the part that starts here."""
    rows = [body[index]]
    for before, block in pairwise(body[index:]):
        if block.begins or not before.stretch or not block.stretch:
            break
        rows.append(block)
    return rows


def _stacked(blocks: Sequence[Block], y: float) -> tuple[list[Mark], float]:
    marks: list[Mark] = []
    for block in blocks:
        marks += [mark.moved(MARGIN, y) for mark in block.marks]
        y += block.height + block.gap
    return marks, y


def _footer(title: str, number: str, style: SheetStyle) -> Text:
    size = 0.85 * style.text_size
    room = style.width - width_of(number, PLAIN, size) - 4 * size
    _, lines = fitted(" ".join(title.split()), PLAIN, size, room, size)
    name = lines[0] if len(lines) == 1 else f"{lines[0]} …"
    text = f"{name}  ·  {number}"
    x = style.page[0] - MARGIN - width_of(text, PLAIN, size)
    y = style.page[1] - MARGIN - 0.3 * size
    return word(x, y, text, size, PLAIN, GREY, _FOOTER)


def _finished_page(style: SheetStyle, marks: Sequence[Mark], name: str) -> Page:
    """Return a page: drawings first, then texts in reading order."""
    texts = sorted((mark for mark in marks if isinstance(mark, Text)), key=lambda text: text.order)
    drawn = [mark for mark in marks if not isinstance(mark, Text)]
    return Page(*style.page, (*drawn, *texts), name)
