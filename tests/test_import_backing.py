"""The library does what the commands do, says so in its examples, and costs nothing to import."""

from __future__ import annotations

import doctest
import re
import subprocess
import sys
from importlib import import_module
from importlib.metadata import version
from inspect import getdoc, isfunction
from pathlib import Path

import pretty_midi
import pytest
import soundfile

import backing
from backing import library
from backing.cli import main

DEMOS = Path(__file__).parent.parent / "demos"
DEMO = DEMOS / "wheelbarrow-lane.chart"


def command(monkeypatch: pytest.MonkeyPatch, *words: object) -> None:
    """Run a command of the command line."""
    monkeypatch.setattr(sys, "argv", ["backing", *map(str, words)])
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code


def test_every_public_function_has_an_example() -> None:
    """The docstring of each function shows a call of it."""
    names = [name for name in library.__all__ if isfunction(getattr(library, name))]

    assert len(names) > 6
    for name in names:
        calls = [
            line for line in (getdoc(getattr(library, name)) or "").splitlines() if ">>>" in line
        ]
        assert any(f"{name}(" in line for line in calls), f"{name} has no example"


@pytest.mark.parametrize("module", ["backing", "backing.library"])
def test_the_examples_are_true(
    module: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the docstrings show is what happens; their files are written to an empty folder."""
    monkeypatch.chdir(tmp_path)
    found = doctest.testmod(import_module(module))
    assert found.attempted > 0
    assert found.failed == 0


def test_the_readme_shows_what_works(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The program in the README runs as it stands there."""
    readme = (DEMOS.parent / "README.md").read_text("utf-8")
    (program,) = re.findall(r"```python\n(import backing\n.*?)```", readme, re.S)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "demos").symlink_to(DEMOS)
    exec(program, {})  # it is our own
    assert (tmp_path / "quarry-hill-swing.mid").is_file()


def test_every_public_name_is_there_and_described() -> None:
    """Each name of `__all__` can be had, is described, and is that of the library."""
    assert set(backing.__all__) - {"__version__"} == set(library.__all__)
    for name in library.__all__:
        assert getattr(backing, name) is getattr(library, name)
        assert getattr(backing, name).__doc__
    assert backing.__version__ == version("backing")
    assert set(dir(backing)) == set(backing.__all__)
    with pytest.raises(AttributeError, match="no attribute 'wreck'"):
        backing.wreck  # noqa: B018  # asking is the test


def test_importing_it_imports_nothing_else() -> None:
    """`import backing` loads no module of the rooms below, and so no library either."""
    code = "import sys, backing; print(*(name for name in sys.modules if 'backing.' in name))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []


def test_midi_is_that_of_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same chart with the same settings gives the same bytes, melody and all."""
    settings = backing.Settings(style="march", choruses=2, seed=7)
    chart = backing.load(DEMO)
    backing.write_midi(chart, tmp_path / "library.mid", settings)
    options = ("--style", "march", "-n", 2, "--take", 7)
    command(monkeypatch, "render", DEMO, "-o", tmp_path / "a.mid", *options)

    assert (tmp_path / "library.mid").read_bytes() == (tmp_path / "a.mid").read_bytes()
    read = pretty_midi.PrettyMIDI(str(tmp_path / "library.mid"))
    assert "Lead" in [track.name for track in read.instruments]
    with pytest.raises(backing.BackingError, match=r"library\.mid"):
        backing.write_midi(chart, tmp_path / "library.mid", settings)
    backing.write_midi(chart, tmp_path / "library.mid", settings, overwrite=True)


def test_bars_are_those_of_the_file(tmp_path: Path) -> None:
    """Every note of the bars stands in the file, and none else."""
    chart = backing.read_chart("title: Four\nkey: D\nstyle: reel\n[A] 4\n| D | G | A7 | D |\n")
    settings = backing.Settings(choruses=1)
    notes = [note for bar in backing.perform(chart, settings) for note in bar.notes]
    backing.write_midi(chart, tmp_path / "four.mid", settings)
    read = pretty_midi.PrettyMIDI(str(tmp_path / "four.mid"))

    assert sorted(note.pitch for note in notes) == sorted(
        note.pitch for track in read.instruments for note in track.notes
    )


def test_a_recording_sounds(tmp_path: Path) -> None:
    """A sound file is as long as the performance, and not silent."""
    chart = backing.read_chart("title: Two\nkey: C\ntempo: 240\n[A] 2\n| C | G7 |\n")
    backing.render_audio(chart, tmp_path / "two.wav", backing.Settings(choruses=1, count_in=1))
    samples, rate = soundfile.read(tmp_path / "two.wav")

    assert 3 < len(samples) / rate < 10  # three bars of four beats at 240, and the ring
    assert abs(samples).max() > 0.1
    with pytest.raises(backing.BackingError, match=r"must end in \.wav"):
        backing.render_audio(chart, tmp_path / "two.txt")


def test_a_tune_there_and_back(tmp_path: Path) -> None:
    """A chart as MusicXML and back has the same chords and the same melody."""
    there, back = tmp_path / "there.musicxml", tmp_path / "back.chart"
    backing.convert(DEMO, there)
    backing.convert(there, back)
    before, after = backing.load(DEMO), backing.load(back)

    assert [part.sections for part in before.parts] == [part.sections for part in after.parts]
    assert before.melody is not None
    assert after.melody is not None
    (tmp_path / "two.abc").write_text("X:1\nT:A\nK:G\nGABc|]\n\nX:2\nT:B\nK:G\nGABc|]\n", "utf-8")
    with pytest.raises(backing.BackingError, match="has 2 tunes"):
        backing.convert(tmp_path / "two.abc", tmp_path / "two.chart")


def test_shapes_are_those_of_the_command(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same shapes in the same order."""
    command(monkeypatch, "shapes", "Gm7", "-i", "guitar", "--max", 3)
    printed = capsys.readouterr().out
    places = [printed.index(str(shape)) for shape in backing.shapes("Gm7", "guitar", most=3)]

    assert places == sorted(places)
    with pytest.raises(backing.BackingError, match="not a chord"):
        backing.shapes("Gwrong")
