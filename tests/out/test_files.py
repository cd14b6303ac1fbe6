"""Files are written atomically, and only where they may be."""

from __future__ import annotations

import errno
import os
import re
import socket
import stat
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, nullcontext
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from backing.errors import OutputError
from backing.out import temporary
from backing.out.files import atomic_file, check_free, edit_file, write_file
from backing.out.formats import MIDI

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


def test_a_new_file(tmp_path: Path) -> None:
    """A new file has the bytes and the usual permissions; no other file is left."""
    plain = tmp_path / "plain"
    plain.touch()
    mode = plain.stat().st_mode
    plain.unlink()
    write_file(tmp_path / "tune.mid", b"MThd")
    assert [tmp_path / "tune.mid"] == list(tmp_path.iterdir())
    assert (tmp_path / "tune.mid").read_bytes() == b"MThd"
    assert mode == (tmp_path / "tune.mid").stat().st_mode


def test_a_file_that_is_there(tmp_path: Path) -> None:
    """An existing file stays, unless it may be replaced; then it keeps its mode."""
    path = tmp_path / "tune.mid"
    path.write_bytes(b"old")
    path.chmod(0o640)
    with pytest.raises(OutputError, match=r"tune\.mid is there already: .* --force"):
        write_file(path, b"new")
    assert path.read_bytes() == b"old"
    write_file(path, b"new", force=True)
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_link(tmp_path: Path) -> None:
    """The target of a symbolic link is written, and the link stays."""
    target, link = tmp_path / "target.mid", tmp_path / "link.mid"
    target.write_bytes(b"old")
    link.symlink_to(target)
    write_file(link, b"new", force=True)
    assert link.is_symlink()
    assert target.read_bytes() == b"new"


@pytest.mark.parametrize(
    "name, sentence",
    [
        (".", "is a folder: give the name of a file in it"),
        ("none/tune.mid", "there is no folder .*none: make it first"),
    ],
)
def test_invalid_places(tmp_path: Path, name: str, sentence: str) -> None:
    """A folder and a file in a missing folder are refused before any work."""
    with pytest.raises(OutputError, match=sentence):
        check_free(tmp_path / name)
    with pytest.raises(OutputError, match=sentence):
        write_file(tmp_path / name, b"x", force=True)


@pytest.mark.parametrize("failing", ["replace", "chmod"])
def test_a_disk_that_is_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str) -> None:
    """When writing fails, the old file stays, no other file is left, and an error says so."""

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    path = tmp_path / "tune.mid"
    path.write_bytes(b"old")
    monkeypatch.setattr(Path, failing, full)
    sentence = f"tune.mid cannot be written: {os.strerror(errno.ENOSPC)}"
    with pytest.raises(OutputError, match=re.escape(sentence)):
        write_file(path, b"new", force=True)
    assert [path] == list(tmp_path.iterdir())
    assert path.read_bytes() == b"old"


FOUND = {
    "the input": "is read by this command: choose another name",
    "a link to the input": "is read by this command: it is the same file as",
    "another name of the input": "is read by this command: it is the same file as",
    "a link to itself": "is a symbolic link that leads back to itself",
    "a chain of links to itself": "is a symbolic link that leads back to itself",
    "a link into no folder": "there is no folder .*none: make it first",
    "a pipe": "is a pipe: name a file; a command that takes - ",
    "a socket": "is a socket: name a file; a command that takes - ",
    "a device": "is a device: name a file; a command that takes - ",
    "a link to a device": "is a device: name a file; a command that takes - ",
    "a folder": "is a folder: give the name of a file in it",
    "a link to a folder": "is a folder: give the name of a file in it",
    "a link to another kind": "leads to .*notes.txt, which is another kind of file",
    "a link to no file of another kind": "leads to .*new.txt, which is another kind of file",
    "a file as a folder": "there is no folder .*notes.txt: make it first",
}


@pytest.fixture
def places(tmp_path: Path) -> dict[str, Path]:
    """Return paths that may not be written, by kind."""
    chart = tmp_path / "take.mid"
    chart.write_bytes(b"| G | C |\n")
    (tmp_path / "notes.txt").write_bytes(b"kept")
    (tmp_path / "folder.mid").mkdir()
    os.link(chart, tmp_path / "same.mid")
    os.mkfifo(tmp_path / "pipe.mid")
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(os.path.relpath(tmp_path / "socket.mid"))
    device = device_in(tmp_path)
    links = {
        "to-input": chart, "loop": "loop.mid", "one": "two.mid", "two": "one.mid",
        "null": device, "to-folder": "folder.mid", "kind": "notes.txt", "new": "new.txt",
        "lost": "none/new.mid",
    }  # fmt: skip
    for name, end in links.items():
        (tmp_path / f"{name}.mid").symlink_to(end)
    names = (
        "take", "to-input", "same", "loop", "one", "lost", "pipe", "socket", device.stem, "null",
        "folder", "to-folder", "kind", "new", "notes.txt/new",
    )  # fmt: skip
    return {
        kind: device if name == device.stem else tmp_path / f"{name}.mid"
        for kind, name in zip(FOUND, names, strict=True)
    }


