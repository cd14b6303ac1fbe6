"""Directions to the band: words in double quotes, and which of them contradict each other."""

from __future__ import annotations

from backing.chart.diagnostics import quoted
from backing.chart.model import DIRECTIONS
from backing.errors import SymbolError
from backing.nearest import did_you_mean, nearest

EXCLUSIVE = (("stop", "hold", "break"), ("push", "break"))
"""Groups of directions; a chord takes at most one of each."""


def read_direction(text: str) -> str:
    """Return the direction in a quoted text.

    Args:
        text: the text with its quotes; the second may be missing.

    Raises:
        SymbolError: if the quote is not closed or holds no direction.

    """
    name = text[1:-1].strip().lower()
    if len(text) == 1 or text[-1] != '"':
        raise SymbolError(
            f"the quote {quoted(text)} is not closed",
            'write a direction in straight double quotes, such as "stop"',
        )
    if name in DIRECTIONS:
        return name
    words = name.replace(",", " ").split()[: len(DIRECTIONS)]
    if len(words) > 1 and all(word in DIRECTIONS for word in words):
        separate = " ".join(f'"{word}"' for word in words)
        raise SymbolError(
            f"{quoted(text[1:-1])} is more than one direction",
            f"write each in its own quotes: {separate}",
        )
    raise SymbolError(
        f"{quoted(text[1:-1])} is not a direction",
        f"choose one from {', '.join(DIRECTIONS)}" + did_you_mean(nearest(name, DIRECTIONS)),
    )


def add_direction(directions: list[tuple[str, int]], word: str, chord: int) -> None:
    """Add a direction to those of a bar.

    Args:
        directions: each with the number of its chord from 1; 0 means the whole bar.
        word: the direction to add.
        chord: the number of its chord.

    Raises:
        SymbolError: if it repeats or contradicts a direction of the bar or the chord.

    """
    present = [other for other, place in directions if place in (0, chord)]
    if word in present:
        raise SymbolError(
            f'"{word}" is there twice',
            "delete one of the two",
        )
    for group in EXCLUSIVE:
        against = next((other for other in present if {word, other} <= {*group}), "")
        if against:
            raise SymbolError(
                f'"{against}" and "{word}" contradict each other',
                f"choose one of {', '.join(group[:-1])} and {group[-1]} for each chord",
            )
    directions.append((word, chord))
