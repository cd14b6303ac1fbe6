"""Every command that takes a chart takes several, a folder of them and a set alike."""

from __future__ import annotations

import io
import json
import re
import zipfile
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from backing.chart.sets import load_set
from backing.cli.charts import are_several, charts_of
from backing.errors import BackingError
from backing.live.console import Console
from backing.live.session import Session
from tests.cli.test_commands import call

NAMES = ("c-lane", "a-hill", "b-mill")
"""Tunes in the order of the set, which is not that of their names."""

TITLES = {"a-hill": "Round Hill", "b-mill": "Old Mill", "c-lane": "Long Lane"}
LINES = "# Friday\n\nc-lane.chart\n  a-hill.chart  \n# later: b\nb-mill.chart\nc-lane.chart\n"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand beside a folder with three charts and a set of them."""
    (tmp_path / "book").mkdir()
    for number, (name, title) in enumerate(TITLES.items()):
        text = f"title: {title}\nkey: G\ntempo: 240\n[A] 2\n| G | D{7 if number else ''} |\n"
        (tmp_path / "book" / f"{name}.chart").write_text(text, encoding="utf-8")
    (tmp_path / "book" / "friday.set").write_text(LINES, encoding="utf-8")
    (tmp_path / "other.txt").write_text("| C |\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


BY_NAME = [f"book/{name}.chart" for name in sorted(NAMES)]
IN_ORDER = [f"book/{name}.chart" for name in NAMES]


@pytest.mark.parametrize(
    "named, found",
    [
        (["book"], BY_NAME),
        (["book/friday.set"], IN_ORDER),
        ([*IN_ORDER], IN_ORDER),
        (["other.txt", "book/friday.set", "book"], ["other.txt", *IN_ORDER]),
        (["-"], ["-"]),
        (["missing.chart"], ["missing.chart"]),
    ],
)
def test_what_is_named_is_opened(named: list[str], found: list[str]) -> None:
    """Folders by name, sets in their order, files as they are, each chart once."""
    assert charts_of(named) == found
    assert are_several(named) == (len(named) > 1 or named[0].startswith("book"))


@pytest.mark.parametrize(
    "data, found",
    [
        (b"# nothing\n\n", "empty.set: it lists no charts"),
        (b"", "empty.set: it lists no charts"),
        (b"a.chart\n\xff\n", "empty.set:2:1: the byte 0xFF is not UTF-8"),
        (None, "empty.set: there is no such file"),
    ],
)
def test_a_set_that_cannot_be_read(
    data: bytes | None, found: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every command reports it with its place."""
    if data is not None:
        Path("empty.set").write_bytes(data)
    with pytest.raises(BackingError):
        load_set("empty.set")
    for command in ("check", "show", "shapes", "tidy", "render", "sheet", "play"):
        assert call(command, "empty.set") == 2
        assert capsys.readouterr().err.startswith(found)