def device_in(folder: Path) -> Path:
    """Return a device: a new one if we may create it, so that a failure cannot damage /dev/null."""
    made = folder / "device.mid"
    try:
        os.mknod(made, stat.S_IFCHR | 0o600, Path(os.devnull).stat().st_rdev)
    except OSError:
        return Path(os.devnull)
    return made


def seen(folder: Path) -> dict[str, tuple[int, int, bytes]]:
    """Return the kind and inode of everything in a folder, and the bytes of files."""
    found = {}
    for path in folder.rglob("*"):
        about = path.lstat()
        data = path.read_bytes() if stat.S_ISREG(about.st_mode) else b""
        found[str(path)] = stat.S_IFMT(about.st_mode), about.st_ino, data
    return found


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes")
@pytest.mark.parametrize("kind", FOUND)
@pytest.mark.parametrize("force", [True, False])
def test_nothing_is_written_there(
    tmp_path: Path, places: dict[str, Path], kind: str, force: bool
) -> None:
    """The check and the writer refuse such a path, with or without force; nothing changes."""
    before = seen(tmp_path)
    inputs = [tmp_path / "take.mid", tmp_path / "missing.melody"]
    for refuse in (check_free, partial(write_file, data=b"MThd")):
        with pytest.raises(OutputError, match=FOUND[kind]) as refused:
            refuse(places[kind], force=force, inputs=inputs)
        assert "\n" not in str(refused.value)

    assert seen(tmp_path) == before


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no symbolic links")
def test_a_link_to_no_file_yet(tmp_path: Path) -> None:
    """The target is created, and the link stays."""
    (tmp_path / "link.mid").symlink_to("target.mid")
    write_file(tmp_path / "link.mid", b"new")
    assert (tmp_path / "link.mid").is_symlink()
    assert (tmp_path / "target.mid").read_bytes() == b"new"


ARRIVALS: dict[str, Callable[[Path], object]] = {
    "a pipe": os.mkfifo,
    "a link": lambda path: path.symlink_to("other.mid"),
    "a folder": lambda path: path.mkdir(),
    "a file": lambda path: path.write_bytes(b"kept"),
}


@pytest.mark.parametrize("kind", ARRIVALS)
def test_a_name_that_is_taken_meanwhile(tmp_path: Path, kind: str) -> None:
    """Anything that takes the name during the work stays."""
    path = tmp_path / "take.mid"
    (tmp_path / "other.mid").write_bytes(b"kept")

    def write() -> None:
        with atomic_file(path) as file:
            file.write(b"MThd")
            ARRIVALS[kind](path)

    with pytest.raises(OutputError, match=r"take\.mid"):
        write()

    assert sorted(each.name for each in tmp_path.iterdir()) == ["other.mid", "take.mid"]
    assert (tmp_path / "other.mid").read_bytes() == b"kept"
    assert not path.is_file() or path.read_bytes() == b"kept"


MIDI_NAMES = {
    "take.mid": "", "take.MIDI": "", "take.smf": "", "take": "", "take.2": "", "No. 5": "",
    "song.chart": "ends in .mid, .midi, .smf", "song.melody": "ends in .mid", "a.abc": "ends in",
    "pedal.toml": "ends in", "x.py": "ends in", "x.Chart": "ends in", "x.mid.txt": "ends in",
}  # fmt: skip


@pytest.mark.parametrize("name", MIDI_NAMES)
def test_endings_that_fit(tmp_path: Path, name: str) -> None:
    """The name of a MIDI file has one of three endings or none."""
    path = tmp_path / name
    fault = MIDI_NAMES[name]
    with pytest.raises(OutputError, match=fault) if fault else nullcontext():
        write_file(path, b"MThd", kind=MIDI)
    assert path.exists() == (not fault)


@pytest.mark.parametrize("old, replaced", [(b"MThd\0", True), (b"", True), (b"all:\n", False)])
def test_a_name_without_ending_is_known_by_its_bytes(
    tmp_path: Path, old: bytes, replaced: bool
) -> None:
    """With force, only a MIDI file or an empty file is replaced."""
    path = tmp_path / "Makefile"
    path.write_bytes(old)
    with nullcontext() if replaced else pytest.raises(OutputError, match="is not a MIDI file"):
        write_file(path, b"MThd new", force=True, kind=MIDI)
    assert path.read_bytes() == (b"MThd new" if replaced else old)


