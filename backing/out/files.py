"""Write files atomically, and check beforehand what may be written.

Conventions: the bytes go to a temporary file in the same folder and to the disk (fsync); then the
temporary file is renamed to the target, and the folder is synchronised, too. By POSIX.1-2017 a name
leads to the old file or to the new one throughout a rename, and fsync returns when the bytes are on
the disk.

Every file that is written is a regular or a new file, is not one that the command reads, and its
name ends as files of its kind do. Symbolic links are followed; the rule holds for their target.
"""

from __future__ import annotations

import errno
import os
import re
import stat
import sys
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO, TypedDict, Unpack

from backing.errors import OutputError, reason_of
from backing.out.temporary import CLOSE_BEFORE_RENAME, copy_metadata, create_temporary, remove_stale
from backing.reading import kind_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

STANDARD_INPUT = "-"
"""Standard input, among the files that a command reads."""

_NO_SYNC = {errno.EINVAL, errno.ENOTSUP}
"""Errors of file systems that cannot synchronise a folder."""

_ENDING = re.compile(r"\.\w*[^\W\d]\w*")
"""The ending of a name: `take.mid` has one; `take.2` and `No. 5` have none."""


@dataclass(frozen=True, slots=True)
class FileKind:
    """A kind of file.

    Attributes:
        name: its name in messages, with an article.
        endings: the endings of its names, with the dot, in lower case.
        start: its first bytes if a name may have no ending, else b"".
    """

    name: str
    endings: tuple[str, ...]
    start: bytes = b""


class Rules(TypedDict, total=False):
    """Rules of what may be written.

    Keys:
        force: whether an existing file may be replaced.
        inputs: the files that the command reads; `-` is standard input.
        kind: the kind of the file; None for the one that its ending names.
        links: whether to follow symbolic links; usually they are followed.
    """

    force: bool
    inputs: Iterable[Path]
    kind: FileKind | None
    links: bool


def write_file(path: Path, data: bytes, **rules: Unpack[Rules]) -> None:
    """Write a file atomically.

    Raises:
        OutputError: as `check_free`, and when it cannot be written.
    """
    with atomic_file(path, **rules) as file:
        file.write(data)


def edit_file(path: Path, data: bytes) -> None:
    """Replace the bytes of a file; keep its owner, mode and, on Linux, extended attributes.

    Args:
        path: the file; symbolic links are followed.
        data: its new bytes.

    Raises:
        OutputError: when one of these cannot be kept, when the file has other names (hard links),
            which would keep the old bytes, or when it cannot be written.
    """
    status = _status(path)
    if status and status.st_nlink > 1:
        raise OutputError(
            f"{path} is one file with {status.st_nlink} names (hard links), and the others would "
            "keep the old text: copy it to a file of its own, or remove the other names"
        )
    with _atomic(path, lambda: check_free(path.resolve(), force=True), strict=True) as file:
        file.write(data)


@contextmanager
def atomic_file(path: Path, **rules: Unpack[Rules]) -> Iterator[BinaryIO]:
    """Open a file that takes its name when the block ends without an exception.

    Raises:
        OutputError: as `write_file`.
    """
    rules["inputs"] = tuple(rules.get("inputs", ()))  # they are read twice
    with _atomic(path, lambda: check_free(path, **rules), strict=False) as file:
        yield file


@contextmanager
def _atomic(path: Path, check: Callable[[], Path], *, strict: bool) -> Iterator[BinaryIO]:
    """Open a file that takes its name when the block ends without an exception.

    Args:
        path: the file.
        check: returns the target of all links, or raises an error if it may not be written.
        strict: whether the new file must keep all metadata, see `copy_metadata`.

    Raises:
        OutputError: as `check`, and when it cannot be written.
    """
    target = check()
    remove_stale(target.parent)
    try:
        handle, temporary = create_temporary(target)
    except OSError as error:
        raise _write_error(path, error) from None
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
            if CLOSE_BEFORE_RENAME:
                file.close()
            copy_metadata(target, temporary, strict=strict)
            if check() != target:
                raise OutputError(f"{path} now leads to another file: start again")
            temporary.replace(target)
        _sync_folder(target.parent)
    except OSError as error:
        raise _write_error(path, error) from None
    finally:
        temporary.unlink(missing_ok=True)


