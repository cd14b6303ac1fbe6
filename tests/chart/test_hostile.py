"""Any bytes are a chart or have faults."""

from __future__ import annotations

import io
import sys
from itertools import permutations
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from strategies import SEEDS, SIGNS, spoilt

from backing.chart.diagnostics import MOST_SHOWN, WIDEST
from backing.chart.read import LIMIT, load_chart, load_text, read_chart, read_chart_bytes
from backing.chart.write import write_chart
from backing.errors import ChartError

if TYPE_CHECKING:
    from backing.chart.model import Chart


def answer(data: bytes) -> Chart | ChartError:
    """Return the chart of some bytes, or the error with their faults."""
    try:
        return read_chart_bytes(data, "wild.chart")
    except ChartError as error:
        return error


def check(data: bytes) -> None:
    """Check that bytes make a chart that can be written, or sorted faults that can be shown."""
    found = answer(data)
    if not isinstance(found, ChartError):
        assert found == read_chart(write_chart(found))
        return
    places = [(fault.line, fault.column) for fault in found.faults[:MOST_SHOWN]]
    assert sorted(places) == places
    assert 0 < len(found.faults) <= MOST_SHOWN + 1
    for fault in found.faults:
        assert fault.sentence("wild.chart").isprintable()
        assert fault.text.isprintable()
        assert len(fault.text) <= WIDEST
        assert 0 <= fault.caret <= len(fault.text)


@given(st.binary())
def test_any_bytes(data: bytes) -> None:
    """Random bytes are a chart or have faults."""
    check(data)


@given(st.lists(SIGNS).map("".join))
def test_any_signs(text: str) -> None:
    """The characters of charts in any order are a chart or have faults."""
    check(text.encode())


@example("title:tle:\t Low Meadow\n| G | C |\n")
@given(spoilt())
def test_spoilt_charts(text: str) -> None:
    """A chart with a few changes is a chart or has faults."""
    check(text.encode())


@pytest.mark.parametrize("seed", SEEDS)
def test_seeds_are_charts(seed: str) -> None:
    """The charts are valid before they are changed."""
    assert read_chart(seed).parts


NAMES = [letter + sign for letter in "CDEFGAB" for sign in ("bb", "b", "", "#", "##")]

HOSTILE = {
    "strokes": b"|" * LIMIT,
    "empty bars": b"| " * (LIMIT // 2),
    "brackets": b"|" + b"(" * (LIMIT - 1),
    "spaced brackets": b"|" + b"( " * (LIMIT // 2 - 1),
    "quotes": b"|" + b'"' * (LIMIT - 1),
    "bad chords": b"".join(b"|E%x" % number for number in range(0xAAAA, 0xAAAA + 40_000)),
    "many chords": "".join(f"|{a}/{b}" for a, b in permutations(NAMES, 2)).encode(),
    "openings": b"|: " * (LIMIT // 3),
    "openings in a run": b"|:" * 100_000,
    "nested repeats": b"|: C |1 D" * (LIMIT // 9),
    "NULs": b"\0" * LIMIT,
    "NULs in lines": b"\0\n" * (LIMIT // 2),
    "no UTF-8": b"\xff\n" * (LIMIT // 2),
    "UTF-16 without a mark": SEEDS[0].encode("utf-16-le") * 100,
    "lone surrogates": b"\xed\xa0\x80" * 1000,
    "unknown parts": b"form: " + b"B " * 100_000 + b"\n[A]\n| C |",
    "many parts": b"".join(b"[A%d]\n|C\n" % number for number in range(20_000)),
    "many notes": b"note: x\n" * 30_000,
    "an ending of many figures": b"|C|" + b"1," * 100_000 + b"1 C :|2 C |",
    "directions": b"| C " + b'"stop"' * 40_000,
    "one part many times": b"[A]\n" * (LIMIT // 4),
    "figures": b"|" + b"1," * (LIMIT // 2 - 1),
    "a number of times": b"|: C :|x" + b"9" * 200_000,
    "blanks before a value": b"title:" + b" " * (LIMIT - 6),
    "letters": b"a" * LIMIT,
    "blanks": b"a" + b" " * (LIMIT - 1),
    "slashes": b"|C " + b"/" * (LIMIT - 3),
    "one long chord": b"|C" + b"(b9" * (LIMIT // 3 - 1),
    "one long key": b"key: E " + b"x" * (LIMIT - 7),
    "headers": b"key: E\n" * (LIMIT // 7),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_texts_have_faults(name: str) -> None:
    """Texts designed to be slow have a limited number of faults."""
    assert len(HOSTILE[name]) <= LIMIT
    assert isinstance(answer(HOSTILE[name]), ChartError)
    check(HOSTILE[name])


@pytest.mark.parametrize("bars", [b"| C " * 4096, b'| C "stop" ' * 4096])
def test_the_most_bars(bars: bytes) -> None:
    """A chart with the most bars is read."""
    found = answer(bars)
    assert not isinstance(found, ChartError)
    assert found.parts[0].length() == 4096


def whole_file_fault(source: str) -> str:
    """Return the sentence of the one fault of a file as a whole."""
    with pytest.raises(ChartError) as caught:
        load_chart(source)
    assert [fault.line for fault in caught.value.faults] == [0]
    return str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    """A missing file, a folder and an impossible name each have one fault."""
    missing = str(tmp_path / "none.chart")
    assert f"{missing}: there is no such file: check the name and the folder" == (
        whole_file_fault(missing)
    )
    assert f"{tmp_path}: this is a folder: name a file in it" == (whole_file_fault(str(tmp_path)))
    assert "cannot be read" in whole_file_fault("a\0b")
    assert "cannot be read" in whole_file_fault("a" * 5000)


def test_files_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file without permission has one fault."""

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = str(tmp_path / "mine.chart")
    Path(path).write_text("| C |", encoding="utf-8")
    monkeypatch.setattr("os.open", refuse)
    assert f"{path}: you have no permission to read it: change its permissions, or copy it" == (
        whole_file_fault(path)
    )


def test_files_that_are_too_large(tmp_path: Path) -> None:
    """At most one byte more than the limit is read of an endless file."""
    path = tmp_path / "long.chart"
    path.write_bytes(b"|C" * LIMIT)
    assert f"{path}: it is larger than 256 KiB" in whole_file_fault(str(path))


class Standard:
    """Standard input with given bytes, which records how many are read."""

    def __init__(self, data: bytes) -> None:
        self.buffer = io.BytesIO(data)


def test_texts_as_they_stand(tmp_path: Path) -> None:
    """The text of a file is loaded with its mark, line ends and invalid bytes."""
    path = tmp_path / "bare.chart"
    data = b"\xef\xbb\xbf| C |\r\n\xff"
    path.write_bytes(data)
    text = load_text(str(path))
    assert data == text.encode("utf-8", "surrogateescape")
    with pytest.raises(ChartError, match="2:1: the byte 0xFF is not UTF-8"):
        read_chart(text)


def test_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    """A hyphen is standard input, which is read up to the limit."""
    monkeypatch.setattr(sys, "stdin", Standard(b"| G | C |"))
    assert load_chart("-").title == "Untitled"
    endless = Standard(b"|C" * LIMIT)
    monkeypatch.setattr(sys, "stdin", endless)
    assert "<stdin>: it is larger than 256 KiB" in whole_file_fault("-")
    assert endless.buffer.tell() == LIMIT + 1
    monkeypatch.setattr(sys, "stdin", None)
    assert "<stdin>: there is no standard input" in whole_file_fault("-")
