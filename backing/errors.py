"""What can go wrong for a user: one root error and a few children that name situations.

The command line catches `BackingError`, prints its sentence and exits 2. Anything else that is
raised is our own bug and shows its traceback.
"""

from __future__ import annotations

from dataclasses import dataclass


class BackingError(Exception):
    """Something a user can mend: the text says where, what was found, and what to do."""


class SymbolError(BackingError):
    """A chord, a key, a meter or a tempo that cannot be read.

    Attributes:
        column: offset into the symbol at which reading failed, in characters from 0.
        found: what was found, as a clause ("'Emaj77' is not a chord").
        allowed: what would have been right, and what to do.

    """

    def __init__(self, found: str, allowed: str, column: int = 0) -> None:
        super().__init__(f"{found}: {allowed}")
        self.found = found
        self.allowed = allowed
        self.column = column

    def __reduce__(self) -> tuple[type[SymbolError], tuple[str, str, int]]:
        """Say how to make the error again in another process."""
        return type(self), (self.found, self.allowed, self.column)


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One fault of a text file.

    Attributes:
        line: line number from 1; 0 when the fault is of the file as a whole.
        column: column in characters from 1; 0 when the fault is of the line as a whole.
        found: what was found.
        allowed: what is allowed, and what to do.
        text: the line in question, shortened when it is very long.
        caret: where in `text` the caret goes, in characters from 0.

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
    """All the faults of one text file at once.

    Attributes:
        source: the file's name as the user gave it.
        faults: the faults in the order of their places, at least one.

    """

    def __init__(self, source: str, faults: tuple[Diagnostic, ...]) -> None:
        super().__init__("\n".join(fault.sentence(source) for fault in faults))
        self.source = source
        self.faults = faults

    def __reduce__(self) -> tuple[type[FileError], tuple[str, tuple[Diagnostic, ...]]]:
        """Say how to make the error again in another process."""
        return type(self), (self.source, self.faults)


class ChartError(FileError):
    """A chart that cannot be read."""


class ScoreError(FileError):
    """A tune in other people's notation, or a melody, that cannot be read."""


class StyleError(FileError):
    """A style file that cannot be read."""


class InstrumentError(FileError):
    """An instrument's file that cannot be read."""


def reason_of(error: Exception) -> str:
    """Return what an error of the system or of a library says, in words even if it says nothing."""
    said = getattr(error, "strerror", None) or str(error)
    if said:
        return str(said)
    return "it breaks off in the middle" if isinstance(error, EOFError) else type(error).__name__


class ShapeError(BackingError):
    """A chord that a hand cannot hold on an instrument as it is wished."""


class SettingsError(BackingError):
    """A wish that does not fit the chart: an unknown style, a key of another mode, no choruses."""


class OutputError(BackingError):
    """A file that cannot be written, or that is there already."""
