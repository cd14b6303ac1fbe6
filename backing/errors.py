"""Errors that a user can correct: one root class and a few children.

The command line catches `BackingError`, prints its message and exits with code 2. Any other
exception is a bug and shows its traceback.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self


class BackingError(Exception):
    """An error that a user can correct: its message says where, what was found and what to do."""


class SymbolError(BackingError):
    """A chord, a key, a meter or a tempo that cannot be read.

    Attributes:
        column: offset in the symbol at which reading failed, in characters from 0.
        found: what was found, as a clause ("'Emaj77' is not a chord").
        allowed: what is allowed, and what to do.

    """

    def __init__(self, found: str, allowed: str, column: int = 0) -> None:
        super().__init__(f"{found}: {allowed}")
        self.found = found
        self.allowed = allowed
        self.column = column

    def __reduce__(self) -> tuple[type[SymbolError], tuple[str, str, int]]:
        """Return how to rebuild the error, for pickle."""
        return type(self), (self.found, self.allowed, self.column)


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One fault of a text file.

    Attributes:
        line: line number from 1; 0 for the whole file.
        column: column in characters from 1; 0 for the whole line.
        found: what was found.
        allowed: what is allowed, and what to do.
        text: the line, shortened if it is very long.
        caret: offset of the caret in `text`, in characters from 0.

    """

    line: int
    column: int
    found: str
    allowed: str
    text: str = ""
    caret: int = 0

    def sentence(self, source: str) -> str:
        """Return `source:line:column: found: allowed`."""
        place = "".join(f":{number}" for number in (self.line, self.column) if number)
        return f"{source}{place}: {self.found}: {self.allowed}"


class FileError(BackingError):
    """All faults of one text file.

    Attributes:
        source: the file's name as given by the user.
        faults: the faults in the order of the text, at least one.

    """

    def __init__(self, source: str, faults: tuple[Diagnostic, ...]) -> None:
        super().__init__("\n".join(fault.sentence(source) for fault in faults))
        self.source = source
        self.faults = faults

    @classmethod
    def of(cls, source: str, found: str, allowed: str, line: int = 0, column: int = 0) -> Self:
        """Return the error with one fault, of the whole file or at a place."""
        return cls(source, (Diagnostic(line, column, found, allowed),))

    def __reduce__(self) -> tuple[type[FileError], tuple[str, tuple[Diagnostic, ...]]]:
        """Return how to rebuild the error, for pickle."""
        return type(self), (self.source, self.faults)


class ChartError(FileError):
    """A chart that cannot be read."""


class ScoreError(FileError):
    """A tune in ABC, MusicXML or MIDI, or a melody, that cannot be read."""


class StyleError(FileError):
    """A style file that cannot be read."""


class InstrumentError(FileError):
    """An instrument file that cannot be read."""


def reason_of(error: Exception) -> str:
    """Return the message of a system or library error, never empty."""
    message = getattr(error, "strerror", None) or str(error)
    if message:
        return str(message)
    return "it ends too early" if isinstance(error, EOFError) else type(error).__name__


class ShapeError(BackingError):
    """A chord that has no fingering on an instrument with the given settings."""


class SettingsError(BackingError):
    """A setting that does not fit: an unknown style, a key of another mode, no choruses."""


class OutputError(BackingError):
    """A file that cannot be written, or that already exists."""
