"""The fonts of a sheet and the measures of their glyphs.

The fonts are subsets of DejaVu; their licence is in `backing/out/fonts`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

FONTS = Path(__file__).parent.parent / "fonts"

PLAIN, BOLD, TITLE = "plain", "bold", "title"
FACES = {
    PLAIN: "DejaVuSansCondensed.ttf",
    BOLD: "DejaVuSansCondensed-Bold.ttf",
    TITLE: "DejaVuSerifCondensed-Bold.ttf",
}
"""The file of each face in `FONTS`."""


@dataclass(frozen=True, slots=True)
class _Sign:
    """The advance of a glyph and its extent above and below the base line, in font sizes."""

    advance: float
    above: float
    below: float


@cache
def _signs(face: str) -> tuple[dict[int, _Sign], _Sign]:
    """Return the glyphs of a face by code point, and the one for a missing character."""
    from fontTools.ttLib import TTFont

    with TTFont(FONTS / FACES[face]) as font:
        units, widths, outlines = font["head"].unitsPerEm, font["hmtx"], font["glyf"]

        def sign(name: str) -> _Sign:
            outline = outlines[name]
            empty = not outline.numberOfContours
            above, below = (0, 0) if empty else (outline.yMax, -outline.yMin)
            return _Sign(widths[name][0] / units, above / units, below / units)

        return {code: sign(name) for code, name in font.getBestCmap().items()}, sign(".notdef")


def width_of(text: str, face: str, size: float) -> float:
    """Return the width of a text in points."""
    signs, missing = _signs(face)
    return size * sum(signs.get(ord(sign), missing).advance for sign in text)


def reach_of(text: str, face: str, size: float) -> tuple[float, float]:
    """Return the extent of a text above and below its base line, in points."""
    signs, missing = _signs(face)
    found = [signs.get(ord(sign), missing) for sign in text]
    above = max((sign.above for sign in found), default=0.0)
    below = max((sign.below for sign in found), default=0.0)
    return size * above, size * below


def missing_signs(text: str) -> str:
    """Return the characters of a text that the faces do not have, each once."""
    signs, _ = _signs(PLAIN)
    return "".join(dict.fromkeys(sign for sign in text if ord(sign) not in signs))