@pytest.mark.parametrize(
    "where, call, number",
    [(os, "fsync", errno.ENOSPC), (tempfile, "mkstemp", errno.EACCES),
     (tempfile, "mkstemp", errno.EROFS), (tempfile, "mkstemp", errno.ENOSPC)],
)  # fmt: skip
@pytest.mark.parametrize("old", [b"old", None])
def test_a_folder_or_a_disk_that_takes_nothing(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    where: object,
    call: str,
    number: int,
    old: bytes | None,
) -> None:
    """A full disk and a read-only folder give an error; nothing changes."""
    path = tmp_path / "tune.mid"
    if old:
        path.write_bytes(old)
    before = seen(tmp_path)

    def refused(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(where, call, refused)
    with pytest.raises(OutputError, match=f"tune.mid cannot be written: {os.strerror(number)}"):
        write_file(path, b"new", force=True)
    assert seen(tmp_path) == before


@pytest.mark.parametrize("end", [KeyboardInterrupt, SystemExit, ValueError, OSError])
def test_a_writer_that_gives_up(tmp_path: Path, end: type[BaseException]) -> None:
    """After any exception the old file stays and no other file is left."""
    path = tmp_path / "tune.mid"
    path.write_bytes(b"old")

    def write() -> None:
        with atomic_file(path, force=True) as file:
            file.write(b"half")
            raise end

    with pytest.raises((end, OutputError)):
        write()
    assert (path.read_bytes(), list(tmp_path.iterdir())) == (b"old", [path])


def test_a_long_name(tmp_path: Path) -> None:
    """A name may have 255 bytes, as file systems allow."""
    path = tmp_path / ("ü" * 125 + ".mid")
    write_file(path, b"x")
    assert path.read_bytes() == b"x"


def test_bytes_reach_the_disk_before_their_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The complete file is synchronised, then renamed, then its folder is synchronised."""
    path = tmp_path / "tune.mid"
    steps: list[tuple[str, object]] = []
    fsync, replace = os.fsync, os.replace

    def synchronised(handle: int) -> None:
        is_folder = stat.S_ISDIR(os.fstat(handle).st_mode)
        steps.append(("folder", None) if is_folder else ("file", os.fstat(handle).st_size))
        fsync(handle)

    def renamed(source: str, target: str) -> None:
        steps.append(("rename", Path(target)))
        replace(source, target)

    monkeypatch.setattr(os, "fsync", synchronised)
    monkeypatch.setattr(os, "replace", renamed)
    write_file(path, b"x" * 100_000)

    folder = [("folder", None)] if hasattr(os, "O_DIRECTORY") else []
    assert steps == [("file", 100_000), ("rename", path), *folder]


@pytest.mark.skipif(not hasattr(os, "O_DIRECTORY"), reason="folders cannot be opened")
@pytest.mark.parametrize("number, is_error", [(errno.EINVAL, False), (errno.EIO, True)])
def test_a_folder_that_cannot_be_synchronised(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, is_error: bool
) -> None:
    """A file system that cannot synchronise folders is accepted; a failure is an error."""
    fsync = os.fsync

    def refused(handle: int) -> None:
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(number, os.strerror(number))
        fsync(handle)

    monkeypatch.setattr(os, "fsync", refused)
    with pytest.raises(OutputError, match=os.strerror(number)) if is_error else nullcontext():
        write_file(tmp_path / "tune.mid", b"x")
    assert [path.name for path in tmp_path.iterdir()] == ["tune.mid"]


def test_an_edited_file_keeps_its_metadata(tmp_path: Path) -> None:
    """Its bytes change; owner, mode and extended attributes do not."""
    path = tmp_path / "tune.chart"
    path.write_bytes(b"old")
    path.chmod(0o4751)
    if os.geteuid() == 0:
        os.chown(path, 4321, 1234)
        path.chmod(0o4751)
    named = has_attributes(path)
    old = path.stat()

    edit_file(path, b"new")

    new = path.stat()
    assert path.read_bytes() == b"new"
    assert (old.st_uid, old.st_gid, old.st_mode) == (new.st_uid, new.st_gid, new.st_mode)
    if named:
        assert os.getxattr(path, "user.source") == b"tent"
    assert [path] == list(tmp_path.iterdir())


def has_attributes(path: Path) -> bool:
    """Set an extended attribute; return whether the system can."""
    try:
        os.setxattr(path, "user.source", b"tent")
    except (AttributeError, OSError):
        return False
    return True


LOST = {"chown": "owner", "setxattr": "extended attributes", "listxattr": "extended attributes"}


@pytest.mark.skipif(sys.platform != "linux", reason="calls of Linux")
@pytest.mark.parametrize("call", LOST)
def test_what_an_edited_file_cannot_keep(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    """An edit gives an error and changes nothing; a forced replacement may lose metadata."""
    path = tmp_path / "tune.chart"
    path.write_bytes(b"old")

    def refused(*_: object) -> None:
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "listxattr", lambda _: ["user.source"])
    monkeypatch.setattr(os, "getxattr", lambda each, _: str(each).encode())
    monkeypatch.setattr(os, "setxattr", lambda *_: None)
    monkeypatch.setattr(os, call, refused)
    if call == "chown":
        monkeypatch.setattr(temporary, "_keep_owner", lambda _, new: os.chown(new, 4321, 4321))
    with pytest.raises(OutputError, match=f"tune.chart could not keep its {LOST[call]}"):
        edit_file(path, b"new")

    assert (path.read_bytes(), list(tmp_path.iterdir())) == (b"old", [path])
    write_file(path, b"new", force=True)
    assert path.read_bytes() == b"new"


def test_an_edited_file_with_two_names(tmp_path: Path) -> None:
    """A file with hard links is refused, and both names keep the old bytes."""
    path, other = tmp_path / "tune.chart", tmp_path / "other.chart"
    path.write_bytes(b"old")
    os.link(path, other)
    with pytest.raises(OutputError, match=r"one file with 2 names \(hard links\)"):
        edit_file(path, b"new")
    assert path.samefile(other)
    assert path.read_bytes() == b"old"


def test_a_link_to_an_edited_file(tmp_path: Path) -> None:
    """The target is edited, whatever its name."""
    (tmp_path / "text").write_bytes(b"old")
    (tmp_path / "tune.chart").symlink_to("text")
    edit_file(tmp_path / "tune.chart", b"new")
    assert (tmp_path / "tune.chart").is_symlink()
    assert (tmp_path / "text").read_bytes() == b"new"


WRITER = """
import sys, time
from pathlib import Path
from backing.out.files import atomic_file
with atomic_file(Path(sys.argv[1]), force=True) as file:
    file.write(b"half")
    file.flush()
    print("written", flush=True)
    time.sleep(600)
"""


@contextmanager
def writing(path: Path) -> Iterator[subprocess.Popen[str]]:
    """Yield a process that has written half a file and waits; kill it at the end."""
    command = [sys.executable, "-c", WRITER, str(path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout
            assert process.stdout.readline() == "written\n"
            yield process
        finally:
            process.kill()


def names(folder: Path) -> list[str]:
    """Return the names of everything in a folder."""
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.skipif(sys.platform == "win32", reason="open files are not locked")
@pytest.mark.parametrize("next_name", ["tune.mid", "other.mid"])
def test_leftovers_of_a_killed_process(tmp_path: Path, next_name: str) -> None:
    """A temporary file stays while its process lives; the next writer then removes it."""
    path, own = tmp_path / "tune.mid", tmp_path / ".tune.mid.original"
    path.write_bytes(b"old")
    own.write_bytes(b"kept")
    with writing(path):
        (half,) = {*names(tmp_path)} - {path.name, own.name}
        write_file(tmp_path / next_name, b"new", force=True)
        assert half in names(tmp_path)
    assert half in names(tmp_path)

    write_file(tmp_path / next_name, b"newer", force=True)

    assert sorted({path.name, own.name, next_name}) == names(tmp_path)
    assert (tmp_path / next_name).read_bytes() == b"newer"
    assert own.read_bytes() == b"kept"


def test_many_writers_of_one_folder(tmp_path: Path) -> None:
    """No writer removes the temporary file of another one."""

    def write(number: int) -> None:
        for turn in range(25):
            write_file(tmp_path / f"{number % 3}.mid", b"x" * (turn + 1), force=True)

    with ThreadPoolExecutor(6) as pool:
        list(pool.map(write, range(6)))
    assert names(tmp_path) == ["0.mid", "1.mid", "2.mid"]
    assert {path.stat().st_size for path in tmp_path.iterdir()} == {25}


def test_foreign_files_with_such_names_stay(tmp_path: Path) -> None:
    """A link, a pipe and a folder with the name of a temporary file stay."""
    other = tmp_path / "other.mid"
    other.write_bytes(b"kept")
    (tmp_path / ".a.mid.12345678.backing-part").symlink_to(other)
    os.mkfifo(tmp_path / ".b.mid.12345678.backing-part")
    (tmp_path / ".c.mid.12345678.backing-part").mkdir()
    before = seen(tmp_path)
    write_file(tmp_path / "tune.mid", b"x")
    after = seen(tmp_path)
    assert before == {name: after[name] for name in before}
