"""Reading the files that a user names.

Conventions: only regular files are read. A pipe, a device or a socket may give its bytes late,
never or without end, so it is refused before a byte is read. Where a command takes `-`, standard
input is the way to send it the output of another program.
"""

from __future__ import annotations

import os
import stat
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from backing.errors import BackingError, Diagnostic, reason_of
from backing.nearest import did_you_mean, nearest

if TYPE_CHECKING:
    from backing.errors import FileError

TEXT_LIMIT = 256 * 1024
"""The most bytes of a text that describes a style, an instrument or a pedal."""

_OTHER_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISLNK, "a symbolic link"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
_ANY_FILE = "name a file"
_MOST_LISTED = 2000
"""The most names of a folder that are compared with the name of a missing file."""


class UnreadableError(BackingError):
    """A file that cannot be read.

    Attributes:
        found: what is wrong with it.
        allowed: what to do.
        line, column: where in its text, from 1; 0 when it concerns the whole file.
        missing: whether there is no such file.
    """

    def __init__(
        self, found: str, allowed: str, *, line: int = 0, column: int = 0, missing: bool = False
    ) -> None:
        super().__init__(f"{found}: {allowed}")
        self.found, self.allowed = found, allowed
        self.line, self.column = line, column
        self.missing = missing

    def of(self, kind: type[FileError], source: str) -> FileError:
        """Return the error of a kind of file, with the file's name."""
        return kind(source, (Diagnostic(self.line, self.column, self.found, self.allowed),))


def read_file(path: Path, most: int, pipes: str = _ANY_FILE, *, links: bool = True) -> bytes:
    """Return the bytes of a regular file.

    Args:
        path: the file.
        most: how many bytes are read at most.
        pipes: what to do instead of naming a pipe, a device or a socket.
        links: whether symbolic links are followed; where not, the name itself must be a file, also
            when it becomes a link while it is being opened.

    Raises:
        UnreadableError: when there is no such file, it is no regular file, or cannot be read.
    """
    try:
        about = path.stat(follow_symlinks=links)
        _refuse_other_kinds(about.st_mode, pipes)
        with os.fdopen(os.open(path, _flags(links=links)), "rb") as file:
            opened = os.fstat(file.fileno())
            _refuse_other_kinds(opened.st_mode, pipes)
            if not links and not os.path.samestat(about, opened):
                raise UnreadableError("it changed while it was opened", "try again")
            data = file.read(most)
    except (OSError, ValueError) as error:
        raise _unreadable(path, error) from None
    if data is None:
        raise UnreadableError("it gives no bytes", pipes)
    return data


def _flags(*, links: bool) -> int:
    """Return how a file is opened; what a system does not have is left out."""
    names = ("O_NONBLOCK", "O_BINARY") if links else ("O_NONBLOCK", "O_BINARY", "O_NOFOLLOW")
    return sum((getattr(os, name, 0) for name in names), start=os.O_RDONLY)


def read_text(path: Path, save: str) -> str:
    """Return the text of a short file in UTF-8.

    Args:
        path: the file.
        save: how such a file is to be saved.

    Raises:
        UnreadableError: as `read_file` and `text_of` do, and for more than `TEXT_LIMIT` bytes.
    """
    data = read_file(path, TEXT_LIMIT + 1)
    if len(data) > TEXT_LIMIT:
        raise UnreadableError(f"it is larger than {TEXT_LIMIT // 1024} KiB", save)
    return text_of(data, save)


def text_of(data: bytes, save: str) -> str:
    """Return the text of bytes in UTF-8, without a byte order mark.

    Raises:
        UnreadableError: when it is in UTF-16, or at the first byte that is not UTF-8.
    """
    refuse_utf16(data, save)
    try:
        return data.decode("utf-8").removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        line = before.count("\n") + 1
        column = len(before) - (before.rfind("\n") + 1) + 1
        found = f"the byte 0x{data[error.start]:02X} is not UTF-8"
        raise UnreadableError(found, save, line=line, column=column) from None


def refuse_utf16(data: bytes, save: str) -> None:
    """Refuse a text in UTF-16, known by its byte order mark or the zeros between Latin letters.

    Raises:
        UnreadableError: when it is one.
    """
    marked = data[:2] in (b"\xff\xfe", b"\xfe\xff")
    zeros = [not byte for byte in data[:4]]
    if marked or zeros in ([True, False, True, False], [False, True, False, True]):
        raise UnreadableError("the text is in UTF-16", save)


def is_there(name: str) -> bool:
    """Whether anything has this name; a name that no file can have is none."""
    try:
        return Path(name).exists()
    except (OSError, ValueError):
        return False


def is_folder(name: str) -> bool:
    """Whether a folder has this name; a name that no file can have is none."""
    try:
        return Path(name).is_dir()
    except (OSError, ValueError):
        return False


def kind_of(mode: int) -> str:
    """Return what something is that is no regular file, such as "a pipe"; "" for a regular file."""
    return next((found for is_kind, found in _OTHER_KINDS if is_kind(mode)), "")


def _refuse_other_kinds(mode: int, pipes: str) -> None:
    if found := kind_of(mode):
        advice = "name a file in it" if stat.S_ISDIR(mode) else pipes
        raise UnreadableError(f"this is {found}", advice)


def _unreadable(path: Path, error: OSError | ValueError) -> UnreadableError:
    """Return what is wrong with a file, and what to do."""
    match error:
        case FileNotFoundError() | NotADirectoryError():
            return _missing(path)
        case PermissionError():
            advice = "give yourself permission to read it, or copy it"
            return UnreadableError("it may not be read", advice)
        case OSError():
            return UnreadableError(f"it cannot be read ({reason_of(error)})", "name another file")
    return UnreadableError(f"it cannot be read ({reason_of(error)})", "check the name")


def _missing(path: Path) -> UnreadableError:
    """Return the fault of a missing file, with the name in its folder that is most like it."""
    found = "there is no such file"
    if not path.parent.is_dir():
        advice = f"there is no folder {path.parent} either; check the name of the folder"
        return UnreadableError(found, advice, missing=True)
    near = _near(path)
    advice = "check the name and the folder" + did_you_mean(near)
    return UnreadableError(found, advice, missing=True)


def _near(path: Path) -> str:
    """Return the name in the folder of a missing file that is most like its own, or ""."""
    try:
        names = [each.name for each in islice(path.parent.iterdir(), _MOST_LISTED)]
    except OSError:
        return ""
    kinds = {Path(name).suffix for name in names}
    alike = {nearest(path.suffix, kinds, 0.7)} if path.suffix else kinds
    kind = [name for name in names if Path(name).suffix in alike]
    by_stem = {Path(name).stem: name for name in sorted(kind) if name.isprintable()}
    return by_stem.get(nearest(path.stem, by_stem), "")
