"""The commands among shells, pipes and signals: processes of their own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
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
    """The version is printed without a command."""
    done = subprocess.run([*COMMAND, "--version"], capture_output=True, text=True, check=True)

    assert done.stdout.startswith("backing 0.")


@pytest.mark.parametrize(
    "command, usage",
    [
        ("check", "CHART..."),
        ("render", "CHART..."),
        ("show", "CHART..."),
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
    """With a dash the file goes to standard output and messages to standard error."""
    done = subprocess.run(
        [*COMMAND, "render", "ån.chart", "-o", "-"], capture_output=True, check=True
    )
    subprocess.run([*COMMAND, "render", "ån.chart", "-o", "take.mid"], check=True)

    assert done.stdout == Path("take.mid").read_bytes()
    assert b"standard output: " in done.stderr


def _worked(process: str) -> float | None:
    """Return the seconds that a process has worked; None when it has ended."""
    try:
        status = Path(f"/proc/{process}/stat").read_text(encoding="ascii")
    except OSError:
        return None
    fields = status.rpartition(")")[2].split()  # as proc(5) counts them, from the third on
    own = sum(map(int, fields[11:13])) / os.sysconf("SC_CLK_TCK")
    return None if fields[0] in ("Z", "X") else own


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="processes are not listed here")
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
    """A signal ends all its processes and leaves no file; the charts are long, so all work."""
    Path("charts").mkdir()
    for name in "abcd":
        Path(f"charts/{name}.chart").write_text("| G | C | D7 | G |\n" * 2, encoding="utf-8")
    work = subprocess.Popen(
        [*COMMAND, "render", "charts", "-o", "takes", "--choruses", "700"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    listed = Path(f"/proc/{work.pid}/task/{work.pid}/children")
    workers: list[str] = []
    while len(workers) < 2 or not all((_worked(each) or 0) > 0.3 for each in workers):
        workers = listed.read_text(encoding="ascii").split()
        time.sleep(0.01)
    (os.killpg if to_all else os.kill)(work.pid, number)
    out, err = work.communicate()

    assert (out, work.returncode) == ("", code)
    assert err.strip() == told
    for _ in range(500):  # a worker that is killed may take a moment to be gone
        if set(map(_worked, workers)) == {None}:
            break
        time.sleep(0.02)
    assert {None} == set(map(_worked, workers))
    assert list(Path("takes").iterdir()) == []
