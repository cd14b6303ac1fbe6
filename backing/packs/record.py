"""What has been made in a folder: so that nothing is made twice, and nothing of others replaced.

Conventions: a hidden folder holds a record for every file, written before the file itself: the
digest of all that it is made from, and of its bytes, with those that were there before. So a file
is known as ours whenever work was broken off, and one that somebody has changed is never replaced
unasked. A lock, which the system takes away with the process that holds it, keeps two packs from
one folder.
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
    """What is known of a file.

    Attributes:
        name: where it is in the folder, with slashes.
        digest: digest of all that it was made from.
        content: digest of its bytes.
        before: digest of the bytes that it replaced, or "".
    """

    name: str
    digest: str
    content: str
    before: str


class Records:
    """The records of a folder.

    Args:
        folder: where the files are; it is made if need be.
        inputs: the files that they are made from; none of them is written over.

    Raises:
        OutputError: when the folder cannot be written to.
    """

    def __init__(self, folder: Path, inputs: tuple[Path, ...] = ()) -> None:
        self.folder = folder
        self._inputs = inputs
        self._records = folder / HIDDEN
        _make(self._records)

    def has(self, name: str, digest: str) -> bool:
        """Whether a file is there, made from this and not changed since."""
        record = self._record(name)
        return bool(record and record.digest == digest and self._has_content(name, record.content))

    def refuse_foreign(self, name: str) -> None:
        """Refuse a name under which something lies that was not made here.

        Raises:
            OutputError: when there is.
        """
        path = self.folder / name
        record = self._record(name)
        if path.is_symlink() or path.exists():
            known = (record.content, record.before) if record else ()
            if not path.is_file() or not any(self._has_content(name, each) for each in known):
                raise OutputError(
                    f"{path} is there and is not of this pack, or was changed: choose another "
                    "folder, or replace it with --force"
                )

    def put(self, name: str, digest: str, data: bytes) -> None:
        """Write a file whole, and its record before it.

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
        """Remove what was left half-written when work on some files was broken off."""
        folders = {(self.folder / name).parent for name in names}
        for folder in (self._records, *sorted(folders)):
            remove_stale(folder)

    def others(self, names: set[str]) -> list[str]:
        """Return the files that were made here, are there unchanged, and are none of these."""
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
    """Keep a folder for oneself.

    Raises:
        OutputError: when somebody else has it, or it cannot be locked.
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
        raise OutputError(f"{folder} cannot be locked: choose a folder on another disk") from None
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