@pytest.mark.parametrize("named", [["book"], ["book/friday.set"], IN_ORDER])
@pytest.mark.parametrize("command", ["check", "show", "shapes", "tidy"])
def test_what_is_printed_has_every_chart_in_order(
    command: str, named: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Each chart is there once, in the order that is asked for."""
    assert call(command, *named) == 0
    out = capsys.readouterr().out
    wanted = sorted(NAMES) if named == ["book"] else NAMES
    signs = [TITLES[name] if command == "show" else name for name in wanted]
    found = re.findall("|".join([*TITLES, *TITLES.values()]), out)
    assert [each for each in dict.fromkeys(found) if each in signs] == signs


@pytest.mark.parametrize("command", ["check", "show", "shapes", "tidy"])
def test_one_faulty_chart_does_not_stop_the_others(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is reported with its place, and the exit code is 2."""
    Path("book/a-hill.chart").write_text("| Hb |\n", encoding="utf-8")
    Path("book/gone.set").write_text("b-mill.chart\nnowhere.chart\nc-lane.chart\n")

    assert call(command, "book") == 2
    out, err = capsys.readouterr()
    assert err.startswith("book/a-hill.chart:1:3: 'Hb' is not a chord")
    assert len(re.findall("Old Mill|b-mill", out)) >= 1
    assert len(re.findall("Long Lane|c-lane", out)) >= 1
    assert call(command, "book/gone.set") == 2
    out, err = capsys.readouterr()
    assert err.startswith("book/nowhere.chart: there is no such file")
    assert len(re.findall("Long Lane|c-lane", out)) >= 1


def test_a_set_is_rendered() -> None:
    assert call("render", "book/friday.set", "-o", "out", "-n", "1") == 0
    assert sorted(path.name for path in Path("out").iterdir()) == [
        f"{name}.mid" for name in sorted(NAMES)
    ]


@pytest.mark.parametrize(
    "named, order",
    [
        (["book"], ["Long Lane", "Old Mill", "Round Hill"]),
        (["book/friday.set"], [TITLES[name] for name in NAMES]),
        (IN_ORDER[::-1], [TITLES[name] for name in NAMES[::-1]]),
    ],
)
def test_a_songbook_of_any_of_them(named: list[str], order: list[str]) -> None:
    """A folder is put in order by title; a set and names keep theirs."""
    assert call("sheet", *named, "-o", "songs.pdf") == 0
    pages = [page.extract_text() for page in PdfReader("songs.pdf").pages]
    assert [title in page for title, page in zip(order, pages[1:4], strict=True)] == [True] * 3


def test_names_of_songbooks() -> None:
    """Without a name a set's book is called as the set."""
    assert call("sheet", "book/friday.set") == 0
    assert call("sheet", *IN_ORDER) == 0
    assert Path("friday.pdf").is_file()
    assert Path("songbook.pdf").is_file()


def test_packs_of_a_set(capsys: pytest.CaptureFixture[str]) -> None:
    """Each chart has a pack, and the page lists them in the set's order; a job is of one chart."""
    options = ["--parts", "none", "--minus", "none", "--tempi", "240", "-n", "1", "--format", "wav"]

    assert call("pack", "book/friday.set", "-o", "packs.zip", *options) == 0
    with zipfile.ZipFile("packs.zip") as packed:
        page = packed.read("index.html").decode()
    assert re.findall(r'href="([^"/]+)/index.html"', page) == list(NAMES)
    assert "<h1>friday</h1>" in page
    assert call("pack", *IN_ORDER, "-o", "out", *options, "--list-jobs") == 0
    folders = re.findall(r"-o (\S+) ", capsys.readouterr().out)
    assert list(dict.fromkeys(folders)) == [f"out/{name}" for name in NAMES]
    assert call("pack", *IN_ORDER, "-o", "out", *options, "--job", "G/long-lane-G.mid") == 2


def test_shapes_tell_charts_from_chords(capsys: pytest.CaptureFixture[str]) -> None:
    """Chords among charts are refused; JSON names the chart of each shape."""
    assert call("shapes", "book", "--json") == 0
    rows = json.loads(capsys.readouterr().out)["shapes"]
    assert list(dict.fromkeys(row["chart"] for row in rows)) == BY_NAME
    assert call("shapes", "G", "D7", "--json") == 0
    assert {row["chart"] for row in json.loads(capsys.readouterr().out)["shapes"]} == {None}
    assert call("shapes", "G", "book/a-hill.chart") == 2
    assert "name chords or charts, not both" in capsys.readouterr().err


@pytest.mark.parametrize("ending", ["chart", "abc", "musicxml", "mxl"])
def test_a_set_is_converted(ending: str) -> None:
    """Several files become files in a folder, of the kind that is asked for."""
    words = [] if ending == "chart" else ["--format", ending]
    assert call("convert", "book/friday.set", "out", *words) == 0
    names = [title.lower().replace(" ", "-") for title in TITLES.values()]
    assert sorted(path.name for path in Path("out").iterdir()) == sorted(
        f"{name}.{ending}" for name in names
    )


def test_what_is_converted_together(capsys: pytest.CaptureFixture[str]) -> None:
    """Scores and charts by their names, a folder, too; they never share a file."""
    assert (
        call("convert", "book/a-hill.chart", "book/b-mill.chart", "scores", "--format", "abc") == 0
    )
    Path("scores/again.abc").write_bytes(Path("scores/old-mill.abc").read_bytes())
    assert call("convert", "scores", "book/c-lane.chart", "new") == 0
    assert sorted(path.name for path in Path("new").iterdir()) == [
        *("long-lane.chart", "old-mill-2.chart", "old-mill.chart", "round-hill.chart"),
    ]
    assert call("convert", *IN_ORDER, "one.abc") == 2
    assert "there are 3 tunes, and one.abc is one file" in capsys.readouterr().err
    assert call("convert", "book/a-hill.chart", "out", "--format", "pdf") == 2
    assert "--format pdf: choose from chart, abc, musicxml, mxl" in capsys.readouterr().err


def test_a_set_is_played_in_its_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """One session a chart, each with the options, all at one output that stays open."""
    made: list[Any] = []

    def session(self: Session, source: str, settings: Any, output: Any, **_: Any) -> None:
        made.append((source, settings.semitones, output))
        self.broken = None

    monkeypatch.setattr(Session, "__init__", session)
    monkeypatch.setattr(Console, "run", lambda self, sessions, pedal: made.append(len(sessions)))
    monkeypatch.setattr("backing.cli.play.Device.output", lambda self: io.BytesIO())
    assert call("play", "book/friday.set", "--transpose", "2") == 0
    *tunes, number = made
    assert number == 3
    assert [(source, up) for source, up, _ in tunes] == [(name, 2) for name in IN_ORDER]
    assert len({id(output) for *_, output in tunes}) == 1


def test_a_tune_that_cannot_be_played_so_is_told_before_the_first_begins(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With its name, and without opening a port."""
    monkeypatch.setattr("backing.cli.play.Device.output", lambda self: pytest.fail("opened"))
    Path("book/b-mill.chart").write_text("key: Em\n[B]\n| Em |\n")
    assert call("play", "book/friday.set", "--loop", "A") == 2
    assert "book/b-mill.chart: 'A' is not a part" in capsys.readouterr().err
