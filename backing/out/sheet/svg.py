"""Write pages as an SVG file, one below the other, with embedded subsets of the fonts.

Texts stay text, so that they can be searched. Each has its measured width, so that nothing is cut
in a program that ignores embedded fonts.
"""

from __future__ import annotations

import base64
import io
from html import escape
from typing import TYPE_CHECKING

from fontTools import subset
from fontTools.ttLib import TTFont

from backing.out.sheet.faces import FACES, FONTS, PLAIN
from backing.out.sheet.marks import Box, Disc, Line, Text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.out.sheet.marks import Mark, Page

_FALLBACK = "DejaVu Sans Condensed, Arial Narrow, sans-serif"
_SPACE = 12.0
"""Space between two pages, in points."""


def svg_bytes(pages: Sequence[Page], title: str) -> bytes:
    """Return pages as an SVG file.

    Args:
        pages: the pages, at least one.
        title: the title of the document.
    """
    width = max(page.width for page in pages)
    height = sum(page.height + _SPACE for page in pages) - _SPACE
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}pt" height="{height:g}pt" xml:space="preserve">',
        f"<title>{escape(_allowed(title))}</title>",
        f"<style>{_faces(pages)}</style>",
    ]
    y = 0.0
    for page in pages:
        lines.append(f'<g transform="translate(0 {y:g})">')
        lines.append(f'<rect width="{page.width:g}" height="{page.height:g}" fill="white"/>')
        lines += [line for mark in page.marks for line in _painted(mark)]
        lines.append("</g>")
        y += page.height + _SPACE
    return "\n".join([*lines, "</svg>", ""]).encode()


def _allowed(text: str) -> str:
    """Return a text without the characters that XML does not allow."""
    return "".join(sign for sign in text if sign.isprintable())


def _faces(pages: Sequence[Page]) -> str:
    """Return the style rules of the faces, with a subset of each font."""
    used: dict[str, set[str]] = {}
    for page in pages:
        for mark in page.marks:
            for run in mark.runs if isinstance(mark, Text) else ():
                used.setdefault(run.face, set()).update(run.text)
    return "".join(_rule(face, signs) for face, signs in sorted(used.items()))


def _rule(face: str, signs: set[str]) -> str:
    weight = "normal" if face == PLAIN else "bold"
    source = f"url(data:font/ttf;base64,{_font(face, signs)})"
    return f"@font-face{{font-family:sheet-{face};font-weight:{weight};src:{source}}}"


def _font(face: str, signs: set[str]) -> str:
    options = subset.Options(layout_features=[], notdef_outline=True)
    with TTFont(FONTS / FACES[face]) as font:
        cutter = subset.Subsetter(options)
        cutter.populate(unicodes=map(ord, signs))
        cutter.subset(font)
        file = io.BytesIO()
        font.save(file)
    return base64.b64encode(file.getvalue()).decode()


def _painted(mark: Mark) -> Iterator[str]:
    match mark:
        case Text():
            x = mark.x
            spans = []
            for run in mark.runs:
                bold = "" if run.face == PLAIN else ' font-weight="bold"'
                spans.append(
                    f'<tspan x="{x:.2f}" font-size="{run.size:.2f}" textLength="{run.width:.2f}" '
                    f'font-family="sheet-{run.face}, {_FALLBACK}"{bold}>'
                    f"{escape(_allowed(run.text))}</tspan>"
                )
                x += run.width
            yield f'<text y="{mark.y:.2f}" fill="{_grey(mark.shade)}">{"".join(spans)}</text>'
        case Line():
            yield (
                f'<line x1="{mark.x1:.2f}" y1="{mark.y1:.2f}" x2="{mark.x2:.2f}" '
                f'y2="{mark.y2:.2f}" stroke="{_grey(mark.shade)}" stroke-width="{mark.width:.2f}"/>'
            )
        case Disc():
            paint = (
                f'fill="none" stroke="black" stroke-width="{mark.line:.2f}"' if mark.line else ""
            )
            yield f'<circle cx="{mark.x:.2f}" cy="{mark.y:.2f}" r="{mark.radius:.2f}" {paint}/>'
        case Box() if mark.line or mark.fill is not None:
            fill = "none" if mark.fill is None else _grey(mark.fill)
            stroke = f'stroke="black" stroke-width="{mark.line:.2f}"' if mark.line else ""
            yield (
                f'<rect x="{mark.x:.2f}" y="{mark.y:.2f}" width="{mark.width:.2f}" '
                f'height="{mark.height:.2f}" rx="{mark.radius:.2f}" fill="{fill}" {stroke}/>'
            )
        case _:
            return


def _grey(shade: float) -> str:
    return f"#{round(255 * shade):02x}" + f"{round(255 * shade):02x}" * 2
