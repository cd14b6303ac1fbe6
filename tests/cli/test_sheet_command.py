"""`backing sheet` as a user calls it."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from backing.out.sheet.compose import practice_tempi
from backing.timing import Tempo
from tests.cli.test_commands import call

CHART = """\
title: Two Chords
by: Nobody
key: A
tempo: 150
style: swing
[A]
| A | E/G# | F#m | E7 |
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder with charts."""
    (tmp_path / "two.chart").write_text(CHART, encoding="utf-8")
    (tmp_path / "bad.chart").write_text("| Hb |\n| Zz |\n", encoding="utf-8")
    (tmp_path / "book").mkdir()
    for number, key in enumerate("GDA"):
        text = f"title: Tune {number}\nkey: {key}\n| {key} |\n"
        (tmp_path / "book" / f"{number}.chart").write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def words(path: str = "two.pdf") -> str:
    """Return the text of a PDF file, pages after each other."""
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def test_help(capsys: pytest.CaptureFixture[str]) -> None:
    """The help is short and ends with an example."""
    assert call("sheet", "--help") == 0
    text = capsys.readouterr().out
    assert "Example: backing sheet" in text
    assert len(text.splitlines()) < 40


def test_a_sheet_and_what_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a name it is called as the chart; it has all that a sheet has."""
    assert call("sheet", "two.chart") == 0
    assert capsys.readouterr().out == "two.pdf: Two Chords, key A, 1 page\n"
    text = words()
    for said in (
        *("Two Chords", "Nobody", "A major", "4/4", "♩ = 150", "swing", "E/G♯", "F♯m"),
        *("4 bars once round", "Shapes for guitar", "Practice", "stop when a hand hurts"),
    ):
        assert said in text


def test_options_reach_the_sheet() -> None:
    """Key, numbers, instrument, left hand, tempi, paper and size are obeyed."""
    options = ["--numbers", "--key", "Bb", "-i", "guitar", "--left", "--tempi", "61,62.5"]
    assert call("sheet", "two.chart", *options, "--paper", "letter", "--large") == 0
    text = words()
    assert "1 5/7 6m 57" in text
    assert "B♭ major" in text
    assert "Shapes for guitar, left hand" in text
    assert "61 62.5" in text
    assert float(PdfReader("two.pdf").pages[0].mediabox.width) == pytest.approx(612)
    assert call("sheet", "two.chart", "--shapes", "none", "--tempi", "none", "--force") == 0
    assert "Shapes" not in words()
    assert "Practice" not in words()


def test_svg_by_the_ending_of_the_name(capsys: pytest.CaptureFixture[str]) -> None:
    """A name that ends in .svg gets a drawing."""
    assert call("sheet", "two.chart", "-o", "two.svg") == 0
    assert Path("two.svg").read_text(encoding="utf-8").startswith("<?xml")


def test_a_folder_is_a_songbook(capsys: pytest.CaptureFixture[str]) -> None:
    """Contents, a page for each tune, an index."""
    assert call("sheet", "book", "-o", "songs.pdf") == 0
    assert capsys.readouterr().out == "songs.pdf: 3 tunes, 5 pages\n"
    pages = [page.extract_text() for page in PdfReader("songs.pdf").pages]
    assert pages[0].startswith("Contents")
    assert [f"Tune {n}" in pages[n + 1] for n in range(3)] == [True] * 3
    assert pages[4].index("G major") < pages[4].index("D major") < pages[4].index("A major")


def test_a_faulty_chart_makes_no_songbook(capsys: pytest.CaptureFixture[str]) -> None:
    """All its faults are reported, and no file is written."""
    Path("bad.chart").rename("book/bad.chart")
    assert call("sheet", "book", "-o", "songs.pdf") == 2
    told = capsys.readouterr().err
    assert "'Hb' is not a chord" in told
    assert "'Zz' is not a chord" in told
    assert "no songbook is made: correct or leave out 1 chart" in told
    assert not Path("songs.pdf").exists()


