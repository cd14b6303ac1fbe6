"""Rows of the table that our players are known to miss, with the measured figures.

The bands are in `reference.md`; the figures are those of the whole table over four seeds. A line
goes when the players are mended; the tests fail when a line is there without need.
"""

from __future__ import annotations

MISSES: dict[str, dict[str, str]] = {}


def missed_by(style: str) -> set[str]:
    """Return the names of the rows that a style is known to miss."""
    return {row for row, styles in MISSES.items() if style in styles}
