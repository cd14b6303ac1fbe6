"""The fonts of a sheet and the widths of their glyphs.

The fonts are subsets of DejaVu; their licence is in `backing/out/fonts`.
"""

from __future__ import annotations

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


@cache
def _widths(face: str) -> tuple[dict[int, float], float]:
    """Return the widths of glyphs in font sizes by code point, and that for a missing character."""
    from fontTools.ttLib import TTFont

    with TTFont(FONTS / FACES[face]) as font:
        units, widths = font["head"].unitsPerEm, font["hmtx"]
        known = {code: widths[name][0] / units for code, name in font.getBestCmap().items()}
        return known, widths[".notdef"][0] / units


def width_of(text: str, face: str, size: float) -> float:
    """Return the width of a text in points."""
    widths, missing = _widths(face)
    return size * sum(widths.get(ord(sign), missing) for sign in text)


def missing_signs(text: str) -> str:
    """Return the characters of a text that the faces do not have, each once."""
    known, _ = _widths(PLAIN)
    return "".join(dict.fromkeys(sign for sign in text if ord(sign) not in known))
