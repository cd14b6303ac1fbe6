"""Writing files so that nothing is lost and nothing is left half-written.

Conventions: the bytes go to a temporary file beside the target, and from there to the disk (fsync)
before the temporary file takes the target's name; then the folder, which holds the names, goes to
the disk, too. POSIX.1-2017 has a name lead to the old file or to the new one throughout a rename,
and fsync return when the bytes are on the disk.

One rule for every file that is written: it is none of the files that the command reads, it is a
regular file or a new one, and its name ends as such files do. A symbolic link is followed, and the
rule holds for the file at its end.
"""

from __future__ import annotations

import errno
import os
import re
import stat
import sys
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO

from backing.errors import OutputError, reason_of
from backing.out.keeping import copy_metadata
from backing.out.temporary import CLOSE_BEFORE_RENAME, create_temporary, remove_stale
from backing.reading import kind_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

STANDARD_INPUT = "-"
"""What stands for standard input among the files that a command reads."""

_NO_SYNC = {errno.EINVAL, errno.ENOTSUP}
"""What a file system says that cannot bring a folder to the disk."""

_ENDING = re.compile(r"\.\w*[^\W\d]\w*")
"""What ends a name: `take.mid` has an ending; `take.2` and `No. 5` have none."""


@dataclass(frozen=True, slots=True)
class FileKind:
    """A kind of file, as its names show it.

    Attributes:
        name: what it is called.
        endings: how its names end, with the dot, in small letters.
        start: the first bytes of each such file when a name may have no ending, else b"".
    """

    name: str
    endings: tuple[str, ...]
    start: bytes = b""


def write_file(
    path: Path,
    data: bytes,
    *,
    force: bool = False,
    inputs: Iterable[Path] = (),
    kind: FileKind | None = None,
    links: bool = True,
) -> None:
    """Write a file whole or not at all.

    Args:
        path: where to.
        data: what to write.
        force: whether a file that is there may be replaced.
        inputs: the files that the command reads; `-` is standard input.
        kind: what is written; None for what the ending of the name says.
        links: whether symbolic links are followed.

    Raises:
        OutputError: as `check_free`, and when it cannot be written.
    """
    with atomic_file(path, force=force, inputs=inputs, kind=kind, links=links) as file:
        file.write(data)


def edit_file(path: Path, data: bytes) -> None:
    """Give a file other bytes; it keeps its owner, its mode and its extended attributes.

    Extended attributes, such as lists of who may read, are kept where Python can read them, which
    is on Linux.

    Args:
        path: the file; a symbolic link is followed.
        data: its new bytes.

    Raises:
        OutputError: when one of these cannot be kept, when the file has further names (hard
            links), which would keep the old bytes, and when it cannot be written.
    """
    about = _status(path)
    if about and about.st_nlink > 1:
        raise OutputError(
            f"{path} is one file with {about.st_nlink} names (hard links), and the others would "
            "keep the old text: copy it to a file of its own, or remove the other names"
        )
    with _atomic(path, lambda: check_free(path.resolve(), force=True), strict=True) as file:
        file.write(data)


@contextmanager
def atomic_file(
    path: Path,
    *,
    force: bool = False,
    inputs: Iterable[Path] = (),
    kind: FileKind | None = None,
    links: bool = True,
) -> Iterator[BinaryIO]:
    """Give a file to write to, which takes its name when the block ends without an exception.

    Args:
        path: where to.
        force: whether a file that is there may be replaced.
        inputs: the files that the command reads.
        kind: what is written; None for what the ending of the name says.
        links: whether symbolic links are followed.

    Raises:
        OutputError: as `write_file`.
    """
    inputs = tuple(inputs)

    def check() -> Path:
        return check_free(path, force=force, inputs=inputs, kind=kind, links=links)

    with _atomic(path, check, strict=False) as file:
        yield file


