"""Temporary files, from which a file gets its bytes, and what killed processes leave of them.

A temporary file is locked while its process lives (flock). So the next writer in the folder knows
which ones are left over by a process that was killed, and removes them.
"""

from __future__ import annotations

import os
import stat
import tempfile
from contextlib import suppress
from pathlib import Path

_KEPT_BYTES = 200
"""How much of a file's name its temporary name keeps; file systems take 255 bytes."""

_SUFFIX = ".backing-part"
"""How the names of temporary files end."""

CLOSE_BEFORE_RENAME = os.name == "nt"
"""Whether a file must be closed before it is renamed; nor can it be removed while it is open."""


def create_temporary(target: Path) -> tuple[int, Path]:
    """Open a new file beside a target and lock it; return its handle and its path.

    Raises:
        OSError: when it cannot be made.
    """
    while True:
        handle, name = tempfile.mkstemp(_SUFFIX, _name_prefix(target), target.parent)
        _lock(handle, wait=True)
        if os.fstat(handle).st_nlink:
            return handle, Path(name)
        os.close(handle)  # another process took it for left over before it was locked


def _lock(handle: int, *, wait: bool) -> bool:
    """Lock an open file until it is closed or the process ends; return whether that went well."""
    try:
        import fcntl
    except ImportError:  # the system locks open files by itself
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True


def remove_stale(folder: Path) -> None:
    """Remove the temporary files in a folder that processes have left over which were killed."""
    try:
        with os.scandir(folder) as entries:
            names = [entry.name for entry in entries]
    except OSError:
        return
    for name in names:
        if name.startswith(".") and name.endswith(_SUFFIX):
            with suppress(OSError):
                _remove_left_over(folder / name)


def _remove_left_over(temporary: Path) -> None:
    """Remove a temporary file unless a process writes it just now.

    Raises:
        OSError: when it cannot be removed; where open files cannot, that is one that is written.
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
    """Return what the name of a temporary file begins with."""
    return f".{target.name.encode()[:_KEPT_BYTES].decode('utf-8', 'ignore')}."
