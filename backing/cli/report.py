"""How the command line prints errors and remarks."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from backing.errors import FileError, SettingsError

if TYPE_CHECKING:
    from backing.errors import BackingError, Diagnostic


def print_error(error: BackingError) -> None:
    """Print an error on standard error; on a terminal with the line and a caret under it."""
    on_terminal = sys.stderr.isatty()
    if not isinstance(error, FileError):
        print(f"backing: {error}", file=sys.stderr)
        return
    for fault in error.faults:
        print(fault.sentence(error.source), file=sys.stderr)
        if on_terminal and fault.text:
            print(*pointed_out(fault), sep="\n", file=sys.stderr)


def pointed_out(fault: Diagnostic) -> list[str]:
    """Return the line with a fault, and under it a caret if its column is known."""
    shown = fault.text.replace("\t", " ")
    shown = "".join(sign if sign.isprintable() else "?" for sign in shown)
    lines = [f"    {shown}"]
    if fault.column:
        lines.append(f"    {' ' * fault.caret}^")
    return lines


def print_remark(text: str) -> None:
    """Print a remark on standard error: worth knowing, but not an error."""
    print(f"note: {text}", file=sys.stderr)


def named(source: str, error: BackingError) -> BackingError:
    """Return the error with the name of its chart in front, if it has none."""
    return SettingsError(f"{source}: {error}") if isinstance(error, SettingsError) else error