def write_output(data: bytes, *, inputs: Iterable[Path] = ()) -> None:
    """Write to standard output.

    Raises:
        OutputError: when it is redirected to a file that the command reads.
    """
    sys.stdout.flush()
    with suppress(OSError, ValueError):  # it has no file descriptor
        _refuse_inputs("standard output", os.fstat(sys.stdout.fileno()), inputs)
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()


def make_folder(folder: Path) -> None:
    """Create a folder and its parents, if missing.

    Raises:
        OutputError: when it cannot be created.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"cannot create {folder}: {reason_of(error)}: choose another") from None


def check_free(
    path: Path,
    *,
    force: bool = False,
    inputs: Iterable[Path] = (),
    kind: FileKind | None = None,
    links: bool = True,
) -> Path:
    """Check that a file may be written by some `Rules`, before any work is done.

    Returns:
        The target of all symbolic links.

    Raises:
        OutputError: when it is not a regular file, its folder is missing, the command reads it,
            its ending is that of another kind, or it exists and `force` is not given.
    """
    status = _status(path, links=links)
    if status and stat.S_ISDIR(status.st_mode):
        raise OutputError(f"{path} is a folder: give the name of a file in it")
    if status and not stat.S_ISREG(status.st_mode):
        raise OutputError(
            f"{path} is {kind_of(status.st_mode)}: name a file; a command that takes - as a name "
            "writes to standard output, which may lead anywhere"
        )
    target = path.resolve() if links else path.parent.resolve() / path.name
    if not target.parent.is_dir():
        missing = target.parent if path.is_symlink() else path.parent
        raise OutputError(f"{path}: there is no folder {missing}: make it first")
    if status:
        _refuse_inputs(str(path), status, inputs)
    _check_ending(path, target, kind)
    if status and not force:
        raise OutputError(
            f"{path} is there already: choose another name, or replace it with --force"
        )
    if status and kind and not _ending(target) and not _starts_with(target, kind.start):
        raise OutputError(f"{path} is there and is not {kind.name}: choose another name")
    return target


def _status(path: Path, *, links: bool = True) -> os.stat_result | None:
    """Return the status of a file, or None if there is none."""
    try:
        return path.stat(follow_symlinks=links)
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError) as error:
        if isinstance(error, OSError) and error.errno == errno.ELOOP:
            raise OutputError(
                f"{path} is a symbolic link that leads back to itself: remove it, or choose "
                "another name"
            ) from None
        raise _write_error(path, error) from None


def _refuse_inputs(name: str, status: os.stat_result, inputs: Iterable[Path]) -> None:
    """Refuse to overwrite a file that the command reads, whatever its name."""
    for each in inputs:
        with suppress(OSError, ValueError):
            read = os.fstat(0) if str(each) == STANDARD_INPUT else each.stat()
            if stat.S_ISREG(read.st_mode) and os.path.samestat(status, read):
                same = "" if name == str(each) else f": it is the same file as {each}"
                raise OutputError(
                    f"{name} is read by this command{same}: choose another name for the output"
                )


def _check_ending(path: Path, target: Path, kind: FileKind | None) -> None:
    """Refuse a name, or the name of its target, with the ending of another kind of file."""
    allowed = kind.endings if kind else (_ending(path),)
    for each in (path, target):
        if _ending(each) in allowed or (kind and kind.start and not _ending(each)):
            continue
        if kind and each == path:
            raise OutputError(f"{path}: the name of {kind.name} ends in {', '.join(allowed)}")
        raise OutputError(
            f"{path} leads to {each}, which is another kind of file: choose another name"
        )


def _ending(path: Path) -> str:
    """Return the ending of a name with its dot, in lower case, or ""."""
    ending = path.suffix.lower()
    return ending if _ENDING.fullmatch(ending) else ""


def _starts_with(path: Path, start: bytes) -> bool:
    """Return whether a file is empty or begins with these bytes."""
    try:
        with path.open("rb") as file:
            return file.read(len(start)) in (b"", start)
    except OSError:
        return False


def _sync_folder(folder: Path) -> None:
    """Write the names in a folder to the disk, where the system can open folders."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in _NO_SYNC:
            raise
    finally:
        os.close(handle)


def _write_error(path: Path, error: OSError | ValueError) -> OutputError:
    return OutputError(f"{path} cannot be written: {reason_of(error)}")
