"""The melody on the command line: rendered, shown, checked, and watched while it plays."""

from __future__ import annotations

import io
import sys
from typing import TYPE_CHECKING

import mido
import pytest

from backing.cli import main
from backing.live.session import ChartFile
from backing.scores.sidecar import load_tune
from backing.stand.songbook import Songbook

if TYPE_CHECKING:
    from pathlib import Path

CHART = "title: Led\nkey: C\ntempo: 160\nmelody: led.melody\n[A]\n| C | G |\n"
MELODY = "[A]\n| C5:1/4 E5 G5 E5 | D5:1/2 B4 |\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the folder in which we stand, with a chart and its melody."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "led.chart").write_text(CHART, encoding="utf-8")
    (tmp_path / "led.melody").write_text(MELODY, encoding="utf-8")
    return tmp_path


def call(*arguments: str) -> int:
    """Run the command line here and return its exit code."""
    old, sys.argv = sys.argv, ["backing", *arguments]
    try:
        main()
    except SystemExit as error:
        return int(error.code or 0)
    finally:
        sys.argv = old
    return 0


def tracks(path: Path) -> dict[str, list[int]]:
    """Return the keys that each track of a file strikes."""
    file = mido.MidiFile(file=io.BytesIO(path.read_bytes()))
    return {
        track.name: [message.note for message in track if message.type == "note_on"]
        for track in file.tracks[1:]
    }


def test_render(folder: Path) -> None:
    """The lead has its own track and can be left out, alone, doubled, or in some choruses only."""
    lines = {
        "all": [],
        "none": ["--without", "lead"],
        "alone": ["--only", "lead"],
        "first": ["--lead", "first"],
        "doubled": ["--lead-octave"],
        "in-d": ["--key", "D"],
    }
    for name, options in lines.items():
        assert call("render", "led.chart", "-o", f"{name}.mid", "-n", "2", *options) == 0
    found = {name: tracks(folder / f"{name}.mid") for name in lines}

    tune = [72, 76, 79, 76, 74, 71]
    assert list(found["all"]) == ["Bass", "Chop", "Lead", "Drums"]
    assert found["all"]["Lead"] == tune * 2
    assert "Lead" not in found["none"]
    assert found["alone"]["Lead"] == tune * 2
    assert set(found["alone"]["Drums"]) <= {*found["alone"]["Drums"][:1]}  # the count-in's click
    assert set(found["alone"]) == {"Lead", "Drums"}
    assert found["first"]["Lead"] == tune
    assert len(found["doubled"]["Lead"]) == 4 * len(tune)
    assert found["in-d"]["Lead"] == [key + 2 for key in tune * 2]
    for name in ("none", "first", "doubled"):
        assert found[name]["Bass"] == found["all"]["Bass"]


def test_show_and_check(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`show` prints the melody below the chart, in its key; `check` prints its range."""
    assert call("show", "led.chart", "--melody", "--key", "D") == 0
    assert "| D5:1/4 F#5 A5 F#5 | E5:1/2 C#5 |" in capsys.readouterr().out
    assert call("check", "led.chart") == 0
    assert "melody from B4 to G5" in capsys.readouterr().out

    (folder / "bare.chart").write_text(CHART.replace("melody: led.melody\n", ""))
    assert call("show", "bare.chart", "--melody") == 2
    assert "the chart has no line 'melody:'" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["render", "check", "play"])
def test_a_melody_with_a_fault(
    command: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is reported with its place, and nothing is written."""
    (folder / "led.melody").write_text(MELODY.replace("E5", "H5", 1), encoding="utf-8")

    assert call(command, "led.chart") == 2
    assert "led.melody:2:10: 'H5' is not a pitch" in capsys.readouterr().err
    (folder / "led.melody").unlink()
    assert call(command, "led.chart") == 2
    advice = "led.melody: there is no such file: put it in the folder of led.chart"
    assert advice in capsys.readouterr().err
    assert not list(folder.glob("*.mid"))


def test_a_melody_that_is_saved_comes_in(folder: Path) -> None:
    """Who mends the melody while the band plays is heard, like one who mends the chart."""
    watched = ChartFile("led.chart", "led.melody")
    assert watched.changed() is None
    (folder / "led.melody").write_text(MELODY.replace("B4", "B4:1/4 C5"), encoding="utf-8")

    chart = watched.changed()

    assert chart == load_tune("led.chart")
    assert chart is not None
    assert chart.melody is not None
    assert len(chart.melody.pitches()) == 7
    assert watched.changed() is None


def test_a_songbook_sees_a_melody_that_is_mended(folder: Path) -> None:
    """A chart is faulty for want of its melody only as long as that is missing."""
    text = (folder / "led.melody").read_text(encoding="utf-8")
    (folder / "led.melody").unlink()
    songbook = Songbook(folder)
    assert "there is no such file" in songbook.tunes()[0].fault

    (folder / "led.melody").write_text(text, encoding="utf-8")

    assert [entry.fault for entry in songbook.tunes()] == [""]
