"""`backing tidy`: several charts and folders, --check, --diff, and what is never touched."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from backing.cli import main

ROUGH = b"key: G\r\n[A]\r\n|G-7|C|\r\n| C | C |\r\n|Am7b5|D7 |"
ALIGNED = b"key: G\r\n[A]\r\n| G-7   | C  |\r\n| C     | C  |\r\n| Am7b5 | D7 |"
TIDY = b"key: G\n[A]\n| G | C |\n"
BAD = b"key: G\nstyle: stroll\n[A]\n|G|C|\n"
WRONG = b"key: H\n[A]\n|G|C|\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder with charts of all kinds."""
    monkeypatch.chdir(tmp_path)
    Path("rough.chart").write_bytes(ROUGH)
    Path("tidy.chart").write_bytes(TIDY)
    Path("set").mkdir()
    Path("set/one.chart").write_bytes(ROUGH)
    Path("set/two.chart").write_bytes(TIDY)
    Path("set/bad.chart").write_bytes(BAD)
    Path("set/wrong.chart").write_bytes(WRONG)
    return tmp_path


def call(*arguments: str) -> int:
    """Run the command line here and return its exit code."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["backing", *arguments])
        try:
            main()
        except SystemExit as ending:
            return int(ending.code or 0)
    return 0


def files() -> dict[str, bytes]:
    """Return the bytes of every file in the folder."""
    return {str(path): path.read_bytes() for path in Path().rglob("*") if path.is_file()}


def test_charts_and_folders_are_written_in_place(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Charts with faults are reported and not changed; no other file is left behind."""
    before = files()

    assert call("tidy", "rough.chart", "tidy.chart", "set") == 2
    assert {**before, "rough.chart": ALIGNED, str(Path("set/one.chart")): ALIGNED} == files()
    out, err = capsys.readouterr()
    assert [
        "rough.chart: tidied, 3 lines",
        "tidy.chart: tidy already",
        f"{Path('set/one.chart')}: tidied, 3 lines",
        f"{Path('set/two.chart')}: tidy already",
    ] == out.splitlines()
    assert [str(Path("set/bad.chart")), str(Path("set/wrong.chart"))] == [
        line.split(":")[0] for line in err.splitlines()
    ]
    assert call("tidy", "rough.chart", "set/one.chart") == 0
    assert capsys.readouterr().out.count("tidy already") == 2


@pytest.mark.parametrize("options", [["--check"], ["--diff"], ["--check", "--diff"]])
def test_nothing_is_written_where_one_only_looks(
    options: list[str], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """--check ends with 1 where a chart is not tidy, and with 2 where one has faults."""
    before = files()

    checks = "--check" in options
    assert call("tidy", *options, "rough.chart", "tidy.chart") == (1 if checks else 0)
    out = capsys.readouterr().out
    assert ("rough.chart: not tidy, 3 lines" in out) == checks
    assert ("tidy.chart: tidy already" in out) == checks
    assert call("tidy", *options, "tidy.chart") == 0
    assert call("tidy", *options, "set") == 2
    assert before == files()


def test_a_diff_can_be_applied(folder: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """It is a unified diff of both charts, their line ends kept, also where the last has none."""
    assert call("tidy", "--diff", "rough.chart", "tidy.chart", "set/one.chart") == 0

    out = capsysbinary.readouterr().out
    assert out.startswith(b"--- rough.chart\n+++ rough.chart\n@@ -1,5 +1,5 @@\n")
    assert b"\n-|G-7|C|\r\n" in out
    assert b"\n+| G-7   | C  |\r\n" in out
    assert out.count(b"\\ No newline at end of file\n") == 4
    assert b"tidy.chart\n" not in out
    patch = shutil.which("patch")
    if patch:
        subprocess.run([patch, "--binary", "-p0"], input=out, check=True, capture_output=True)
        assert ALIGNED == Path("rough.chart").read_bytes() == Path("set/one.chart").read_bytes()


@pytest.mark.parametrize(
    "options, code, written",
    [
        ([], 0, ALIGNED),
        (["--check"], 1, b"<stdin>: not tidy, 3 lines\n"),
        (["--diff"], 0, b"--- <stdin>\n"),
    ],
)
def test_standard_input(
    options: list[str],
    code: int,
    written: bytes,
    monkeypatch: pytest.MonkeyPatch,
    capsysbinary: pytest.CaptureFixture[bytes],
) -> None:
    """It is written to standard output; checked or compared without that."""
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(ROUGH)))
    assert call("tidy", "-", *options) == code

    assert capsysbinary.readouterr().out.startswith(written)


def test_standard_input_is_tidied_alone(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its text would mix with the messages about other charts."""
    assert call("tidy", "-", "rough.chart") == 2
    assert "use - alone: standard input is not tidied" in capsys.readouterr().err
    assert Path("rough.chart").read_bytes() == ROUGH


def test_links_and_permissions_stay(folder: Path) -> None:
    """A link still leads to the file, which keeps who may read and write it."""
    Path("rough.chart").chmod(0o640)
    Path("link.chart").symlink_to("rough.chart")

    assert call("tidy", "link.chart") == 0
    assert Path("link.chart").is_symlink()
    assert (
        Path("rough.chart").read_bytes(),
        Path("rough.chart").stat().st_mode & 0o777,
    ) == (ALIGNED, 0o640)


def test_a_chart_with_two_names_stays_one(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is reported and not changed under any name; the others are tidied."""
    os.link("rough.chart", "other.chart")

    assert call("tidy", "rough.chart", "set/one.chart") == 2
    assert "rough.chart is one file with 2 names" in capsys.readouterr().err
    assert Path("rough.chart").samefile("other.chart")
    assert Path("rough.chart").read_bytes() == ROUGH
    assert Path("set/one.chart").read_bytes() == ALIGNED


@pytest.mark.skipif(sys.platform != "linux", reason="these are the attributes of Linux")
def test_owner_and_attributes_stay(folder: Path) -> None:
    """A list of who may read, which is an attribute, too, is not lost by tidying."""
    try:
        os.setxattr("rough.chart", "user.source", b"tent")
    except OSError:
        pytest.skip("the file system has no attributes")
    if os.geteuid() == 0:
        os.chown("rough.chart", 4321, 1234)
    before = Path("rough.chart").stat()

    assert call("tidy", "rough.chart") == 0
    after = Path("rough.chart").stat()
    assert Path("rough.chart").read_bytes() == ALIGNED
    assert os.getxattr("rough.chart", "user.source") == b"tent"
    assert (before.st_uid, before.st_gid, before.st_mode) == (
        after.st_uid, after.st_gid, after.st_mode,
    )  # fmt: skip