@contextmanager
def _atomic(path: Path, check: Callable[[], Path], *, strict: bool) -> Iterator[BinaryIO]:
    """Give a file to write to, which takes its name when the block ends without an exception.

    Args:
        path: where to.
        check: returns the file at the end of all links, or raises why it may not be written.
        strict: whether the new file must keep what `copy_metadata` gives it.

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
                raise OutputError(f"{path} leads elsewhere than a moment ago: start again")
            temporary.replace(target)
        _sync_folder(target.parent)
    except OSError as error:
        raise _write_error(path, error) from None
    finally:
        temporary.unlink(missing_ok=True)


def write_output(data: bytes, *, inputs: Iterable[Path] = ()) -> None:
    """Write to standard output, unless that leads into one of the files that the command reads.

    Raises:
        OutputError: when it does.
    """
    sys.stdout.flush()
    with suppress(OSError, ValueError):  # what has no file is no file of the command's
        _refuse_inputs("standard output", os.fstat(sys.stdout.fileno()), inputs)
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()


def make_folder(folder: Path) -> None:
    """Make a folder, and those around it, if it is not there.

    Raises:
        OutputError: when it cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder} cannot be made: {reason_of(error)}: choose another") from None


def check_free(
    path: Path,
    *,
    force: bool = False,
    inputs: Iterable[Path] = (),
    kind: FileKind | None = None,
    links: bool = True,
) -> Path:
    """Refuse a path that may not be written to, before any work is done.

    Args:
        path: where to.
        force: whether a file that is there may be replaced.
        inputs: the files that the command reads.
        kind: what is written; None for what the ending of the name says.
        links: whether symbolic links are followed.

    Returns:
        The file at the end of all symbolic links.

    Raises:
        OutputError: when it is no regular file, its folder is missing, the command reads it, its
            name ends as other files do, or it is there without `force`.
    """
    about = _status(path, links=links)
    if about and stat.S_ISDIR(about.st_mode):
        raise OutputError(f"{path} is a folder: give the name of a file in it")
    if about and not stat.S_ISREG(about.st_mode):
        raise OutputError(
            f"{path} is {kind_of(about.st_mode)}: name a file; a command that takes - as a name "
            "writes to standard output, which may lead anywhere"
        )
    target = path.resolve() if links else path.parent.resolve() / path.name
    if not target.parent.is_dir():
        missing = target.parent if path.is_symlink() else path.parent
        raise OutputError(f"{path}: there is no folder {missing}: make it first")
    if about:
        _refuse_inputs(str(path), about, inputs)
    _check_ending(path, target, kind)
    if about and not force:
        raise OutputError(
            f"{path} is there already: choose another name, or replace it with --force"
        )
    if about and kind and not _ending(target) and not _starts_with(target, kind.start):
        raise OutputError(f"{path} is there and is not {kind.name}: choose another name")
    return target


def _status(path: Path, *, links: bool = True) -> os.stat_result | None:
    """Return what is known of a file, at the end of all links if they are followed; or None."""
    try:
        return path.stat(follow_symlinks=links)
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        if error.errno == errno.ELOOP:
            raise OutputError(
                f"{path} is a symbolic link that leads to no file, for it comes back to itself: "
                "remove it, or choose another name"
            ) from None
        raise _write_error(path, error) from None
    except ValueError as error:
        raise _write_error(path, error) from None


def _refuse_inputs(name: str, about: os.stat_result, inputs: Iterable[Path]) -> None:
    """Refuse to write over a file that the command reads, whatever its name."""
    for each in inputs:
        with suppress(OSError, ValueError):
            read = os.fstat(0) if str(each) == STANDARD_INPUT else each.stat()
            if stat.S_ISREG(read.st_mode) and os.path.samestat(about, read):
                same = "" if name == str(each) else f", for it is the same file as {each}"
                raise OutputError(
                    f"{name} is read by this command{same}: choose another name for what is written"
                )


def _check_ending(path: Path, target: Path, kind: FileKind | None) -> None:
    """Refuse a name, given or at the end of links, that ends as files of another kind do."""
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
    """Return the ending of a name with its dot, in small letters, or ""."""
    ending = path.suffix.lower()
    return ending if _ENDING.fullmatch(ending) else ""


def _starts_with(path: Path, start: bytes) -> bool:
    """Whether a file is empty or begins with these bytes."""
    try:
        with path.open("rb") as file:
            return file.read(len(start)) in (b"", start)
    except OSError:
        return False


def _sync_folder(folder: Path) -> None:
    """Bring the names of a folder to the disk, where the system can open a folder."""
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
