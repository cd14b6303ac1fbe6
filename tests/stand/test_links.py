"""Symbolic links in the songbook's folder, also those put in a file's place just before its use."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from backing.chart.sets import SET
from backing.errors import BackingError
from backing.live.session import ChartFile
from backing.scores.sidecar import load_tune
from backing.stand import sets
from backing.stand.songbook import CHART, Songbook, tag_of

if TYPE_CHECKING:
    from collections.abc import Callable

SECRET = "title: Attic\nkey: G\n[A]\n| Attic | Bdim7 |\n"
OPEN = "title: Cellar\nkey: G\nmelody: cellar.melody\n[A]\n| G | C |\n"
MELODY = "[A]\n| G4 A4 B4 C5 | C5 E5 |\n"


class Folder:
    """A songbook, a secret file outside of it, and links from one to the other.

    Attributes:
        book: the songbook.
        secret: the file outside.
        swapped: how many files have become links.
    """

    def __init__(self, path: Path, patch: pytest.MonkeyPatch) -> None:
        (path / "charts").mkdir()
        self.secret = path / "secret"
        self.secret.write_text(SECRET, encoding="utf-8")
        self.book = Songbook(path / "charts")
        self.swapped = 0
        self._patch = patch
        for name, text in (("cellar.chart", OPEN), ("cellar.melody", MELODY), ("f.set", "x\n")):
            (self.book.folder / name).write_text(text, encoding="utf-8")

    def swap_before(self, call: str, name: str, where: object = os) -> None:
        """Replace a file by a link just before a call that uses it."""
        path, used = self.book.folder / name, getattr(where, call)

        def swapping(*what: object, **named: object) -> object:
            if not self.swapped and path in map(Path, filter(is_path, what)):
                self.swapped += 1
                path.unlink()
                path.symlink_to(self.secret)
            return used(*what, **named)

        self._patch.setattr(where, call, swapping)

    def is_safe(self) -> bool:
        """Whether the secret is unchanged."""
        return self.secret.read_text(encoding="utf-8") == SECRET


def is_path(what: object) -> bool:
    """Whether an argument is a path."""
    return isinstance(what, str | Path)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    """Return a songbook with a chart, its melody and a set."""
    return Folder(tmp_path, monkeypatch)


READS: dict[str, Callable[[Songbook], object]] = {
    "cellar.chart": lambda book: book.read("cellar.chart"),
    "f.set": lambda book: book.read("f.set", SET),
    "cellar.melody": lambda book: book.load("cellar.chart"),
    "loaded": lambda book: book.load("cellar.chart"),
    "added": lambda book: sets.add_tune(book, "f", "cellar.chart"),
}


@pytest.mark.parametrize("read", READS)
def test_a_file_that_becomes_a_link_is_not_read(folder: Folder, read: str) -> None:
    """The error reveals nothing of the file outside."""
    name = {"loaded": "cellar.chart", "added": "f.set"}.get(read, read)
    folder.swap_before("open", name)

    with pytest.raises(BackingError) as refused:
        READS[read](folder.book)

    assert folder.swapped == 1
    assert "Attic" not in str(refused.value)
    assert str(folder.secret) not in str(refused.value)


@pytest.mark.parametrize("call", ["open", "replace"])
def test_a_save_does_not_follow_a_link(folder: Folder, call: str) -> None:
    """A save changes nothing outside; it may replace the link by the chart."""
    folder.swap_before(call, "cellar.chart")
    try:
        folder.book.save("cellar.chart", b"| C |\n", CHART, tag=tag_of(OPEN.encode()))
    except BackingError:
        assert call == "open"
    else:
        assert (folder.book.folder / "cellar.chart").read_bytes() == b"| C |\n"
    assert folder.swapped == 1
    assert folder.is_safe()


def test_links_are_refused(folder: Folder) -> None:
    """Links are refused in every request, even those inside the folder, and not listed."""
    (folder.book.folder / "out.chart").symlink_to(folder.secret)
    (folder.book.folder / "in.chart").symlink_to("cellar.chart")
    (folder.book.folder / "out.set").symlink_to(folder.secret)
    for name in ("out.chart", "in.chart"):
        for work in (
            folder.book.read,
            folder.book.load,
            lambda each: folder.book.save(each, b"| C |\n", CHART, tag=tag_of(SECRET.encode())),
            lambda each: sets.add_tune(folder.book, "f", each),
        ):
            with pytest.raises(BackingError, match="a symbolic link"):
                work(name)
    with pytest.raises(BackingError, match="a symbolic link"):
        sets.delete_set(folder.book, "out")
    assert [tune.file for tune in folder.book.tunes()] == ["cellar.chart"]
    assert [name for name, _ in folder.book.sets()] == ["f"]
    assert folder.is_safe()


@pytest.mark.parametrize("name", ["cellar.chart", "cellar.melody"])
def test_an_open_chart_that_becomes_a_link(folder: Folder, name: str) -> None:
    """A watched chart that becomes a link is an error; the command line may follow links."""
    path = folder.book.folder / "cellar.chart"
    for links in (False, True):
        path.write_text(OPEN, encoding="utf-8")
        watched = ChartFile(str(path), "cellar.melody", links=links)
        (folder.book.folder / name).unlink()
        (folder.book.folder / name).symlink_to(folder.secret)
        with pytest.raises(BackingError) as refused:
            watched.changed()
        assert ("symbolic link" in str(refused.value)) == (not links)
        (folder.book.folder / name).unlink()
        (folder.book.folder / "cellar.melody").write_text(MELODY, encoding="utf-8")


def test_commands_follow_links(folder: Folder) -> None:
    """A chart given on the command line may be a link."""
    link = folder.secret.parent / "link.chart"
    link.symlink_to(folder.book.folder / "cellar.chart")
    (folder.secret.parent / "cellar.melody").symlink_to(folder.book.folder / "cellar.melody")
    assert load_tune(str(link)).melody
