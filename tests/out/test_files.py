"""Files are written whole or not at all."""

from __future__ import annotations

import errno
import os
import re
import stat
from contextlib import nullcontext
from pathlib import Path

import pytest

from backing.errors import OutputError
from backing.out.files import check_free, write_file


def test_a_new_file(tmp_path: Path) -> None:
    """A new file has the bytes, the permissions of any new file, and nothing beside it."""
    plain = tmp_path / "plain"
    plain.touch()
    mode = plain.stat().st_mode
    plain.unlink()
    write_file(tmp_path / "tune.mid", b"MThd")
    assert [tmp_path / "tune.mid"] == list(tmp_path.iterdir())
    assert (tmp_path / "tune.mid").read_bytes() == b"MThd"
    assert mode == (tmp_path / "tune.mid").stat().st_mode


def test_a_file_that_is_there(tmp_path: Path) -> None:
    """A file that is there stays as it is, unless it may be replaced; then it keeps its mode."""
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
    """Through a symbolic link its target is written, and the link stays one."""
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
def test_places_that_will_not_do(tmp_path: Path, name: str, sentence: str) -> None:
    """A folder, and a file in a folder that is not there, are refused before any work."""
    with pytest.raises(OutputError, match=sentence):
        check_free(tmp_path / name)
    with pytest.raises(OutputError, match=sentence):
        write_file(tmp_path / name, b"x", force=True)


@pytest.mark.parametrize("failing", ["replace", "chmod"])
def test_a_disk_that_is_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str) -> None:
    """When writing fails the old file is as it was, nothing is left beside it, and it is told."""

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


def test_a_long_name(tmp_path: Path) -> None:
    """A name as long as a file system allows, 255 bytes, can be written."""
    path = tmp_path / ("ü" * 125 + ".mid")
    write_file(path, b"x")
    assert path.read_bytes() == b"x"


def test_bytes_reach_the_disk_before_their_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file is synchronised whole, then renamed, then its folder is synchronised."""
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


@pytest.mark.skipif(not hasattr(os, "O_DIRECTORY"), reason="folders cannot be opened here")
@pytest.mark.parametrize("number, told", [(errno.EINVAL, False), (errno.EIO, True)])
def test_a_folder_that_cannot_be_synchronised(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, told: bool
) -> None:
    """A file system that has no such thing is no fault; one that fails is told."""
    fsync = os.fsync

    def refused(handle: int) -> None:
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(number, os.strerror(number))
        fsync(handle)

    monkeypatch.setattr(os, "fsync", refused)
    with pytest.raises(OutputError, match=os.strerror(number)) if told else nullcontext():
        write_file(tmp_path / "tune.mid", b"x")
    assert [path.name for path in tmp_path.iterdir()] == ["tune.mid"]
