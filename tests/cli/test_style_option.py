"""`--style` with the file of a style: wherever the option is, and in packs."""

from __future__ import annotations

import hashlib
import io
import json
import shlex
import sys
from pathlib import Path

import mido
import pytest

from backing.cli import main
from backing.style.library import style_files

CHART = "title: Two Lamps\nkey: G\nstyle: no-such-style\ntempo: 150\n[A] 2\n| G | D7 |\n"
PACK = ["pack", "two.chart", "-o", "packs", "--tempi", "240", "--choruses", "1", "--parts", "none",
        "--minus", "none", "--format", "flac", "--style", "./mine.toml"]  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder with a chart and a style of one's own, whose bass is a tuba."""
    monkeypatch.chdir(tmp_path)
    Path("two.chart").write_text(CHART, encoding="utf-8")
    write_style(59)
    return tmp_path


def write_style(program: int) -> None:
    """Write the style with another program of the bass."""
    text = style_files()["swing"].read_text(encoding="utf-8")
    before, bass, after = text.partition("[bass]\n")
    first, sound, rest = after.partition("program = ")
    changed = f"{before}{bass}{first}{sound}{program}\n{rest.partition(chr(10))[2]}"
    Path("mine.toml").write_text(changed, encoding="utf-8")


def call(*arguments: str) -> int:
    """Run the command line here and return its exit code."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["backing", *arguments])
        try:
            main()
        except SystemExit as ending:
            return int(ending.code or 0)
    return 0


def test_a_take_in_a_style_at_a_path(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It has that style's sounds, and says its name."""
    assert call("render", "two.chart", "-o", "x.mid", "--style", "./mine.toml") == 0

    assert ", mine at 150," in capsys.readouterr().out
    programs = {
        (message.channel, message.program)
        for track in mido.MidiFile(file=io.BytesIO(Path("x.mid").read_bytes())).tracks
        for message in track
        if message.type == "program_change"
    }
    assert (0, 58) in programs


@pytest.mark.parametrize(
    "arguments",
    [
        ["render", "two.chart", "-o", "x.mid"],
        ["shapes", "two.chart"],
        ["show", "two.chart", "--shapes"],
        ["pack", "two.chart", "-o", "packs", "--list-jobs"],
    ],
)
def test_wherever_there_is_the_option(
    arguments: list[str], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The file is found by its path, and its faults are reported with that path."""
    assert call(*arguments, "--style", "./mine.toml") == 0
    Path("broken.toml").write_text("about = \n", encoding="utf-8")
    capsys.readouterr()
    assert call(*arguments, "--style", "./broken.toml") == 2
    assert capsys.readouterr().err.startswith("./broken.toml:1:9: ")
    assert call(*arguments, "--style", "./none.toml") == 2
    assert capsys.readouterr().err.startswith("./none.toml: there is no such file")


def test_a_pack_in_a_style_at_a_path(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its jobs keep the path, its manifest names the style, and it follows the file's text."""
    assert call(*PACK, "--list-jobs") == 0
    jobs = [shlex.split(line) for line in capsys.readouterr().out.splitlines()]
    assert all("--style ./mine.toml" in " ".join(job) for job in jobs)
    (midi,) = (job for job in jobs if job[-1].endswith(".mid"))

    assert call(*midi[1:]) == 0
    path = Path(capsys.readouterr().out.strip())
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    assert call(*PACK) == 0
    assert digest == hashlib.sha256(path.read_bytes()).hexdigest()
    manifest = json.loads(Path("packs/manifest.json").read_text(encoding="utf-8"))
    assert manifest["styles"] == ["mine"]
    assert "1 up to date" in capsys.readouterr().out

    assert call(*PACK) == 0
    assert ": 0 files made" in capsys.readouterr().out
    write_style(60)
    assert call(*PACK) == 0
    assert f": {len(jobs)} files made, 0 up to date" in capsys.readouterr().out
