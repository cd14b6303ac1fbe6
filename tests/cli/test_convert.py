"""`backing convert`: the files it reads and writes, and its messages."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

from backing.chart.read import load_chart
from backing.scores.sidecar import load_melody
from backing.style.library import style_meters

if TYPE_CHECKING:
    from pathlib import Path

TUNES = """\
X:1
T:The Patient Kettle
M:6/8
L:1/8
K:G
|:D|"G"G2B d2B|"C"c2e "D7"d2c|"G"B2G "D7"A2F|"G"G3 G2:|

X:2
T:The Patient Kettle
M:C|
L:1/8
K:Ador
A2BA G2EG|A8|]

X:3
T:Nothing
K:C
"""


def backing(folder: Path, *args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "backing", *args],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


def test_many_tunes_into_a_folder(tmp_path: Path) -> None:
    """Every tune becomes a chart with its melody, and one that is none stops no other."""
    (tmp_path / "tunes.abc").write_text(TUNES)

    done = backing(tmp_path, "convert", "tunes.abc", "out/")

    assert done.returncode == 2
    assert "tunes.abc:15: there is no music in it" in done.stderr
    assert "has no chords" in done.stderr
    names = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert names == [
        "the-patient-kettle-2.chart",
        "the-patient-kettle-2.melody",
        "the-patient-kettle.chart",
        "the-patient-kettle.melody",
    ]
    source = str(tmp_path / "out" / "the-patient-kettle.chart")
    chart = load_chart(source, style_meters())
    assert load_melody(chart, source)


def test_one_tune_is_chosen_and_harmonised(tmp_path: Path) -> None:
    """`--tune` takes one of many, `--harmonise` gives it chords; nothing is replaced unasked."""
    (tmp_path / "tunes.abc").write_text(TUNES)
    command = ("convert", "tunes.abc", "two.chart", "--tune", "2", "--harmonise")

    done = backing(tmp_path, *command)
    again = backing(tmp_path, *command)
    forced = backing(tmp_path, *command, "--force")

    assert (done.returncode, again.returncode, forced.returncode) == (0, 2, 0)
    assert "plain harmony" in done.stderr
    assert "is there already" in again.stderr
    assert "| Am" in (tmp_path / "two.chart").read_text()


def test_there_and_back(tmp_path: Path) -> None:
    """A chart with its melody goes to ABC and comes back the same."""
    (tmp_path / "tunes.abc").write_text(TUNES)
    backing(tmp_path, "convert", "tunes.abc", "one.chart", "--tune", "1")

    backing(tmp_path, "convert", "one.chart", "one.abc")
    done = backing(tmp_path, "convert", "one.abc", "again.chart")

    assert done.returncode == 0, done.stderr
    again = (tmp_path / "again.chart").read_text()
    assert again.replace("again.melody", "one.melody") == (tmp_path / "one.chart").read_text()
    assert (tmp_path / "again.melody").read_text() == (tmp_path / "one.melody").read_text()


def test_wishes_that_will_not_do(tmp_path: Path) -> None:
    """A wrong name, a missing file, several tunes into one file: a sentence each."""
    (tmp_path / "tunes.abc").write_text(TUNES)
    (tmp_path / "tunes.txt").write_text(TUNES)

    for args, said in (
        (("tunes.txt", "x.chart"), "its name must end in"),
        (("none.txt", "x.chart"), "none.txt: there is no such file"),
        (("none.abc", "x.chart"), "none.abc: there is no such file"),
        (("tunes.abc", "x.chart"), "name a folder"),
        (("tunes.abc", "x.pdf", "--tune", "1"), "its name must end in"),
        (("tunes.abc", "x.chart", "--tune", "9"), "has 3 tunes"),
    ):
        done = backing(tmp_path, "convert", *args)
        assert done.returncode == 2
        assert said in done.stderr


def test_a_chart_as_a_score_and_back(tmp_path: Path) -> None:
    """A chart with its melody comes back from MusicXML, compressed or not."""
    (tmp_path / "tunes.abc").write_text(TUNES)
    backing(tmp_path, "convert", "tunes.abc", "kettle.chart", "--tune", "1")
    chart = load_chart(str(tmp_path / "kettle.chart"), style_meters())
    melody = load_melody(chart, str(tmp_path / "kettle.chart"))

    for name in ("kettle.musicxml", "kettle.mxl"):
        assert backing(tmp_path, "convert", "kettle.chart", name).returncode == 0
        done = backing(tmp_path, "convert", name, "kettle.chart", "--force")
        assert (done.returncode, done.stderr) == (0, "")
        again = load_chart(str(tmp_path / "kettle.chart"), style_meters())
        assert (again, load_melody(again, str(tmp_path / "kettle.chart"))) == (chart, melody)


def test_a_score_that_is_none(tmp_path: Path) -> None:
    """A file that is no score is refused with its name and line, and nothing is written."""
    (tmp_path / "a.xml").write_text("<html>\n<body></html>")

    done = backing(tmp_path, "convert", "a.xml", "a.chart")

    assert done.returncode == 2
    assert "a.xml:2: this is not well-formed XML" in done.stderr
    assert not (tmp_path / "a.chart").exists()
