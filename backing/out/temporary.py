"""Temporary files of atomic writes, and removal of those that killed processes left behind.

A temporary file is locked (flock) while its process lives. The next writer in the folder removes
those without a lock.
"""

from __future__ import annotations

import os
import stat
import tempfile
from contextlib import suppress
from pathlib import Path

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
    while True:
        handle, name = tempfile.mkstemp(_SUFFIX, _name_prefix(target), target.parent)
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


def _name_prefix(target: Path) -> str:
    """Return the start of the name of a temporary file."""
    return f".{target.name.encode()[:_KEPT_BYTES].decode('utf-8', 'ignore')}."
