"""`backing pack` and sound files: whole runs, interrupted, repeated and in parallel."""

from __future__ import annotations

import hashlib
import json
import os
import resource
import shlex
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest
import soundfile

from backing.chart.read import read_chart
from backing.cli import main
from backing.performance.performance import Performance
from backing.performance.settings import Settings

COMMAND = [sys.executable, "-m", "backing"]
CHART = "title: Two Lamps\nkey: G\nstyle: two-beat\ntempo: 240\n[A] 2\n| G | D7 |\n"
SMALL = ["--tempi", "240", "--choruses", "1", "--format", "flac", "--minus", "none"]
"""The smallest pack with a recording of each kind: sheet, MIDI, whole, part."""
FEW = [*SMALL, "--parts", "none"]


def call(*arguments: str) -> int:
    """Run the command line here and return its exit code."""
    old = sys.argv
    sys.argv = ["backing", *arguments]
    try:
        main()
    except SystemExit as error:
        return int(error.code or 0)
    finally:
        sys.argv = old
    return 0


def run(*arguments: str, **named: object) -> subprocess.CompletedProcess[str]:
    """Run the command line in a process of its own."""
    return subprocess.run(
        [*COMMAND, *arguments], capture_output=True, text=True, check=False, **named
    )


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in an empty folder with a chart."""
    (tmp_path / "two.chart").write_text(CHART, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def files_in(folder: str | Path) -> dict[str, str]:
    """Return the digest of every file but the hidden ones."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in Path(folder).rglob("*")
        if path.is_file() and ".backing" not in path.relative_to(folder).parts
    }


def test_a_sound_file_by_the_ending_of_its_name(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A recording lasts as long as the performance and its last notes; --mono has one channel."""
    assert call("render", "two.chart", "-o", "t.FLAC", "-n", "1", "--mono") == 0

    info = soundfile.info("t.FLAC")
    seconds = Performance(read_chart(CHART), Settings(choruses=1)).tempo.seconds()
    assert (info.format, info.channels, info.samplerate) == ("FLAC", 1, 48_000)
    assert info.duration == pytest.approx(seconds + 2.5, abs=0.001)
    assert "LUFS" in capsys.readouterr().out
    assert call("render", "two.chart", "-o", "t.FLAC", "-n", "1") == 2
    assert "is there already" in capsys.readouterr().err


def test_stems_are_written_beside_each_other(folder: Path) -> None:
    assert call("render", "two.chart", "-o", "t.wav", "-n", "1", "--stems", "own/stems") == 0

    assert sorted(files_in("own")) == [
        f"stems/t-{player}.wav" for player in ("bass", "chop", "drums")
    ]


def test_the_midi_file_is_written_beside_a_recording(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It equals the rendered MIDI file; an existing file is not overwritten."""
    assert call("render", "two.chart", "-o", "t.ogg", "-n", "1", "--midi") == 0
    assert capsys.readouterr().out.startswith("t.ogg and t.mid: ")
    assert call("render", "two.chart", "-o", "alone.mid", "-n", "1") == 0
    assert Path("t.mid").read_bytes() == Path("alone.mid").read_bytes()

    Path("t.ogg").unlink()

    assert call("render", "two.chart", "-o", "t.ogg", "-n", "1", "--midi") == 2
    assert "t.mid is there already" in capsys.readouterr().err
    assert not Path("t.ogg").exists()


def test_a_folder_of_charts_becomes_sound(folder: Path) -> None:
    Path("three.chart").write_text(CHART, encoding="utf-8")

    assert call("render", ".", "-o", "out/", "-n", "1", "--format", "ogg") == 0
    assert sorted(files_in("out")) == ["three.ogg", "two.ogg"]


@pytest.mark.parametrize(
    "arguments, found",
    [
        (["-o", "t.m4a"], ".m4a files are not supported: end the name in wav, flac, mp3, ogg"),
        (["-o", "t.mid", "--mono"], "--mono: a MIDI file has no sound"),
        (["-o", "t.mid", "--stems", "s", "--fade", "2"], "--fade and --stems: a MIDI file"),
        (["-o", "t.wav", "--fade", "90"], "a fade of 90 seconds: choose from 0 to 60"),
        (["-o", "t.wav", "--fade", "soon"], "--fade soon: write a number"),
        (["-o", "t.wav", "--sound-font", "two.chart"], "two.chart is not a sound font"),
        (["-o", "t.wav", "--sound-font", "no.sf2"], "the sound font no.sf2 cannot be read"),
        (["-o", "out/", "--format", "m4a"], "--format m4a: choose from mid, wav, flac, mp3, ogg"),
    ],
)
def test_a_wish_for_sound_that_cannot_be_met_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], found: str
) -> None:
    """One sentence, exit code 2, and no file."""
    assert call("render", "two.chart", *arguments) == 2

    assert found in capsys.readouterr().err
    assert not [name for name in files_in(".") if name.endswith((".wav", ".mid", ".m4a"))]


