"""The order of errors: faults of charts and options come before an existing file."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from backing.cli import main

SOUND = "key: G\n| G | C |\n"
FAULTY = "key: H\n| G | C |\n"
ABC = "X:1\nT:Mill\nM:4/4\nL:1/4\nK:G\nGABc|\n"
HERE = "is there already"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Change into a folder with a valid chart, a faulty one, and every output file."""
    monkeypatch.chdir(tmp_path)
    Path("good.chart").write_text(SOUND, encoding="utf-8")
    Path("bad.chart").write_text(FAULTY, encoding="utf-8")
    Path("bad").mkdir()
    Path("bad/bad.chart").write_text(FAULTY, encoding="utf-8")
    Path("tune.abc").write_text(ABC, encoding="utf-8")
    Path("svg").mkdir()
    for name in ("x.mid", "x.wav", "x.pdf", "x.svg", "x.zip", "x.abc", "x.chart", "x.mxl", "file"):
        Path(name).write_text("kept", encoding="utf-8")
    return tmp_path


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """Return what a command says about its faults; it must exit with 2."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["backing", *arguments])
        with pytest.raises(SystemExit) as ending:
            main()
    assert ending.value.code == 2
    return capsys.readouterr().err


TARGETS = {
    "render": ["x.mid", "x.wav"], "sheet": ["x.pdf", "x.svg"], "pack": ["x.zip", "file"],
}  # fmt: skip
OPTIONS = [
    (["--key", "H"], "'H' is not a key"),
    (["--choruses", "many"], "--choruses many: write a whole number"),
    (["--style", "stroll"], "'stroll' is not a style"),
    (["--instrument", "lute"], "'lute' is not an instrument"),
    (["--sound-font", "none.sf2"], "the sound font none.sf2 cannot be read"),
    (["--fade", "90"], "a fade of 90 seconds"),
    (["--keys", "H"], "'H' is not a key"),
    (["--parts", "Q"], "'Q'"),
    (["--tempo", "fast"], "'fast' is not a tempo"),
    (["--tempi", "fast"], "fast"),
]
TAKES = {
    "render": {"--key", "--choruses", "--style", "--instrument", "--tempo"},
    "sheet": {"--key", "--instrument", "--tempo", "--tempi"},
    "pack": {"--keys", "--choruses", "--style", "--instrument", "--parts", "--tempi",
             "--sound-font"},
}  # fmt: skip
CASES = [
    (command, target, *option)
    for command, targets in TARGETS.items()
    for target in targets
    for option in OPTIONS
    if option[0][0] in TAKES[command]
    or (target == "x.wav" and option[0][0] in ("--sound-font", "--fade"))
]


@pytest.mark.parametrize("command, target, option, fault", CASES)
def test_options_come_first(
    command: str,
    target: str,
    option: list[str],
    fault: str,
    folder: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """An invalid option is reported, and not the existing file."""
    told = said(capsys, command, "good.chart", "-o", target, *option)

    assert fault in told
    assert HERE not in told
    assert Path(target).read_text(encoding="utf-8") == "kept"


@pytest.mark.parametrize(
    "arguments",
    [
        *(
            [command, chart, "-o", target]
            for command, targets in TARGETS.items()
            for target in targets
            for chart in ("bad.chart", "none.chart", "bad")
            if chart != "bad" or target in ("x.pdf", "x.zip", "file")
        ),
        ["convert", "bad.chart", "x.abc"],
        ["convert", "bad.chart", "x.mxl"],
        ["convert", "none.abc", "x.chart"],
        ["convert", "none.txt", "x.chart"],
        ["shapes", "bad.chart", "--svg", "file"],
        ["tidy", "bad.chart"],
        ["tidy", "none.chart"],
    ],
)
def test_the_chart_comes_first(
    arguments: list[str], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A faulty or missing chart is reported, and not the existing file."""
    told = said(capsys, *arguments)

    assert ("there is no such file" if "none" in arguments[1] else "'H' is not a key") in told
    assert HERE not in told
    assert "is a file" not in told


@pytest.mark.parametrize(
    "arguments",
    [
        *([command, "good.chart", "-o", each] for command, all_ in TARGETS.items() for each in all_
          if each != "file"),
        ["convert", "good.chart", "x.abc"],
        ["convert", "good.chart", "x.mxl"],
        ["convert", "tune.abc", "x.chart"],
    ],
)  # fmt: skip
def test_nothing_is_replaced_unasked(
    arguments: list[str], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without other errors the existing file is reported and kept."""
    assert HERE in said(capsys, *arguments)
    assert Path(arguments[-1]).read_text(encoding="utf-8") == "kept"
