"""Names of files in requests and messages: each refusal is a sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

import pytest

from backing.stand.songbook import (
    CHART,
    LONGEST_BYTES,
    ConflictError,
    FileNameError,
    Songbook,
    TakenError,
    check_name,
)
from tests.stand.conftest import QUICK

if TYPE_CHECKING:
    from pathlib import Path

    from tests.stand.server import Server

NEW = {"If-None-Match": "*"}

GOOD = ["tune", "Tune No. 2", "märz", "夏の歌", "it's (mine 2)", "x" * (LONGEST_BYTES - 6), "…"]

BAD = [
    "", " ", " tune", "tune ", ".tune", "a/b", "a\\b", "a:b", "a*b", "a?b", 'a"b', "a<b", "a|b",
    "a\nb", "a\0b", "a\u202eb", "\ud800", "夏" * 100, "x" * LONGEST_BYTES, "..", "../a",
]  # fmt: skip


@pytest.mark.parametrize("stem", GOOD)
def test_good_names(stem: str, tmp_path: Path) -> None:
    """A chart with such a name can be saved and read."""
    book = Songbook(tmp_path)

    book.save(f"{stem}{CHART}", b"| C |\n", CHART, tag=None)

    assert [path.name for path in tmp_path.iterdir()] == [f"{stem}{CHART}"]
    assert book.read(f"{stem}{CHART}")


@pytest.mark.parametrize("stem", BAD)
def test_bad_names(stem: str) -> None:
    """The sentence tells what is wrong and what is allowed, and can be printed."""
    with pytest.raises(FileNameError) as refused:
        check_name(f"{stem}{CHART}", CHART)

    assert str(refused.value).isprintable()
    assert str(refused.value).encode()
    assert "a name" in str(refused.value)


@pytest.mark.parametrize("stem", BAD)
def test_a_bad_name_is_refused_by_request_and_by_message(server: Server, stem: str) -> None:
    """Neither causes an internal error, reveals the folder's path, or writes a file."""
    before = sorted(path.name for path in server.folder.iterdir())
    address = quote(stem.encode("utf-8", "surrogatepass"), safe="")
    for path in (f"/tunes/{address}.chart", f"/sets/{address}"):
        for answer in (
            server.ask("GET", path),
            server.ask("PUT", path, QUICK.encode(), NEW),
            server.ask("PUT", f"{path}?beside=mine", QUICK.encode()),
        ):
            assert answer.status in (201, 204, 400, 404)
            assert str(server.folder) not in answer.text
            assert answer.status < 300 or answer.text
    if "\ud800" not in stem:  # in a request invalid UTF-8 is replaced by another character
        assert sorted(path.name for path in server.folder.iterdir()) == before
    with server.page() as page:
        for message in (
            {"type": "set", "do": "new", "name": stem},
            {"type": "set", "do": "add", "name": stem, "tune": "a-quick.chart"},
            {"type": "open", "tune": f"{stem}{CHART}"},
        ):
            page.send(**message)
            assert str(server.folder) not in page.receive("fault")["text"]
        page.time()


def test_a_long_title_becomes_a_name_that_fits(tmp_path: Path) -> None:
    """The cut is between letters, of three bytes each here."""
    name = Songbook(tmp_path).create("夏" * 80, b"| C |\n")

    assert len(name.encode()) <= LONGEST_BYTES
    assert set(name.removesuffix(CHART)) == {"夏"}


def test_another_version_of_a_long_name_fits(tmp_path: Path) -> None:
    """The name is cut to make room for the mark."""
    book = Songbook(tmp_path)
    name = f"{'夏' * 64}{CHART}"
    book.save(name, b"| C |\n", CHART, tag=None)

    kept = book.save_version(name, b"| D |\n", CHART, "mine")

    assert kept.endswith(f" (mine){CHART}")
    assert (tmp_path / kept).read_bytes() == b"| D |\n"


@pytest.mark.parametrize("other", ["Tune.chart", "TUNE.chart", "tüne.chart"])
def test_names_that_some_systems_take_for_one_are_one(tmp_path: Path, other: str) -> None:
    """Names that differ in case or in the composition of accents cannot both be saved."""
    book = Songbook(tmp_path)
    own = other.lower().replace("ü", "u\u0308")
    book.save(own, b"| C |\n", CHART, tag=None)

    with pytest.raises(TakenError, match=own[:1]):
        book.save(other, b"| D |\n", CHART, tag=None)
    with pytest.raises(ConflictError):
        book.save(own, b"| D |\n", CHART, tag=None)
    assert book.create(other.removesuffix(CHART), b"| D |\n").endswith("-2.chart")
