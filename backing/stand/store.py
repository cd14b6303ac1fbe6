"""A store of banks on disk, named by a digest of their sources, of limited size."""

from __future__ import annotations

import os
import re
from contextlib import suppress
from pathlib import Path
from typing import Final

from backing.errors import OutputError
from backing.out.files import write_file

FOLDER_VARIABLE = "BACKING_CACHE"
"""The environment variable that names another cache folder."""

INDEX, SOUND = ".json", ".flac"
MOST_BYTES: Final = 256 << 20
"""The most bytes on disk; the least recently used files are deleted first."""

_MOST_RECENT = 4
"""How many files are kept in memory, so that many readers share one copy."""

_NAME = re.compile("[0-9a-f]{40}")


class Store:
    """Stores banks.

    Args:
        folder: where; None for the system's cache folder.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder or _usual_folder()
        self._in_memory: dict[str, bytes] = {}
        self._recent: dict[str, bytes] = {}

    def has(self, name: str) -> bool:
        """Whether a bank is complete: index and sound."""
        return all(self.get(name, suffix) is not None for suffix in (INDEX, SOUND))

    def get(self, name: str, suffix: str) -> bytes | None:
        """Return a bank's index or its sound; None when there is no such bank."""
        if not _NAME.fullmatch(name) or suffix not in (INDEX, SOUND):
            return None
        if (data := self._in_memory.get(name + suffix)) is not None:
            return data
        path = self._folder / (name + suffix)
        data = self._recent.get(path.name) or _read(path)
        if data:
            self._recent = dict([*self._recent.items(), (path.name, data)][-_MOST_RECENT:])
            with suppress(OSError):
                os.utime(path)
        return data

    def put(self, name: str, index: bytes, sound: bytes) -> None:
        """Store a bank; in memory where it cannot be written to disk."""
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            write_file(self._folder / (name + SOUND), sound, force=True)
            write_file(self._folder / (name + INDEX), index, force=True)
        except (OSError, OutputError):
            self._in_memory |= {name + INDEX: index, name + SOUND: sound}
            return
        self._make_room(name)

    def _make_room(self, name: str) -> None:
        """Delete the least recently used files, but never the bank with this name."""
        files = []
        for path in self._folder.glob("*"):
            with suppress(OSError):
                about = path.stat()
                if path.suffix in (INDEX, SOUND) and _NAME.fullmatch(path.stem):
                    files.append((path.stem != name, -about.st_mtime, about.st_size, path))
        left = MOST_BYTES
        for is_old, _, size, path in sorted(files):
            left -= size
            if left < 0 and is_old:
                path.unlink(missing_ok=True)


def _read(path: Path) -> bytes | None:
    try:
        return path.read_bytes() or None
    except OSError:
        return None


def _usual_folder() -> Path:
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        return Path(named) / "bank"
    import platformdirs

    return platformdirs.user_cache_path("backing", appauthor=False) / "bank"
