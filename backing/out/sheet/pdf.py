"""Write pages as a PDF file, through fpdf2: vectors, font subsets, bookmarks, links."""

from __future__ import annotations

import logging
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from fpdf import FPDF

from backing.out.sheet.faces import FACES, FONTS
from backing.out.sheet.marks import Box, Disc, Line, Link, Text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.out.sheet.marks import Mark, Page

logging.getLogger("fpdf").setLevel(logging.ERROR)  # `compose.remarks_on` reports missing characters

_LONG_AGO = datetime(2000, 1, 1, tzinfo=UTC)
"""The creation date of every file, so that the same chart gives the same bytes."""


def pdf_bytes(pages: Sequence[Page], title: str, author: str = "") -> bytes:
    """Return pages as a PDF file.

    Args:
        pages: the pages, at least one.
        title: the title of the document.
        author: its author, or "".
    """
    pdf = FPDF(unit="pt", format=(pages[0].width, pages[0].height))
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    pdf.set_creation_date(_LONG_AGO)
    pdf.set_title(title)
    pdf.set_lang("en")
    if author:
        pdf.set_author(author)
    for face, file in FACES.items():
        pdf.add_font(face, fname=FONTS / file)
    for page in pages:
        pdf.add_page(format=(page.width, page.height))
        if page.name:
            pdf.start_section(page.name)
        for mark in page.marks:
            _paint(pdf, mark)
    return bytes(pdf.output())


def _paint(pdf: FPDF, mark: Mark) -> None:
    match mark:
        case Text():
            _text(pdf, mark)
        case Line():
            pdf.set_draw_color(round(255 * mark.shade))
            pdf.set_line_width(mark.width)
            pdf.line(mark.x1, mark.y1, mark.x2, mark.y2)
        case Disc():
            pdf.set_draw_color(0)
            pdf.set_fill_color(0)
            pdf.set_line_width(mark.line)
            pdf.circle(mark.x, mark.y, mark.radius, style="D" if mark.line else "F")
        case Box():
            _box(pdf, mark)
        case Link():
            link = pdf.add_link(page=mark.page)
            pdf.link(mark.x, mark.y, mark.width, mark.height, link)


def _text(pdf: FPDF, mark: Text) -> None:
    pdf.set_text_color(round(255 * mark.shade))
    x = mark.x
    for run in mark.runs:
        pdf.set_font(run.face, size=run.size)
        pdf.text(x, mark.y, run.text)
        x += run.width


def _box(pdf: FPDF, mark: Box) -> None:
    style = ("D" if mark.line else "") + ("F" if mark.fill is not None else "")
    pdf.set_draw_color(0)
    pdf.set_line_width(mark.line)
    if mark.fill is not None:
        pdf.set_fill_color(round(255 * mark.fill))
    pdf.rect(
        mark.x,
        mark.y,
        mark.width,
        mark.height,
        style,
        round_corners=mark.radius > 0,
        corner_radius=mark.radius,
    )
