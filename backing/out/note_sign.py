"""Draw the note that a tempo counts as SVG: common fonts have no sign of a half note.

Conventions: the note head is tilted, and the stem goes up on its right (common practice, no
source). The drawing has the height and colour of the surrounding text and its name as a label.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from backing.timing import note_words

if TYPE_CHECKING:
    from backing.timing import Tempo

_WIDTH, _HEIGHT = 10, 20
_DOT, _FLAG = 5, 4
"""Extra width of a dot and of a flag."""

_STEM = '<path d="M8.7 15.6V1" fill="none" stroke="currentColor" stroke-width="1.3"/>'
_FULL = '<ellipse cx="5" cy="16.4" rx="4.5" ry="3.2" transform="rotate(-22 5 16.4)"/>'
_EMPTY = (
    '<ellipse cx="5" cy="16.4" rx="3.9" ry="2.5" transform="rotate(-22 5 16.4)" fill="none" '
    'stroke="currentColor" stroke-width="1.5"/>'
)
_FLAGGED = '<path d="M8.7 1c.4 3.4 4.6 4.2 3.2 9.4c0-3-2-4-3.2-4.4z"/>'


def note_svg(unit: str) -> str:
    """Return the note of a tempo unit as an SVG element for a line of HTML."""
    name = note_words(unit)
    has_flag, has_dot = "eighth" in unit, unit.startswith("dotted-")
    width = _WIDTH + _FLAG * has_flag + _DOT * has_dot
    dot = f'<circle cx="{width - 2}" cy="16" r="1.5"/>' if has_dot else ""
    head = _EMPTY if "half" in unit else _FULL
    return (
        f'<svg class="note-sign" role="img" aria-label="{name}" viewBox="0 0 {width} {_HEIGHT}" '
        f'width="{1.2 * width / _HEIGHT:g}em" height="1.2em" fill="currentColor">'
        f"{head}{_STEM}{_FLAGGED if has_flag else ''}{dot}</svg>"
    )


def tempo_html(tempo: Tempo) -> str:
    """Return a tempo as HTML with a drawn note."""
    return f"{note_svg(tempo.unit)} = {escape(tempo.figure)}"
