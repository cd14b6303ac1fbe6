"""Reads the files that a user names.

Conventions: only regular files are read. Pipes, devices and sockets are refused before reading,
because they can block or never end. A command that takes `-` reads the output of another program
from standard input.
"""

from __future__ import annotations

import os
import stat
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from backing.errors import BackingError, reason_of
from backing.nearest import did_you_mean, nearest

if TYPE_CHECKING:
    from backing.errors import FileError

TEXT_LIMIT = 256 * 1024
"""The largest file of a style, an instrument or a pedal, in bytes."""

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
"""The most names of a folder that are compared with a missing file."""


class UnreadableError(BackingError):
    """A file that cannot be read.

    Attributes:
        found: what is wrong.
        allowed: what to do.
        line, column: the place in its text, from 1; 0 for the whole file.
        missing: whether the file does not exist.
    """

    def __init__(
        self, found: str, allowed: str, *, line: int = 0, column: int = 0, missing: bool = False
    ) -> None:
        super().__init__(f"{found}: {allowed}")
        self.found, self.allowed = found, allowed
        self.line, self.column = line, column
        self.missing = missing

    def of(self, kind: type[FileError], source: str) -> FileError:
        """Return it as an error of a kind of file, with the file's name."""
        return kind.of(source, self.found, self.allowed, self.line, self.column)


def read_file(path: Path, most: int, pipes: str = _ANY_FILE, *, links: bool = True) -> bytes:
    """Return the bytes of a regular file.

    Args:
        path: the file.
        most: the most bytes to read.
        pipes: advice if the file is a pipe, a device or a socket.
        links: whether to follow symbolic links; if not, a file that becomes a link while it is
            opened is refused, too.

    Raises:
        UnreadableError: if the file does not exist, is not regular, or cannot be read.
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
        raise UnreadableError("it returns no data", pipes)
    return data


def _flags(*, links: bool) -> int:
    """Return the flags to open a file, as far as the system has them."""
    names = ("O_NONBLOCK", "O_BINARY") if links else ("O_NONBLOCK", "O_BINARY", "O_NOFOLLOW")
    return sum((getattr(os, name, 0) for name in names), start=os.O_RDONLY)


def read_text(path: Path, save: str) -> str:
    """Return the text of a short file in UTF-8.

    Args:
        path: the file.
        save: advice how to save such a file.

    Raises:
        UnreadableError: as in `read_file` and `text_of`, and above `TEXT_LIMIT` bytes.
    """
    data = read_file(path, TEXT_LIMIT + 1)
    if len(data) > TEXT_LIMIT:
        raise UnreadableError(f"it is larger than {TEXT_LIMIT // 1024} KiB", save)
    return text_of(data, save)


def text_of(data: bytes, save: str) -> str:
    """Decode UTF-8 and drop a byte order mark.

    Raises:
        UnreadableError: for UTF-16, or at the first byte that is not UTF-8.
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
    """Refuse UTF-16, detected by its byte order mark or zeros between Latin letters.

    Raises:
        UnreadableError: if the text is UTF-16.
    """
    marked = data[:2] in (b"\xff\xfe", b"\xfe\xff")
    zeros = [not byte for byte in data[:4]]
    if marked or zeros in ([True, False, True, False], [False, True, False, True]):
        raise UnreadableError("the text is in UTF-16", save)


def is_there(name: str) -> bool:
    """Whether a file or folder has this name; False for an impossible name."""
    try:
        return Path(name).exists()
    except (OSError, ValueError):
        return False


def is_folder(name: str) -> bool:
    """Whether a folder has this name; False for an impossible name."""
    try:
        return Path(name).is_dir()
    except (OSError, ValueError):
        return False


def kind_of(mode: int) -> str:
    """Return the kind of an irregular file, such as "a pipe"; "" for a regular one."""
    return next((found for is_kind, found in _OTHER_KINDS if is_kind(mode)), "")


def _refuse_other_kinds(mode: int, pipes: str) -> None:
    if found := kind_of(mode):
        advice = "name a file in it" if stat.S_ISDIR(mode) else pipes
        raise UnreadableError(f"this is {found}", advice)


def _unreadable(path: Path, error: OSError | ValueError) -> UnreadableError:
    """Return the error for a file that cannot be opened."""
    match error:
        case FileNotFoundError() | NotADirectoryError():
            return _missing(path)
        case PermissionError():
            advice = "change its permissions, or copy it"
            return UnreadableError("you have no permission to read it", advice)
        case OSError():
            return UnreadableError(f"it cannot be read ({reason_of(error)})", "name another file")
    return UnreadableError(f"it cannot be read ({reason_of(error)})", "check the name")


def _missing(path: Path) -> UnreadableError:
    """Return the error for a missing file, with the nearest name in its folder."""
    found = "there is no such file"
    if not path.parent.is_dir():
        advice = f"there is no folder {path.parent} either; check the name of the folder"
        return UnreadableError(found, advice, missing=True)
    near = _near(path)
    advice = "check the name and the folder" + did_you_mean(near)
    return UnreadableError(found, advice, missing=True)


def _near(path: Path) -> str:
    """Return the name nearest to a missing file in its folder, or ""."""
    try:
        names = [each.name for each in islice(path.parent.iterdir(), _MOST_LISTED)]
    except OSError:
        return ""
    kinds = {Path(name).suffix for name in names}
    alike = {nearest(path.suffix, kinds, 0.7)} if path.suffix else kinds
    kind = [name for name in names if Path(name).suffix in alike]
    by_stem = {Path(name).stem: name for name in sorted(kind) if name.isprintable()}
    return by_stem.get(nearest(path.stem, by_stem), "")
