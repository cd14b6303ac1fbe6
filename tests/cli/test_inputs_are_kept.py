"""No command writes over a file that it reads, forced or not, by whatever name."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import mido
import pytest

from backing.cli import main
from backing.fretboard.instrument import instrument_files
from backing.style.library import style_files

CHART = "title: Mill Race\nkey: G\nmelody: race.mid\n[A]\n| G | C | D7 | G |\n"
ABC = "X:1\nT:Mill\nM:4/4\nL:1/4\nK:G\nGABc|\n"
PLAIN = CHART.replace("melody: race.mid\n", "")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder with files that commands read, each under other names, too."""
    monkeypatch.chdir(tmp_path)
    write("a.chart", PLAIN)
    for name in ("a.mid", "a.wav", "a.svg", "a.pdf", "a.zip"):  # charts, whatever they are called
        write(name, PLAIN)
    write("a.abc", ABC)
    write("own/groove", style_files()["swing"].read_text(encoding="utf-8"))
    write("lute.toml", instrument_files()["mandolin"].read_text(encoding="utf-8"))
    Path("book").mkdir()
    write("book/a.chart", PLAIN)
    melody().save("race.mid")
    write("race.chart", CHART.replace("race.mid", "race.abc"))
    write("race.abc", ABC.replace("GABc", "GABc|cccc|AAAA|GGGG").replace("T:", "P:A\nT:"))
    for name, end in (("link.mid", "a.mid"), ("link.abc", "a.abc"), ("link", "own/groove")):
        Path(name).symlink_to(end)
    os.link("a.mid", "same.mid")
    return tmp_path


def write(name: str, text: str) -> None:
    """Write a file, and the folder around it."""
    Path(name).parent.mkdir(exist_ok=True)
    Path(name).write_text(text, encoding="utf-8")


def melody() -> mido.MidiFile:
    """Return four bars of quarter notes as a MIDI file."""
    notes = [
        mido.Message(kind, note=67, time=time)
        for _ in range(16)
        for kind, time in (("note_on", 0), ("note_off", 480))
    ]
    return mido.MidiFile(tracks=[mido.MidiTrack(notes)])


def said(*arguments: str) -> str:
    """Return what a command says about its faults; "" when there are none."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["backing", *arguments])
        try:
            main()
        except SystemExit as ending:
            return str(ending.code or "")
    return ""


def files() -> dict[str, bytes]:
    """Return the bytes of every file."""
    return {str(path): path.read_bytes() for path in Path().rglob("*") if path.is_file()}


QUICK = ["-n", "1", "--only", "bass", "--force"]
OVER_INPUTS = [
    ["render", "a.chart", "-o", "a.chart", *QUICK],
    ["render", "a.mid", "-o", "a.mid", *QUICK],
    ["render", "a.mid", "-o", "./book/../a.mid", *QUICK],
    ["render", "a.mid", "-o", "link.mid", *QUICK],
    ["render", "link.mid", "-o", "a.mid", *QUICK],
    ["render", "a.mid", "-o", "same.mid", *QUICK],
    ["render", "a.mid", *QUICK],
    ["render", "a.wav", *QUICK, "-o", "a.wav"],
    ["render", "a.mid", *QUICK, "-o", "a.wav", "--midi"],
    ["render", "a.chart", *QUICK, "--style", "./own/groove", "-o", "own/groove"],
    ["render", "a.chart", *QUICK, "--style", "./own/groove", "-o", "link"],
    ["sheet", "a.svg", "-o", "a.svg", "--force"],
    ["sheet", "a.pdf", "--force"],
    ["pack", "a.zip", "-o", "a.zip", "--force"],
    ["convert", "a.abc", "a.abc", "--force"],
    ["convert", "a.chart", "a.chart", "--force"],
    ["convert", "a.abc", "link.abc", "--force"],
    ["convert", "race.chart", "race.abc", "--force"],
]
OTHER_KINDS = [
    ["render", "race.chart", "-o", "a.chart", *QUICK],
    ["render", "a.chart", "-o", "a.abc", *QUICK],
    ["render", "a.chart", "-o", "lute.toml", *QUICK],
    ["render", "a.chart", "-o", "own/groove", *QUICK],
]


@pytest.mark.parametrize("arguments", [*OVER_INPUTS, *OTHER_KINDS], ids=" ".join)
def test_what_is_read_stays(
    arguments: list[str], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command says so and exits with 2; nothing changes."""
    before = files()
    capsys.readouterr()

    assert said(*arguments) == "2"

    told = capsys.readouterr().err
    assert ("is read by this command" in told) == (arguments in OVER_INPUTS), told
    assert files() == before


def test_a_melody_that_is_a_midi_file_stays(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A chart's usual MIDI file has the name that its melody may have."""
    write("race.chart", CHART)
    before = files()

    assert said("render", "race.chart", *QUICK) == "2"
    assert "race.mid is read by this command" in capsys.readouterr().err
    assert files() == before
    assert said("render", "race.chart", *QUICK, "-o", "take.mid") == ""


def test_standard_streams_that_are_the_chart(folder: Path) -> None:
    """Read from a file and written to it at once, it would grow or be lost."""
    before = files()
    for arguments in (["render", "-", "-o", "-"], ["tidy", "-"], ["sheet", "a.chart", "-o", "-"]):
        with Path("a.chart").open("rb") as chart, Path("a.chart").open("ab") as end:
            done = subprocess.run(
                [sys.executable, "-m", "backing", *arguments],
                stdin=chart, stdout=end, stderr=subprocess.PIPE, text=True, check=False,
            )  # fmt: skip
        assert (done.returncode, "standard output is read" in done.stderr) == (2, True)
    assert files() == before


def test_the_melody_of_another_chart_stays(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a folder that is rendered into itself, whichever comes first; the others are rendered."""
    for name in ("a", "b", "c"):
        write(f"book/{name}.chart", CHART.replace("race.mid", "b.mid") if name != "b" else PLAIN)
    melody().save("book/b.mid")
    before = files()

    assert said("render", "book", "-o", "book/", *QUICK) == "2"

    told = capsys.readouterr().err
    assert f"{Path('book/b.mid')} is read by this command" in told
    after = files()
    assert {name: after[name] for name in before} == before
    assert {*after} - {*before} == {str(Path("book/a.mid")), str(Path("book/c.mid"))}
