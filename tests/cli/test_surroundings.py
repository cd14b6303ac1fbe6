"""The commands among shells, pipes and signals: processes of their own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

COMMAND = [sys.executable, "-m", "backing"]
CHART = "title: Över ån ♭\nkey: G\n| G | C |\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in an empty folder with a chart whose name is not ASCII."""
    (tmp_path / "ån.chart").write_text(CHART, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_version() -> None:
    """The version is told and no command is asked for."""
    done = subprocess.run([*COMMAND, "--version"], capture_output=True, text=True, check=True)

    assert done.stdout.startswith("backing 0.")


@pytest.mark.parametrize(
    "command, usage",
    [
        ("check", "CHART..."),
        ("render", "CHART..."),
        ("show", "CHART"),
        ("tidy", "CHART..."),
        ("pedal", "[PORT]"),
    ],
)
def test_help_names_arguments_and_no_types(command: str, usage: str) -> None:
    """The usage line is what a user would type; no types of the language stand in the help."""
    done = subprocess.run([*COMMAND, command, "-h"], capture_output=True, text=True, check=True)

    assert done.stdout.splitlines()[0].endswith(f"{command} [OPTIONS] {usage}")
    assert "<" not in done.stdout


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full device here")
@pytest.mark.parametrize(
    "arguments",
    [["show", "ån.chart"], ["check", "ån.chart"], ["render", "ån.chart", "-o", "-"], ["--help"]],
)
def test_a_full_disk_is_told(folder: Path, arguments: list[str]) -> None:
    """Output that cannot be written is a sentence and exit code 2."""
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*COMMAND, *arguments], stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )

    assert done.returncode == 2
    assert done.stderr.splitlines()[-1].startswith("backing: the output cannot be written: ")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("arguments", [["show", "ån.chart"], ["check", "ån.chart", "nö.chart"]])
def test_a_terminal_without_the_signs(folder: Path, arguments: list[str]) -> None:
    """What a terminal cannot show is a question mark there."""
    done = subprocess.run(
        [*COMMAND, *arguments],
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        capture_output=True,
        text=True,
        check=False,
    )

    assert "?ver ?n ?" in done.stdout
    assert "Traceback" not in done.stderr


def test_a_file_on_standard_output(folder: Path) -> None:
    """A dash leads the file into a pipe, and what is said about it goes elsewhere."""
    done = subprocess.run(
        [*COMMAND, "render", "ån.chart", "-o", "-"], capture_output=True, check=True
    )
    subprocess.run([*COMMAND, "render", "ån.chart", "-o", "take.mid"], check=True)

    assert done.stdout == Path("take.mid").read_bytes()
    assert b"standard output: " in done.stderr


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
@pytest.mark.parametrize(
    "number, to_all, code, told",
    [
        (signal.SIGINT, True, 130, "stopped"),
        (signal.SIGINT, False, 130, "stopped"),
        (signal.SIGTERM, False, 143, ""),
    ],
)
def test_a_folder_that_is_being_rendered_can_be_stopped(
    folder: Path, number: signal.Signals, to_all: bool, code: int, told: str
) -> None:
    """A signal ends all its processes and leaves no file.

    The charts are pipes: a worker that reads one is at work until the test ends it.
    """
    Path("charts").mkdir()
    for name in ("a", "b"):
        os.mkfifo(f"charts/{name}.chart")
    work = subprocess.Popen(
        [*COMMAND, "render", "charts", "-o", "takes"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    chart = os.open("charts/a.chart", os.O_WRONLY)  # waits for the worker that reads it
    (os.killpg if to_all else os.kill)(work.pid, number)
    out, err = work.communicate()

    assert (out, work.returncode) == ("", code)
    assert err.strip() == told
    with pytest.raises(BrokenPipeError):
        os.write(chart, b"| C |")
    os.close(chart)
    assert list(Path("takes").iterdir()) == []
