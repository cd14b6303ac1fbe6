"""Writing files so that nothing is lost and nothing is left half-written.

Conventions: the bytes go to a temporary file beside the target, and from there to the disk (fsync)
before the temporary file takes the target's name; then the folder, which holds the names, goes to
the disk, too. POSIX.1-2017 has a name lead to the old file or to the new one throughout a rename,
and fsync return when the bytes are on the disk.
"""

from __future__ import annotations

import errno
import os
import tempfile
from pathlib import Path

from backing.errors import OutputError

_KEPT_BYTES = 200
"""How much of a file's name its temporary name keeps; file systems take 255 bytes."""

_RANDOM_SIGNS = 8
"""How many signs the standard library puts at the end of a temporary name."""


_NO_SYNC = {errno.EINVAL, errno.ENOTSUP}
"""What a file system says that cannot bring a folder to the disk."""


def write_file(path: Path, data: bytes, *, force: bool = False) -> None:
    """Write a file whole or not at all: to a temporary file beside it, which is then renamed.

    Args:
        path: where to; a symbolic link is followed.
        data: what to write.
        force: whether a file that is there may be replaced.

    Raises:
        OutputError: when the file is there and `force` is not set, or cannot be written.
    """
    check_free(path, force=force)
    target = path.resolve()
    try:
        handle, name = tempfile.mkstemp(prefix=_prefix(target), dir=target.parent)
    except OSError as error:
        raise _cannot(path, error) from None
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        _copy_mode(target, Path(name))
        Path(name).replace(target)
        _sync_folder(target.parent)
    except OSError as error:
        raise _cannot(path, error) from None
    finally:
        Path(name).unlink(missing_ok=True)


def sweep(path: Path) -> None:
    """Remove what a process that was killed while it wrote a file has left beside it.

    Only for a file that nobody writes just now.
    """
    prefix = _prefix(path)
    try:
        left = [each for each in path.parent.iterdir() if _is_left(each.name, prefix)]
        for each in left:
            each.unlink(missing_ok=True)
    except OSError:
        return


def _prefix(target: Path) -> str:
    """Return what the name of a temporary file begins with."""
    return f".{target.name.encode()[:_KEPT_BYTES].decode('utf-8', 'ignore')}."


def _is_left(name: str, prefix: str) -> bool:
    return name.startswith(prefix) and len(name) == len(prefix) + _RANDOM_SIGNS


def check_free(path: Path, *, force: bool = False) -> None:
    """Refuse a path that cannot be written to, before any work is done.

    Raises:
        OutputError: when it is a folder, its folder is missing, or it is there without `force`.
    """
    if path.is_dir():
        raise OutputError(f"{path} is a folder: give the name of a file in it")
    if not path.resolve().parent.is_dir():
        raise OutputError(f"{path}: there is no folder {path.parent}: make it first")
    if path.exists() and not force:
        raise OutputError(
            f"{path} is there already: choose another name, or replace it with --force"
        )


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


def _copy_mode(target: Path, temporary: Path) -> None:
    """Give the new file the permissions of the old one, or those of any new file."""
    if target.exists():
        temporary.chmod(target.stat().st_mode & 0o777)
        return
    mask = os.umask(0)
    os.umask(mask)
    temporary.chmod(0o666 & ~mask)


def _cannot(path: Path, error: OSError) -> OutputError:
    return OutputError(f"{path} cannot be written: {error.strerror or error}")
