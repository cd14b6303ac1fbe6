"""Copy owner, permissions and extended attributes to a file that replaces another one."""

from __future__ import annotations

import errno
import os
import stat
import sys
from threading import Lock
from typing import TYPE_CHECKING

from backing.errors import OutputError, reason_of

if TYPE_CHECKING:
    from pathlib import Path

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