def test_a_pack_is_made_once_and_only_what_changed_again(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Made, left alone, and with a changed part only that part's files and the whole anew."""
    arguments = ["pack", "charts", "-o", "out", *SMALL]
    Path("charts").mkdir()
    Path("charts/a.chart").write_text(CHART, encoding="utf-8")
    Path("charts/b.chart").write_text(CHART.replace("Two", "Three"), encoding="utf-8")
    assert call(*arguments) == 0
    first = files_in("out")
    assert "out: 8 files made, 0 up to date; open out/index.html" in capsys.readouterr().out
    assert sorted(first) == sorted(
        ["index.html"]
        + [
            f"{chart}/{name}"
            for chart, tune in (("a", "two"), ("b", "three"))
            for name in (
                "index.html",
                "manifest.json",
                f"G/{tune}-lamps-G-sheet.pdf",
                f"G/{tune}-lamps-G.mid",
                f"G/{tune}-lamps-G-whole-240.flac",
                f"G/{tune}-lamps-G-part-a-240.flac",
            )
        ]
    )

    assert call(*arguments) == 0
    assert "0 files made, 8 up to date" in capsys.readouterr().out
    assert files_in("out") == first

    Path("charts/b.chart").write_text(CHART.replace("Two", "Three").replace("| G ", "| Em "))
    assert call(*arguments) == 0
    assert "4 files made, 4 up to date" in capsys.readouterr().out
    changed = {name for name, digest in files_in("out").items() if first[name] != digest}
    assert {name.partition("/")[0] for name in changed} == {"b"}
    said = json.loads(Path("out/b/manifest.json").read_text(encoding="utf-8"))
    assert said["chart"] == "charts/b.chart"


def test_jobs_are_commands_that_make_the_same_pack(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each printed command makes its file; the pack then finds all of them there."""
    assert call("pack", "two.chart", "-o", "a b", *FEW, "--list-jobs") == 0
    jobs = [shlex.split(line) for line in capsys.readouterr().out.splitlines()]
    assert not Path("a b").exists()

    for job in jobs:
        assert call(*job[1:]) == 0
        assert Path(capsys.readouterr().out.rstrip("\n")).is_file()
    assert call("pack", "two.chart", "-o", "a b", *FEW) == 0
    assert f"0 files made, {len(jobs)} up to date" in capsys.readouterr().out
    assert call("pack", "two.chart", "-o", "c", *FEW) == 0
    made, other = files_in("a b"), files_in("c")
    assert made.pop("manifest.json") != other.pop("manifest.json")  # it names the folder
    assert made == other
    said = json.loads(Path("a b/manifest.json").read_text(encoding="utf-8"))["files"]
    assert [shlex.split(each["command"]) for each in said] == jobs


def test_a_pack_as_one_file(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """All files of the pack and nothing else, and nothing left beside it."""
    assert call("pack", "two.chart", "-o", "two.zip", *SMALL) == 0

    with zipfile.ZipFile("two.zip") as pack:
        assert pack.testzip() is None
        names = pack.namelist()
    assert "index.html" in names
    assert "G/two-lamps-G-whole-240.flac" in names
    assert not [name for name in names if ".backing" in name]
    assert sorted(path.name for path in Path().iterdir()) == ["two.chart", "two.zip"]
    assert call("pack", "two.chart", "-o", "two.zip", *SMALL) == 2
    assert "is there already" in capsys.readouterr().err


def test_what_others_put_there_is_not_replaced(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is reported before any work is done, and overwritten with --force."""
    own = Path("out/G/two-lamps-G.mid")
    own.parent.mkdir(parents=True)
    own.write_text("my own")

    assert call("pack", "two.chart", "-o", "out", *SMALL) == 2
    assert "is not a file of this pack, or was changed" in capsys.readouterr().err
    assert list(files_in("out")) == ["G/two-lamps-G.mid"]
    assert own.read_text() == "my own"
    assert call("pack", "two.chart", "-o", "out", *SMALL, "--force") == 0
    assert own.read_bytes().startswith(b"MThd")


def test_a_faulty_chart_does_not_stop_the_others(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("bad.chart").write_text("| Gmay7 |\n")

    assert call("pack", ".", "-o", "out", *SMALL) == 2
    assert "bad.chart:1:" in capsys.readouterr().err
    assert Path("out/two/index.html").is_file()
    assert not Path("out/bad").exists()


@pytest.mark.parametrize(
    "arguments, found",
    [
        (["--tempi", "fast"], "'fast' is not a tempo"),
        (["--tempi", "120,"], "--tempi 120,: write values with a comma between them"),
        (["--tempi", ",".join(str(each) for each in range(100, 113))], "13 tempi; at most 12"),
        (["--keys", "H"], "H"),
        (["--parts", "Z"], "'Z' is not a part: choose from A"),
        (["--minus", "flute"], "'flute' is not in the band"),
        (["--format", "aac"], "--format aac: choose from wav, flac, mp3, ogg"),
        (["--processes", "0"], "--processes 0: choose from 1 to 64"),
        (["--instrument", "flute"], "flute"),
        (["--job", "G/none.mp3"], "'G/none.mp3' is not in this pack"),
        (["--job", "../../etc/passwd"], "is not in this pack"),
    ],
)
def test_a_wish_that_cannot_be_met_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], found: str
) -> None:
    """One sentence and exit code 2."""
    assert call("pack", "two.chart", "-o", "out", *arguments) == 2

    told = capsys.readouterr().err
    assert found in told
    assert "Traceback" not in told


@pytest.mark.slow
def test_names_with_odd_signs(folder: Path) -> None:
    """Folders, charts and titles of any signs; the page's links lead to the files."""
    odd = folder / "a 'b\" & #1 ?%20\n;$(x) Ø\u202e"
    odd.mkdir()
    (odd / "-ch art'#?.chart").write_text(CHART.replace("Two Lamps", "<i>#?%/\\ .. Ø"))

    done = run("pack", str(odd), "-o", str(odd / "out ♯?#"), *SMALL)
    again = run("pack", str(odd), "-o", str(odd / "out ♯?#"), *SMALL)

    assert done.returncode == 0, done.stderr
    assert "0 files made, 4 up to date" in again.stdout
    jobs = run("pack", str(odd), "-o", str(odd / "new"), *SMALL, "--list-jobs").stdout
    words = shlex.split(jobs)
    assert words.count("backing") == 4
    assert run(*words[1 : words.index("backing", 1)]).returncode == 0


@pytest.mark.slow
def test_a_full_disk_keeps_what_is_whole(folder: Path) -> None:
    """With a limit on file sizes, a sentence and no partial file; without it, a full pack."""

    def little_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, 150_000))
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)

    full = run("pack", "two.chart", "-o", "out", *SMALL, preexec_fn=little_room)

    assert full.returncode == 2
    assert "cannot be written: File too large" in full.stderr
    assert "Traceback" not in full.stderr
    there = files_in("out")
    assert there
    assert all(name.endswith((".pdf", ".mid")) for name in there)
    done = run("pack", "two.chart", "-o", "out", *SMALL)
    assert done.returncode == 0, done.stderr
    assert {name: files_in("out")[name] for name in there} == there


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="there are no such permissions here")
def test_a_folder_that_cannot_be_written_to(folder: Path) -> None:
    """A sentence; the superuser, whom nothing is refused, asks for a folder in a file instead."""
    if os.geteuid() == 0:
        target = Path("/proc/backing-pack")
    else:
        target = folder / "out"
        target.mkdir(mode=0o555)

    done = run("pack", "two.chart", "-o", str(target), *SMALL)
    assert done.returncode == 2
    assert f"{target}" in done.stderr
    assert "Traceback" not in done.stderr