@pytest.mark.parametrize(
    "arguments, said",
    [
        (["bad.chart"], "bad.chart:1:3: 'Hb' is not a chord"),
        (["two.chart", "-o", "two.png"], "two.png: end the name of a sheet in .pdf or .svg"),
        (["book", "-o", "book.svg"], "book.svg: end the name of a songbook in .pdf"),
        (["two.chart", "-o", "none/two.pdf"], "there is no folder none: make it first"),
        (["two.chart", "-o", "book"], "book is a folder"),
        (["two.chart", "--paper", "a5"], "--paper a5: choose from a4, letter"),
        (["two.chart", "--shapes", "left"], "--shapes left: choose from below, above, none"),
        (["two.chart", "--numbers", "--roman"], "use --numbers or --roman, not both"),
        (["two.chart", "--key", "Em"], "two.chart: the chart is in A, which is major"),
        (["two.chart", "--tempi", "120,x"], "'x' is not a tempo"),
        (["two.chart", "--tempi", "0,5"], "tempo '0' is 0 quarter notes"),
        (["two.chart", "--tempo", "9"], "tempo '9'"),
        (["two.chart", "-i", "oboe"], "oboe"),
        (["two.chart", "--reach", "5"], "reach 5: a hand reaches"),
        (["-"], "a chart from standard input needs a name"),
        (["missing.chart"], "missing.chart"),
    ],
)
def test_what_cannot_be_is_a_sentence(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2, a sentence, and no file."""
    assert call("sheet", *arguments) == 2
    assert said in capsys.readouterr().err
    assert not list(Path().glob("*.pdf"))


def test_a_file_that_is_there_is_kept(capsys: pytest.CaptureFixture[str]) -> None:
    """It is replaced with --force only."""
    Path("two.pdf").write_text("mine", encoding="utf-8")
    assert call("sheet", "two.chart") == 2
    assert "replace it with --force" in capsys.readouterr().err
    assert Path("two.pdf").read_text(encoding="utf-8") == "mine"
    assert call("sheet", "two.chart", "--force") == 0
    assert words().startswith("Two Chords")


def test_missing_letters_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    """A title in letters that the faces do not have makes a sheet and a remark."""
    Path("two.chart").write_text(CHART.replace("Two", "二つ"), encoding="utf-8")
    assert call("sheet", "two.chart") == 0
    assert "note: two.chart: the sheet's fonts do not have 二 つ" in capsys.readouterr().err


def test_into_a_pipe() -> None:
    """With `-` for both, a chart goes in and a PDF file comes out."""
    command = [sys.executable, "-m", "backing", "sheet", "-", "-o", "-"]
    done = subprocess.run(command, input=CHART.encode(), capture_output=True, check=True)

    assert len(PdfReader(io.BytesIO(done.stdout)).pages) == 1
    assert done.stderr == b"standard output: Two Chords, key A, 1 page\n"


def test_ctrl_c_leaves_nothing(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Stopped while it lays out: 130, a word, no file and no other left behind."""
    before = set(Path().iterdir())

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("backing.out.sheet.songbook.pages_of", stopped)
    assert call("sheet", "book", "-o", "songs.pdf") == 130
    assert capsys.readouterr().err.strip().endswith("stopped")
    assert set(Path().iterdir()) == before


@pytest.mark.parametrize("unit", ["quarter", "half", "dotted-quarter"])
def test_tempi_lead_to_the_goal_and_one_beyond(unit: str) -> None:
    """From three fifths of the goal, on a round grid, ascending, the goal itself among them."""
    for goal in (40.0, 60.0, 99.0, 112.5, 160.0, 230.0, 330.0):
        found = practice_tempi(Tempo(goal, unit))
        assert list(found) == sorted(set(found))
        assert found[-2] == goal
        assert 6 <= len(found) <= 8
        grid = 5 if goal >= 100 else 2
        assert [each for each in found if each != goal and each % grid] == []
        assert 0.55 * goal < found[0] < 0.65 * goal
