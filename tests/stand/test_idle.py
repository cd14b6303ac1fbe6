"""While no file of the folder changes, nothing is read and no markup is made."""

from __future__ import annotations

import asyncio
import os
from collections import Counter
from typing import TYPE_CHECKING

import pytest

from backing.chart.sets import SET
from backing.errors import BackingError
from backing.stand import folder as folders
from backing.stand import songbook
from backing.stand.songbook import CHART, Songbook, tag_of
from backing.stand.stand import Stand
from tests.stand.loops import run
from tests.stand.test_memory import NoBanks

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

CHARTS = 30
TEXT = "title: Pasture\nkey: G\n[A]\n| G | C |\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder of charts and sets, among them a chart with a fault."""
    for number in range(CHARTS):
        (tmp_path / f"{number}.chart").write_text(TEXT, encoding="utf-8")
    (tmp_path / "bad.chart").write_text("key: H\n", encoding="utf-8")
    (tmp_path / "led.chart").write_text(f"melody: led.melody\n{TEXT}", encoding="utf-8")
    (tmp_path / "Friday.set").write_text("1.chart\n2.chart\n", encoding="utf-8")
    return tmp_path


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Count what the songbook reads, and the templates rendered."""
    counts: Counter[str] = Counter()

    def count(module: object, name: str, what: str) -> None:
        work = getattr(module, name)

        def counting(*given: object, **named: object) -> object:
            counts[what] += given[0] != "options"
            return work(*given, **named)

        monkeypatch.setattr(module, name, counting)

    count(songbook, "load_tune", "charts read")
    count(songbook, "read_file", "texts read")
    count(folders, "render", "drawn")
    return counts


LOOKS = 20


def test_nothing_is_read_or_drawn_while_nothing_changes(
    folder: Path, counted: Counter[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twenty scans of the folder read nothing more than the first; an edit reads one chart."""
    monkeypatch.setattr(folders, "SCAN_SECONDS", 0.0)
    monkeypatch.setattr(folders, "PAUSE_FACTOR", 0)
    looks: list[dict[str, int]] = []

    def stamps(self: Songbook, work: Callable[[Songbook], songbook.Stamps]) -> songbook.Stamps:
        looks.append(dict(counted))
        return work(self)

    work = Songbook.stamps
    monkeypatch.setattr(Songbook, "stamps", lambda self: stamps(self, work))

    async def after(ahead: int) -> dict[str, int]:
        wanted = len(looks) + ahead
        while len(looks) < wanted:
            await asyncio.sleep(0)
        return looks[-1]

    async def evening() -> None:
        held = Stand(Songbook(folder), NoBanks())  # type: ignore[arg-type]
        await held.start()
        for change in (None, ("3.chart", TEXT.replace("C", "D")), ("new.chart", TEXT)):
            if change:  # saved atomically, so that no scan finds half of it
                (folder / "half").write_text(change[1], encoding="utf-8")
                (folder / "half").replace(folder / change[0])
            before = await after(8)
            settled = await after(LOOKS)
            assert settled == before
        await held.close()
        assert "new.chart" in held.folder.listing.playable

    run(evening())

    assert counted["charts read"] == CHARTS + 2 + 1 + 1 + 1  # the last one opens the first chart
    assert counted["texts read"] == 3  # the set, each time that the songbook is listed
    assert counted["drawn"] == 3 * 2  # all tunes and the set, each time that the songbook is listed


def saved_with_its_old_time(path: Path) -> None:
    """Replace a file by one of the same size and modification time."""
    about = path.stat()
    new = path.with_name("new")
    new.write_text(TEXT.replace("Pasture", "Meadows"), encoding="utf-8")
    os.utime(new, ns=(about.st_atime_ns, about.st_mtime_ns))
    new.replace(path)


CHANGES: dict[str, Callable[[Path], object]] = {
    "saved in place": lambda folder: (folder / "1.chart").write_text(TEXT * 2, encoding="utf-8"),
    "saved, as long as before": lambda folder: saved_with_its_old_time(folder / "1.chart"),
    "new": lambda folder: (folder / "z.chart").write_text(TEXT, encoding="utf-8"),
    "gone": lambda folder: (folder / "1.chart").unlink(),
    "renamed": lambda folder: (folder / "1.chart").rename(folder / "y.chart"),
    "a set": lambda folder: (folder / "Friday.set").write_text("1.chart\n", encoding="utf-8"),
    "a melody": lambda folder: (folder / "led.melody").write_text(
        "[A]\n| G4 A4 B4 C5 | C5 |\n", encoding="utf-8"
    ),
    "a link in its place": lambda folder: (
        (folder / "1.chart").unlink(),
        (folder / "1.chart").symlink_to(folder / "2.chart"),
    ),
}


@pytest.mark.parametrize("change", CHANGES)
def test_every_change_shows(folder: Path, change: str) -> None:
    """Each kind of change alters the stamps and the listing."""
    book = Songbook(folder)
    before, stamps = (book.tunes(), book.sets()), book.stamps()
    assert stamps == book.stamps()

    CHANGES[change](folder)

    assert stamps != book.stamps()
    assert before != (book.tunes(), book.sets())


@pytest.mark.parametrize("name", ["notes.txt", ".0.chart.12345678.backing-part", "cover.jpg"])
def test_other_files_are_ignored(folder: Path, name: str) -> None:
    """Other files do not change the stamps."""
    book = Songbook(folder)
    stamps = book.stamps()
    (folder / name).write_text("x", encoding="utf-8")
    assert stamps == book.stamps()


def test_a_save_of_the_songbook_shows(folder: Path) -> None:
    """A save changes the stamps of its file; a refused save does not."""
    book = Songbook(folder)
    stamps = book.stamps()
    with pytest.raises(BackingError):
        book.save("1.chart", b"| C |\n", CHART, tag=None)
    assert stamps == book.stamps()
    book.save("1.chart", b"| C |\n", CHART, tag=tag_of(TEXT.encode()))
    book.save("Sunday.set", b"1.chart\n", SET, tag=None)
    assert {"1.chart", "Sunday.set"} == {
        name for name, stamp in book.stamps().items() if stamps.get(name) != stamp
    }
