"""The songbook: the charts and sets of one folder.

Conventions: subfolders, symbolic links and files whose names begin with a dot are ignored. Files
are opened without following links, so that a link put in a file's place later is harmless. A file's
tag is a digest of its bytes; a save names the tag of the text that was edited, so that nobody
overwrites a text unseen. A name has at most 200 bytes in UTF-8, which leaves room for the suffix of
a temporary file (most file systems take 255 bytes). Names that differ only in case or in how
accents are composed count as one name, since some systems do not tell them apart.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import unicodedata
from contextlib import suppress
from dataclasses import dataclass
from itertools import count
from threading import Lock
from typing import TYPE_CHECKING

from backing.chart.fields import MELODY_SUFFIXES
from backing.chart.grooves import usual_style
from backing.chart.read import LIMIT
from backing.chart.sets import SET, tunes_of
from backing.errors import BackingError, FileError, OutputError
from backing.harmony.signs import signed
from backing.out.files import write_file
from backing.reading import UnreadableError, kind_of, read_file
from backing.scores.sidecar import load_tune
from backing.stand.markup import joined, tempo_markup
from backing.style.library import style_meters

if TYPE_CHECKING:
    from pathlib import Path

    from backing.chart.model import Chart


LONGEST_BYTES = 200
"""The longest name of a file with its suffix."""

_FORBIDDEN = '/\\:*?"<>|'


class FileNameError(BackingError):
    """A name that no file of the songbook may have."""


def check_name(name: str, suffix: str) -> None:
    """Check a name of a file.

    Args:
        name: the name with its suffix.
        suffix: the suffix that it must have.

    Raises:
        FileNameError: when it is not allowed.
    """
    if found := _wrong(name, suffix):
        shown = "".join(sign if sign.isprintable() else "�" for sign in name[:80])
        raise FileNameError(
            f"'{shown}' {found}: a name of the songbook ends in {suffix}, begins with no dot, "
            f"has no space at either end, none of {' '.join(_FORBIDDEN)} and at most "
            f"{LONGEST_BYTES} bytes"
        )


def _wrong(name: str, suffix: str) -> str:
    """Return what is wrong with a name, or ""."""
    stem = name.removesuffix(suffix)
    if stem == name:
        return f"does not end in {suffix}"
    if stem != stem.strip() or not stem:
        return "has a space at an end" if stem else "is empty"
    if stem.startswith("."):
        return "begins with a dot"
    if not name.isprintable():
        return "has a character that cannot be printed"
    if bad := next((sign for sign in _FORBIDDEN if sign in stem), ""):
        return f"has a {bad}"
    return "is too long" if len(name.encode()) > LONGEST_BYTES else ""


def fitted(stem: str, rest: str) -> str:
    """Return a stem and the rest of a name joined, the stem cut where that is too long."""
    room = LONGEST_BYTES - len(rest.encode())
    return f"{stem.encode()[:room].decode('utf-8', 'ignore').rstrip()}{rest}"


def folded(name: str) -> str:
    """Return the same text for all names that some systems take for one."""
    return unicodedata.normalize("NFC", name).casefold()


CHART = ".chart"

_MELODIES = tuple(MELODY_SUFFIXES)

Stamp = tuple[int, int, int]
"""Modification time of a file in nanoseconds, size in bytes, and inode number."""

Stamps = dict[str, Stamp]
"""The stamps of files by their names."""

MOST_FILES = 2000
"""The most charts, and the most sets, that are listed."""

_MOST_VERSIONS = 50


class TakenError(BackingError):
    """A new name that some systems take for that of another file."""


class ConflictError(BackingError):
    """A file that has changed since it was read.

    Attributes:
        text: its text now; None when there is no file.
    """

    def __init__(self, name: str, text: bytes | None) -> None:
        super().__init__(f"{name} has changed since you opened it: compare both, and save again")
        self.text = text


@dataclass(frozen=True, slots=True)
class Entry:
    """A chart in the list of the songbook.

    Attributes:
        file: the file's name.
        title, key, style, meter: as text.
        bpm: its tempo in the note that it counts; 0 where the chart has none.
        about: key, style, tempo and meter in one line; text, or markup.
        fault: its first fault, or "".
    """

    file: str
    title: str
    key: str = ""
    style: str = ""
    meter: str = ""
    bpm: float = 0.0
    about: str = "has a fault: touch to edit it"
    fault: str = ""


def missing(file: str) -> Entry:
    """Return the entry of a set for a tune that is not in the songbook."""
    return Entry(file, file, about="is not in the songbook", fault="there is no such file")


class Songbook:
    """The charts and sets of a folder.

    Args:
        folder: an existing folder.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()
        self._saving = Lock()
        self._known: dict[str, tuple[Stamp, Entry]] = {}
        self._melodies: Stamps = {}

    def path_of(self, name: str, suffix: str) -> Path:
        """Return the path of a file of the songbook, which need not exist.

        Raises:
            FileNameError: when the name is not allowed, or is that of a folder, link or the like.
        """
        check_name(name, suffix)
        path = self.folder / name
        about = _status(path)
        if about and not stat.S_ISREG(about.st_mode):
            raise FileNameError(
                f"'{name}' is {kind_of(about.st_mode)}: the songbook has only the files of its "
                "folder"
            )
        return path

    def has(self, name: str, suffix: str = CHART) -> bool:
        """Whether there is a file with this name.

        Raises:
            FileNameError: as `path_of`.
        """
        return _status(self.path_of(name, suffix)) is not None

    def read(self, name: str, suffix: str = CHART) -> tuple[bytes, str] | None:
        """Return a file's bytes and its tag; None when there is no file.

        Raises:
            BackingError: when the name is not allowed, or the file cannot be read or is too large.
        """
        path = self.path_of(name, suffix)
        try:
            data = read_file(path, LIMIT + 1, links=False)
        except UnreadableError as error:
            if error.missing:
                return None
            raise OutputError(f"{name}: {error}") from None
        if len(data) > LIMIT:
            raise OutputError(f"{name} is larger than {LIMIT // 1024} KiB, the most for a chart")
        return data, tag_of(data)

    def save(self, name: str, data: bytes, suffix: str, *, tag: str | None) -> str:
        """Replace a file atomically, if it still has the text that was edited.

        Args:
            name: the file's name.
            data: its new bytes.
            suffix: `CHART` or `SET`.
            tag: the tag of the text that was edited; None for a new file.

        Returns:
            The new tag.

        Raises:
            ConflictError: when the file has another text, or a new file exists already.
            BackingError: when the name is not allowed, or the file cannot be written.
        """
        path = self.path_of(name, suffix)
        with self._saving:
            old = self.read(name, suffix)
            if (old[1] if old else None) != tag:
                raise ConflictError(name, old[0] if old else None)
            if old is None:
                self._check_new(name, suffix)
            write_file(path, data, force=True, links=False)
        return tag_of(data)

    def _check_new(self, name: str, suffix: str) -> None:
        """Check the number of files, and that no system takes the new name for another one."""
        files = _named(self.stamps(), suffix)
        if len(files) >= MOST_FILES:
            raise OutputError(f"the folder has {MOST_FILES} files already: use another folder")
        for other in files:
            if folded(other) == folded(name):
                raise TakenError(f"some systems take {name} for {other}: choose another name")

    def save_version(self, name: str, data: bytes, suffix: str, mark: str) -> str:
        """Save another version of a file under a free name; return that name.

        Args:
            name: the file's name.
            data: the other version.
            suffix: `CHART` or `SET`.
            mark: added to the name, such as mine: `tune (mine).chart`, `tune (mine 2).chart`.

        Raises:
            BackingError: when it cannot be written.
        """
        for number in range(1, _MOST_VERSIONS + 1):
            marked = f" ({mark}{f' {number}' if number > 1 else ''}){suffix}"
            free = fitted(name.removesuffix(suffix), marked)
            with suppress(ConflictError, TakenError):
                self.save(free, data, suffix, tag=None)
                return free
        raise OutputError(f"{name} has {_MOST_VERSIONS} versions already: delete some first")

    def create(self, title: str, data: bytes) -> str:
        """Save a new chart under a free name made from its title; return that name.

        Raises:
            BackingError: when it cannot be written.
        """
        words = "-".join(re.findall(r"[^\W_]+", title.lower())) or "tune"
        for number in count(1):
            name = fitted(words, f"{f'-{number}' if number > 1 else ''}{CHART}")
            with suppress(ConflictError, TakenError):
                self.save(name, data, CHART, tag=None)
                break
        return name

    def load(self, name: str) -> Chart:
        """Return a chart.

        Raises:
            BackingError: when there is none, or it has faults.
        """
        return load_tune(str(self.path_of(name, CHART)), style_meters(), links=False)

    def stamps(self) -> Stamps:
        """Return the stamps of all charts, sets and melodies; any change of a file changes them."""
        found: Stamps = {}
        with os.scandir(self.folder) as entries:
            for entry in entries:
                if entry.name.endswith((CHART, SET)) or _is_melody(entry.name):
                    with suppress(OSError):  # the file has just been deleted
                        about = entry.stat(follow_symlinks=False)
                        if stat.S_ISREG(about.st_mode):
                            found[entry.name] = about.st_mtime_ns, about.st_size, about.st_ino
        return found

    def tunes(self) -> list[Entry]:
        """Return every chart.

        A chart is read again when its file has changed; a faulty one also when a melody has.
        """
        stamps = self.stamps()
        melodies = {name: each for name, each in stamps.items() if _is_melody(name)}
        is_changed, self._melodies = melodies != self._melodies, melodies
        known, found = self._known, {}
        for name in _named(stamps, CHART):
            old = known.get(name)
            same = old and old[0] == stamps[name] and not (is_changed and old[1].fault)
            found[name] = old if old and same else (stamps[name], self._entry(name))
        self._known = found
        return [tune for _, tune in found.values()]

    def sets(self) -> list[tuple[str, list[str]]]:
        """Return every set: its name without suffix, and its files in order."""
        found = []
        for name in _named(self.stamps(), SET):
            try:
                kept = self.read(name, SET)
            except BackingError:
                continue
            if kept:
                found.append((name.removesuffix(SET), tunes_of(kept[0])))
        return found

    def _entry(self, name: str) -> Entry:
        try:
            chart = self.load(name)
        except FileError as error:
            fault = error.faults[0]
            return Entry(name, name.removesuffix(CHART), fault=fault.sentence(name))
        except BackingError as error:
            return Entry(name, name.removesuffix(CHART), fault=str(error))
        key, meter = str(chart.key), str(chart.meter)
        style = chart.style or usual_style(chart.meter)
        bpm = chart.tempo.bpm if chart.tempo else 0.0
        about = joined((signed(key), style, tempo_markup(chart.tempo), meter))
        return Entry(name, chart.title, key, style, meter, bpm, about)


def _named(stamps: Stamps, suffix: str) -> list[str]:
    """Return the allowed names with this suffix, sorted."""
    found = []
    for name in sorted(stamps, key=str.lower):
        if name.endswith(suffix):
            with suppress(FileNameError):
                check_name(name, suffix)
                found.append(name)
    return found[:MOST_FILES]


def _is_melody(name: str) -> bool:
    return name.lower().endswith(_MELODIES)


def _status(path: Path) -> os.stat_result | None:
    """Return the status of a path, without following links; None where nothing is there."""
    try:
        return path.lstat()
    except OSError:
        return None


def tag_of(data: bytes) -> str:
    """Return the tag of a text."""
    return hashlib.sha256(data).hexdigest()[:32]