def _started(*arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [*COMMAND, *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def _wait_for(path: Path, work: subprocess.Popen[str]) -> None:
    end = time.monotonic() + 180
    while not path.exists():
        assert work.poll() is None, work.communicate()
        assert time.monotonic() < end
        time.sleep(0.01)


@pytest.mark.parametrize(
    "number",
    [
        pytest.param(signal.SIGKILL, marks=pytest.mark.slow),
        pytest.param(signal.SIGINT, marks=pytest.mark.slow),
        pytest.param(signal.SIGTERM, marks=pytest.mark.slow),
    ],
)
def test_broken_off_and_started_again(folder: Path, number: signal.Signals) -> None:
    """Killed in the middle nothing is half; started again, the pack is as one made in one go."""
    arguments = ["two.chart", *SMALL, "--keys", "G,A"]
    work = _started("pack", *arguments, "-o", "out")
    _wait_for(Path("out/G/two-lamps-G.mid"), work)
    work.send_signal(number)
    work.communicate(timeout=180)
    assert work.returncode != 0
    before = files_in("out")
    assert "index.html" not in before

    again = run("pack", *arguments, "-o", "out")
    whole = run("pack", *arguments, "-o", "whole")
    assert (again.returncode, whole.returncode) == (0, 0), again.stderr
    made = files_in("whole")
    names_of_folder = {"manifest.json": ""}
    assert files_in("out") | names_of_folder == made | names_of_folder
    finished = {name for name in before if not Path(name).name.startswith(".")}
    assert {name: made[name] for name in finished} == {name: before[name] for name in finished}


@pytest.mark.slow
def test_two_packs_into_one_folder(folder: Path) -> None:
    """The second ends with an error; the first works as if it were alone."""
    arguments = ["two.chart", *SMALL, "--keys", "G,A"]
    first = _started("pack", *arguments, "-o", "out")
    _wait_for(Path("out/G/two-lamps-G-sheet.pdf"), first)
    first.send_signal(signal.SIGSTOP)  # so that it is not done before the second begins
    second = run("pack", *arguments, "-o", "out")
    first.send_signal(signal.SIGCONT)
    _, told = first.communicate(timeout=240)

    assert second.returncode == 2
    assert second.stderr == (
        "backing: another pack is being made in out: wait for it, or choose another folder\n"
    )
    assert first.returncode == 0, told
    assert "0 files made, 8 up to date" in run("pack", *arguments, "-o", "out").stdout
