"""Temporary files of atomic writes: their removal after a kill, and the metadata of the old file.

A temporary file is locked (flock) while its process lives. The next writer in the folder removes
those without a lock. A file that replaces another one gets its owner, permissions and extended
attributes.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
import tempfile
from contextlib import suppress
from pathlib import Path
from threading import Lock

from backing.errors import OutputError, reason_of

_KEPT_BYTES = 200
"""Bytes of a file's name that its temporary name keeps; file systems allow 255."""

_SUFFIX = ".backing-part"
"""The ending of temporary files."""

CLOSE_BEFORE_RENAME = os.name == "nt"
"""Whether the system can neither rename nor remove an open file."""


def create_temporary(target: Path) -> tuple[int, Path]:
    """Create and lock a file in the folder of a target; return its descriptor and path.

    Raises:
        OSError: when it cannot be created.
    """
    kept = target.name.encode()[:_KEPT_BYTES].decode("utf-8", "ignore")
    while True:
        handle, name = tempfile.mkstemp(_SUFFIX, f".{kept}.", target.parent)
        _lock(handle, wait=True)
        if os.fstat(handle).st_nlink:
            return handle, Path(name)
        os.close(handle)  # another process removed it before it was locked


def _lock(handle: int, *, wait: bool) -> bool:
    """Lock an open file until it is closed or the process ends; return whether it is locked."""
    try:
        import fcntl
    except ImportError:  # such systems lock open files themselves
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True


def remove_stale(folder: Path) -> None:
    """Remove the temporary files that killed processes left in a folder."""
    try:
        with os.scandir(folder) as entries:
            names = [entry.name for entry in entries]
    except OSError:
        return
    for name in names:
        if name.startswith(".") and name.endswith(_SUFFIX):
            with suppress(OSError):
                _remove_unlocked(folder / name)


def _remove_unlocked(temporary: Path) -> None:
    """Remove a temporary file unless a process is writing it.

    Raises:
        OSError: when it cannot be removed.
    """
    if CLOSE_BEFORE_RENAME:
        temporary.unlink()
        return
    handle = os.open(temporary, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    try:
        if stat.S_ISREG(os.fstat(handle).st_mode) and _lock(handle, wait=False):
            temporary.unlink()
    finally:
        os.close(handle)


_UMASK_LOCK = Lock()
"""Held while the umask of the process is read, which requires setting it."""


def copy_metadata(target: Path, temporary: Path, *, strict: bool) -> None:
    """Give the new file the metadata of the old one, or the permissions of any new file.

    Args:
        target: the old file, which need not exist.
        temporary: the new file.
        strict: whether owner and extended attributes must be kept.

    Raises:
        OutputError: when `strict`, and owner or extended attributes cannot be kept.
        OSError: when the permissions cannot be set.
    """
    try:
        old = target.stat()
    except FileNotFoundError:
        with _UMASK_LOCK:
            mask = os.umask(0)
            os.umask(mask)
        temporary.chmod(0o666 & ~mask)
        return
    for name, keep in (("owner", _keep_owner), ("extended attributes", _keep_attributes)):
        try:
            keep(target, temporary)
        except OSError as error:
            if strict:
                raise OutputError(
                    f"{target} could not keep its {name} ({reason_of(error)}): copy it to a file "
                    "of your own"
                ) from None
    temporary.chmod(stat.S_IMODE(old.st_mode) if strict else old.st_mode & 0o777)


def _keep_owner(target: Path, temporary: Path) -> None:
    old, new = target.stat(), temporary.stat()
    if (old.st_uid, old.st_gid) != (new.st_uid, new.st_gid):
        os.chown(temporary, old.st_uid, old.st_gid)


def _keep_attributes(target: Path, temporary: Path) -> None:
    if sys.platform != "linux":
        return
    for name in _attributes(target):
        value = os.getxattr(target, name)
        if name not in _attributes(temporary) or os.getxattr(temporary, name) != value:
            os.setxattr(temporary, name, value)


def _attributes(path: Path) -> list[str]:
    """Return the names of a file's extended attributes; none where they are not supported."""
    if sys.platform != "linux":
        return []
    try:
        return os.listxattr(path)
    except OSError as error:
        if error.errno == errno.ENOTSUP:
            return []
        raise
