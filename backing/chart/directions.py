"""Directions to the band: the words in quotes, and which of them contradict each other."""

from __future__ import annotations

from backing.chart.diagnostics import quoted
from backing.chart.model import DIRECTIONS
from backing.errors import SymbolError
from backing.nearest import did_you_mean, nearest

APART = (("stop", "hold", "break"), ("push", "break"))
"""Groups of directions of which a chord takes one."""


def read_direction(text: str) -> str:
    """Return the direction that stands between two quotes.

    Args:
        text: the quotes and what is between them; the second may be missing.

    Raises:
        SymbolError: when it is none, or is not closed.

    """
    name = text[1:-1].strip().lower()
    if len(text) == 1 or text[-1] != '"':
        raise SymbolError(
            f"the quote {quoted(text)} is not closed",
            'write a direction between two straight double quotes, such as "stop"',
        )
    if name in DIRECTIONS:
        return name
    words = name.replace(",", " ").split()[: len(DIRECTIONS)]
    if len(words) > 1 and all(word in DIRECTIONS for word in words):
        apart = " ".join(f'"{word}"' for word in words)
        raise SymbolError(
            f"{quoted(text[1:-1])} is more than one direction",
            f"write each between its own quotes: {apart}",
        )
    raise SymbolError(
        f"{quoted(text[1:-1])} is not a direction",
        f"choose one from {', '.join(DIRECTIONS)}" + did_you_mean(nearest(name, DIRECTIONS)),
    )


def add_direction(directions: list[tuple[str, int]], word: str, chord: int) -> None:
    """Add a direction to those of a bar.

    Args:
        directions: each with the number of its chord from 1; 0 is the whole bar.
        word: the direction.
        chord: the number of its chord.

    Raises:
        SymbolError: when it stands there already, or contradicts one that does.

    """
    there = [other for other, place in directions if place in (0, chord)]
    if word in there:
        raise SymbolError(
            f'"{word}" stands a second time',
            "a direction is given once for a bar or a chord: delete one of the two",
        )
    for group in APART:
        against = next((other for other in there if {word, other} <= {*group}), "")
        if against:
            raise SymbolError(
                f'"{against}" and "{word}" contradict each other',
                f"choose one of {', '.join(group[:-1])} and {group[-1]} for a chord",
            )
    directions.append((word, chord))
