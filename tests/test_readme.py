"""What the README says works as written."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from backing.chart.model import DIRECTIONS, ENDINGS
from backing.chart.read import read_chart
from backing.harmony.chord import read_chord
from backing.style.library import all_styles
from backing.timing import Tempo

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
CONSOLE = re.findall(r"```console\n(.*?)```", README, re.DOTALL)
COMMANDS = [line.removeprefix("$ ") for block in CONSOLE for line in block.splitlines()]


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """Return a folder with what the README's commands need."""
    for name in ("demos", "styles"):
        shutil.copytree(ROOT / name, tmp_path / name)
    return tmp_path


def test_two_commands_do_the_set_up() -> None:
    """One command installs and renders a demo, one installs and runs the tests."""
    alone = "python3 -m venv .venv && .venv/bin/pip install -q "
    installing = [command for command in COMMANDS if " install " in command]

    assert installing == [
        f"{alone}. && .venv/bin/backing render demos/quarry-hill.chart -o quarry-hill.mp3 --midi",
        f"{alone}-e '.[test]' && .venv/bin/pytest",
    ]


def test_every_command_runs(checkout: Path) -> None:
    """Every command in the README exits 0; installing itself is the gate's business."""
    folder = str(Path(sys.executable).parent)
    for command in COMMANDS:
        for part in command.split(" && "):
            if part.startswith("backing"):
                done = subprocess.run(
                    [f"{folder}/{part}"],
                    shell=True,
                    cwd=checkout,
                    capture_output=True,
                    text=True,
                    check=False,
                )
                assert (part, 0, "") == (part, done.returncode, done.stderr.replace("\n", ""))


def test_the_chart_of_the_readme_is_sound() -> None:
    """The chart that the README shows reads without a fault."""
    text = re.search(r"```\n(title:.*?)```", README, re.DOTALL)

    assert text
    assert read_chart(text[1]).title == "Quarry Hill Rag"


def test_the_chords_of_the_readme_are_chords() -> None:
    """Every chord that the README gives as an example is one."""
    paragraph = README.split("**Chords** are written")[1].split("After a slash")[0]
    symbols = re.findall(r"`([^`]+)`", paragraph)

    assert len(symbols) > 20
    for symbol in symbols:
        read_chord(symbol)


@pytest.mark.parametrize("word", [*DIRECTIONS, *ENDINGS])
def test_the_readme_knows_every_direction_and_ending(word: str) -> None:
    """The README names every direction and ending of the chart language."""
    assert f'"{word}"' in README or f"`{word}`" in README


def test_the_readme_knows_every_style() -> None:
    """Every style has its row with the tempi of its file, in the beats of its meter."""
    for style in all_styles()[0]:
        rows = [line for line in README.splitlines() if line.startswith(f"| `{style.name}`")]
        assert rows, f"README.md, The styles: the row of {style.name} is missing"
        row = rows[0]

        slow, fast = (
            Tempo.in_beats(bpm, style.meters[0]) for bpm in (style.slowest_bpm, style.fastest_bpm)
        )
        assert f"{slow.bpm:g} to {fast.bpm:g}" in row
