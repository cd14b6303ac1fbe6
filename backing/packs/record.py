"""Records of the files made in a folder: nothing is made twice, and no foreign file is replaced.

Conventions: a hidden folder has a record of every file, written before the file itself: the digests
of everything it is made from, of its bytes and of the bytes that it replaces. So our files are
recognised after an interruption at any time, and one that a user has changed is not replaced. A
lock, which ends with its process, keeps two commands out of one folder.
"""

from __future__ import annotations

import hashlib
import json
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from backing.errors import OutputError
from backing.out.files import write_file
from backing.out.temporary import remove_stale

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

HIDDEN = ".backing"


@dataclass(frozen=True, slots=True)
class Record:
    """The record of a file.

    Attributes:
        name: its path in the folder, with slashes.
        digest: the digest of everything it was made from.
        content: the digest of its bytes.
        before: the digest of the bytes that it replaced, or "".
    """

    name: str
    digest: str
    content: str
    before: str


class Records:
    """The records of a folder.

    Args:
        folder: the folder of the files; created if missing.
        inputs: the files that they are made from, which must not be overwritten.

    Raises:
        OutputError: when the folder cannot be written to.
    """

    def __init__(self, folder: Path, inputs: tuple[Path, ...] = ()) -> None:
        self.folder = folder
        self._inputs = inputs
        self._records = folder / HIDDEN
        _make(self._records)

    def has(self, name: str, digest: str) -> bool:
        """Return whether a file exists, was made from this digest and has not changed since."""
        record = self._record(name)
        return bool(record and record.digest == digest and self._has_content(name, record.content))

    def refuse_foreign(self, name: str) -> None:
        """Refuse to overwrite a file that was not made here.

        Raises:
            OutputError: when there is one.
        """
        path = self.folder / name
        record = self._record(name)
        if path.is_symlink() or path.exists():
            known = (record.content, record.before) if record else ()
            if not path.is_file() or not any(self._has_content(name, each) for each in known):
                raise OutputError(
                    f"{path} is not a file of this pack, or was changed: choose another folder, or "
                    "replace it with --force"
                )

    def put(self, name: str, digest: str, data: bytes) -> None:
        """Write a file atomically, and its record before it.

        Raises:
            OutputError: when it cannot be written.
        """
        path = self.folder / name
        _make(path.parent)
        before = file_digest(path) if path.is_file() else ""
        record = Record(name, digest, hashlib.sha256(data).hexdigest(), before)
        write_file(self._record_path(name), json.dumps(asdict(record)).encode(), force=True)
        write_file(path, data, force=True, inputs=self._inputs)

    def tidy(self, names: list[str]) -> None:
        """Remove unfinished files that an interruption left behind."""
        folders = {(self.folder / name).parent for name in names}
        for folder in (self._records, *sorted(folders)):
            remove_stale(folder)

    def others(self, names: set[str]) -> list[str]:
        """Return the unchanged files that were made here, except those with these names."""
        found = []
        for path in self._records.glob("*.json"):
            try:
                name = str(json.loads(path.read_bytes())["name"])
            except (OSError, ValueError, KeyError, TypeError):
                continue
            record = self._record(name)
            if name not in names and record and self._has_content(name, record.content):
                found.append(name)
        return sorted(found)

    def _has_content(self, name: str, content: str) -> bool:
        path = self.folder / name
        return bool(content) and path.is_file() and file_digest(path) == content

    def _record(self, name: str) -> Record | None:
        try:
            data = json.loads(self._record_path(name).read_bytes())
            return Record(**{each: str(data[each]) for each in Record.__slots__})
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def _record_path(self, name: str) -> Path:
        return self._records / f"{hashlib.sha256(name.encode()).hexdigest()[:24]}.json"


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold an exclusive lock on the folder.

    Raises:
        OutputError: when another process holds it, or it cannot be locked.
    """
    from filelock import FileLock, Timeout

    _make(folder / HIDDEN)
    lock = FileLock(folder / HIDDEN / "lock", timeout=0)
    try:
        lock.acquire()
    except Timeout:
        raise OutputError(
            f"another pack is being made in {folder}: wait for it, or choose another folder"
        ) from None
    except NotImplementedError:
        raise OutputError(f"cannot lock {folder}: choose a folder on another disk") from None
    except OSError as error:
        raise _write_error("written to", folder, error) from None
    try:
        yield
    finally:
        lock.release()


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        shown = folder.parent if folder.name == HIDDEN else folder
        raise _write_error("written to" if shown.is_dir() else "made", shown, error) from None


def _write_error(what: str, folder: Path, error: OSError) -> OutputError:
    return OutputError(
        f"{folder} cannot be {what}: {error.strerror or error}: choose another folder"
    )


def file_digest(path: Path) -> str:
    """Return the SHA-256 digest of a file in hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
