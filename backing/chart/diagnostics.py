"""Collects the faults of one text while it is read.

Conventions: lines and columns count from 1, columns in characters (a tab is one). Control
characters and others that cannot be printed are shown as `�`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from backing.errors import ChartError, Diagnostic

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from backing.errors import SymbolError

MOST_SHOWN = 50
"""The most faults reported for one text."""

MOST_COUNTED = 500
"""The number of faults at which reading stops."""

WIDEST = 120
"""The longest piece of a line shown with a fault, in characters."""

_LONGEST_QUOTE = 40

Place: TypeAlias = tuple[int, int]
"""A line and a column from 1; 0 for the whole text, or the whole line."""

Advice: TypeAlias = "str | Callable[[], str]"
"""What is allowed; a function that returns it if finding the words takes time."""


class TooManyFaultsError(Exception):
    """Stops the reading of a text with too many faults; never leaves this package."""


class Diagnostics:
    """Collects faults in any order and reports them in the order of the text."""

    def __init__(self, source: str, lines: Sequence[str] = ()) -> None:
        self._source = source
        self._lines = lines
        self._found: list[tuple[Place, str, Advice]] = []
        self._silent: set[int] = set()

    def __bool__(self) -> bool:
        return bool(self._found)

    def add(self, place: Place, found: str, allowed: Advice) -> None:
        """Add a fault at a place.

        Raises:
            TooManyFaultsError: at fault number `MOST_COUNTED`.

        """
        if place[0] in self._silent:
            return
        self._found.append((place, found, allowed))
        if len(self._found) == MOST_COUNTED:
            raise TooManyFaultsError

    def add_symbol(self, place: Place, error: SymbolError) -> None:
        """Add the error of a symbol that begins at a place."""
        line, column = place
        self.add((line, column + error.column), error.found, error.allowed)

    def silence(self, line: int) -> None:
        """Ignore further faults of a line that is not text."""
        self._silent.add(line)

    def error(self) -> ChartError:
        """Return the error with the first `MOST_SHOWN` faults and the number of others."""
        ordered = sorted(self._found, key=lambda each: each[0])
        faults = [self._fault(*each) for each in ordered[:MOST_SHOWN]]
        if more := len(ordered) - MOST_SHOWN:
            faults += [self._rest(more)] if more > 0 else []
        return ChartError(self._source, tuple(faults))

    def _rest(self, more: int) -> Diagnostic:
        number = f"at least {more}" if len(self._found) == MOST_COUNTED else f"{more}"
        return Diagnostic(
            0,
            0,
            f"{number} more fault{'s' if more > 1 else ''}, not shown",
            f"correct the {MOST_SHOWN} above, then try again",
        )

    def _fault(self, place: Place, found: str, allowed: Advice) -> Diagnostic:
        line, column = place
        advice = allowed if isinstance(allowed, str) else allowed()
        text = self._lines[line - 1] if 0 < line <= len(self._lines) else ""
        return Diagnostic(line, column, shown(found), shown(advice), *_window(text, column))


def _window(line: str, column: int) -> tuple[str, int]:
    """Return the line, or a piece of a long line around the column, and the caret's offset."""
    caret = max(column - 1, 0)
    if len(line) <= WIDEST:
        return shown(line), caret
    start = min(max(caret - WIDEST // 2, 0), max(len(line) - WIDEST, 0))
    piece = shown(line[start : start + WIDEST])
    piece = f"…{piece[1:]}" if start else piece
    piece = f"{piece[:-1]}…" if start + WIDEST < len(line) else piece
    return piece, caret - start


def shown(text: str) -> str:
    """Return the text with every character that cannot be printed replaced by one that can."""
    return "".join(sign if sign.isprintable() else " " if sign == "\t" else "�" for sign in text)


def quoted(text: str) -> str:
    """Return the text in single quotes, shortened to 40 characters."""
    short = text if len(text) <= _LONGEST_QUOTE else f"{text[: _LONGEST_QUOTE - 1]}…"
    return f"'{short}'"
