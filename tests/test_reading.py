"""Files that a user names: regular ones are read, others are refused without blocking."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from backing.chart.read import load_chart
from backing.errors import BackingError
from backing.fretboard.instrument import find_instrument
from backing.live.pedal import load_mapping
from backing.out.renderer import check_sound_font
from backing.reading import UnreadableError, read_file, read_text, text_of
from backing.scores.sidecar import load_tune
from backing.stand.songbook import Songbook
from backing.style.library import all_styles

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes with names")

CHART = "key: G\n| G | C |\n"
HANGS_SECONDS = 20


@pytest.fixture(autouse=True)
def hangs() -> Iterator[None]:
    """Fail instead of waiting for a blocked read."""

    def fail(*_: object) -> None:
        raise AssertionError("it waits")

    before = signal.signal(signal.SIGALRM, fail)
    signal.alarm(HANGS_SECONDS)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


def make_pipe(path: Path) -> None:
    """Make a pipe without a writer."""
    os.mkfifo(path)


def make_socket(path: Path) -> None:
    """Make a socket."""
    here = Path.cwd()
    os.chdir(path.parent)  # a socket's path may not be long
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(path.name)
    os.chdir(here)


def make_device(path: Path) -> None:
    """Make a link to a device that never ends."""
    path.symlink_to("/dev/zero")


KINDS = [(make_pipe, "a pipe"), (make_socket, "a socket"), (make_device, "a device"),
         (Path.mkdir, "a folder")]  # fmt: skip


def read_melody(path: Path) -> None:
    """Read a chart whose melody is in a file."""
    chart = path.with_name("tune.chart")
    chart.write_text(f"melody: {path.name}\n{CHART}", encoding="utf-8")
    load_tune(str(chart))


READERS: list[tuple[str, Callable[[Path], object]]] = [
    ("tune.chart", lambda path: load_chart(str(path))),
    ("lead.melody", read_melody),
    ("lead.abc", read_melody),
    ("lead.mid", read_melody),
    ("lute.toml", lambda path: find_instrument(str(path))),
    ("pedal.toml", load_mapping),
    ("sounds.sf2", check_sound_font),
]


@pytest.mark.parametrize("make, what", KINDS)
@pytest.mark.parametrize("name, read", READERS)
def test_an_irregular_file_is_refused(
    name: str, read: Callable[[Path], object], make: Callable[[Path], None], what: str,
    tmp_path: Path,
) -> None:  # fmt: skip
    """The fault of an irregular file says what it is."""
    path = tmp_path / name
    make(path)

    with pytest.raises(BackingError, match=rf"{name}.*: this is {what}: name a file"):
        read(path)


@pytest.mark.parametrize("make, what", KINDS)
def test_a_folder_of_styles_with_something_else_in_it(
    make: Callable[[Path], None], what: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The list of styles reports it and has the others."""
    monkeypatch.setenv("BACKING_STYLES", str(tmp_path))
    make(tmp_path / "mine.toml")

    styles, errors = all_styles()

    assert [f"{tmp_path / 'mine.toml'}: this is {what}"] == [
        str(error).rpartition(":")[0] for error in errors
    ]
    assert styles


@pytest.mark.parametrize("make, _", KINDS)
def test_a_songbook_with_something_else_in_it(
    make: Callable[[Path], None], _: str, tmp_path: Path
) -> None:
    """A songbook lists its charts beside irregular files; a melody that is one is a fault."""
    (tmp_path / "a.chart").write_text(CHART, encoding="utf-8")
    (tmp_path / "led.chart").write_text(f"melody: led.abc\n{CHART}", encoding="utf-8")
    for name in ("other.chart", "other.set", "led.abc"):
        make(tmp_path / name)

    book = Songbook(tmp_path)

    assert {tune.file: bool(tune.fault) for tune in book.tunes() if tune.file != "other.chart"} == {
        "a.chart": False,
        "led.chart": True,
    }
    assert book.sets() == []


@pytest.mark.parametrize(
    "arguments",
    [
        ("render", "."),
        ("render", "pipe.chart", "-o", "x.mid"),
        ("check", "a.chart", "pipe.chart"),
        ("shapes", "pipe"),
        ("convert", "pipe.abc", "x.chart"),
        ("convert", "pipe.mxl", "x.chart"),
    ],
)
def test_commands_answer_at_once(arguments: tuple[str, ...], tmp_path: Path) -> None:
    """A pipe without a writer is reported by name, and the other charts are processed."""
    (tmp_path / "a.chart").write_text(CHART, encoding="utf-8")
    for name in ("pipe", "pipe.chart", "pipe.abc", "pipe.mxl"):
        os.mkfifo(tmp_path / name)

    done = subprocess.run(
        [sys.executable, "-m", "backing", *arguments],
        cwd=tmp_path, capture_output=True, text=True, check=False,
        timeout=HANGS_SECONDS,
    )  # fmt: skip

    assert (done.returncode, done.stderr.count("this is a pipe: name a file")) == (2, 1)
    assert "Traceback" not in done.stderr
    assert ("a.chart" in arguments or "." in arguments) == bool(done.stdout)


def test_a_pipe_of_the_shell_is_told_to_use_standard_input() -> None:
    """The fault of a named pipe of the shell suggests standard input."""
    out, into = os.pipe()
    with pytest.raises(BackingError, match="or - to read standard input, which may be a pipe"):
        load_chart(f"/dev/fd/{out}")
    os.close(out)
    os.close(into)


@pytest.mark.parametrize(
    "name, near",
    [
        ("mill-rase.chart", "mill-race.chart"),
        ("Mill-Race.chart", "mill-race.chart"),
        ("mill-race", "mill-race.chart"),
        ("mill-race.chrt", "mill-race.chart"),
        ("mill-race.abc", ""),
        ("porch.chart", ""),
    ],
)
def test_a_missing_file_with_a_similar_one(name: str, near: str, tmp_path: Path) -> None:
    """The fault of a missing file suggests a file of the same kind with a similar name."""
    for each in ("mill-race.chart", "porch-swing-on-sunday.chart", "other.toml"):
        (tmp_path / each).touch()

    with pytest.raises(UnreadableError) as caught:
        read_file(tmp_path / name, 1)

    wanted = f"; did you mean '{near}'?" if near else ""
    assert caught.value.missing
    assert f"there is no such file: check the name and the folder{wanted}" == str(caught.value)


@pytest.mark.parametrize("name", ["gone/a.chart", "a.chart/b.chart"])
def test_a_missing_folder_is_told(name: str, tmp_path: Path) -> None:
    """The fault of a file in a missing folder names the folder."""
    (tmp_path / "a.chart").touch()
    path = tmp_path / name

    with pytest.raises(UnreadableError, match=f"no such file: there is no folder {path.parent}"):
        read_file(path, 1)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16_is_called_so(encoding: str, tmp_path: Path) -> None:
    """The fault of a text in UTF-16 says so, with or without a byte order mark."""
    path = tmp_path / "text.toml"
    path.write_bytes('about = "x"\n'.encode(encoding))

    with pytest.raises(UnreadableError, match="the text is in UTF-16: save it so"):
        read_text(path, "save it so")


def test_the_first_byte_that_is_not_utf_8_has_its_place() -> None:
    """Line and column count characters, from 1."""
    with pytest.raises(UnreadableError, match="the byte 0xFF is not UTF-8: save it so") as caught:
        text_of("ü\näö".encode() + b"\xff", "save it so")

    assert (caught.value.line, caught.value.column) == (2, 3)
