"""Faults of texts: their order, their number and their places."""

from __future__ import annotations

import pytest

from backing.chart.diagnostics import MOST_SHOWN, WIDEST
from backing.chart.read import read_chart, read_chart_bytes
from backing.errors import ChartError, Diagnostic


def faults(text: str) -> list[Diagnostic]:
    """Return the faults of a chart."""
    with pytest.raises(ChartError) as caught:
        read_chart(text, "mill.chart")
    return list(caught.value.faults)


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing", "title: Low Meadow\nkey: E"])
def test_no_bars(text: str) -> None:
    """A fault of a chart without bars says how to write one."""
    sentence = (
        "mill.chart: the chart has no bars: write a part such as [A], and below it bars between "
        "bar lines, such as | C | G7 |"
    )
    assert [sentence] == [fault.sentence("mill.chart") for fault in faults(text)]


@pytest.mark.parametrize(
    "data, sentence",
    [
        (b"by: Jos\xe9\n| C |", "1:8: the byte 0xE9 is not UTF-8"),
        (b"| C |\n| \xff\xff\xff |", "2:3: the byte 0xFF is not UTF-8"),
        (b"\xef\xbb\xbf| C\0 |", "1:4: this is a control character (U+0000)"),
        (b"| C |\r\n\x1b[2J", "2:1: this is a control character (U+001B)"),
        ("\x85| C |".encode(), "1:1: this is a control character (U+0085)"),
        ("| C |".encode("utf-16"), " the text is in UTF-16"),
        ("| C |".encode("utf-16-le"), " the text is in UTF-16"),
        (b"|\0 C |", "1:2: this is a control character (U+0000)"),
    ],
)
def test_bytes_that_are_not_text(data: bytes, sentence: str) -> None:
    """The first byte of a line that is not text is reported with its column."""
    with pytest.raises(ChartError) as caught:
        read_chart_bytes(data, "x")
    assert f"x:{sentence}: save the chart as plain text in UTF-8" == str(caught.value)


def test_all_faults_at_once() -> None:
    """All faults are reported in the order of the text, without follow-on errors."""
    text = """\
key: H
form: A Q
meter: 4/7
[A] 9
| 1 | X | "stip" C D E |
| % | (1/3) C |
[B] 1
|: C | D |
"""
    places = [(fault.line, fault.column) for fault in faults(text)]
    assert places == [(1, 6), (2, 9), (3, 8), (4, 5), (5, 7), (5, 11), (6, 8), (8, 1)]


def test_many_faults() -> None:
    """Fifty faults are reported, then the number of others."""
    found = faults("| X " * 60)
    assert len(found) == MOST_SHOWN + 1
    rest = Diagnostic(0, 0, "10 more faults, not shown", "correct the 50 above, then try again")
    assert rest == found[-1]
    assert faults("| X " * 51)[-1].found == "1 more fault, not shown"
    assert len(faults("| X " * 50)) == MOST_SHOWN
    assert faults("| X " * 2000)[-1].found == "at least 450 more faults, not shown"


@pytest.mark.parametrize(
    "text, sentence",
    [
        (
            "".join(f"[P{n}]\n| C |\n" for n in range(300)),
            "mill.chart:401: there are more than 200 parts up to here: use the form to "
            "repeat parts; the lines below were not read",
        ),
        (
            "note: quiet\n" * 2000,
            "mill.chart:1001:1: there are more than 1000 notes up to here: check that this is a "
            "chart; the lines below were not read",
        ),
    ],
)
def test_too_much_to_be_a_chart(text: str, sentence: str) -> None:
    """Too many parts or notes are one fault, which ends the reading."""
    assert [sentence] == [fault.sentence("mill.chart") for fault in faults(text)]


def test_long_digits_of_an_ending_are_cut() -> None:
    """A fault of an ending shortens its digits."""
    (fault,) = faults("|: C |" + "1," * 9000 + "1 D :|2 E |")
    assert fault.found == "the endings of this repeat are 1,1,1,1,1,1,1,1,1,1,… / 2"


def test_each_part_with_a_colon_is_reported() -> None:
    """Each part name with a colon is reported, and the form is not."""
    places = [(fault.line, fault.column) for fault in faults("form: A B\nA:\n| C |\nB:\n| D |")]
    assert places == [(2, 1), (4, 1)]


def test_line_of_a_fault() -> None:
    """A fault has its line and the offset of its caret; tabs and other signs take one column."""
    fault = faults("| C |\n|\tC\u200b | H |")[-1]
    assert (fault.line, fault.column) == (2, 8)
    assert fault.text == "| C� | H |"
    assert fault.text[fault.caret] == "H"


@pytest.mark.parametrize("before, behind", [(0, 300), (50, 300), (300, 300), (300, 0)])
def test_long_line_of_a_fault(before: int, behind: int) -> None:
    """A fault in a long line shows the piece around it."""
    fault = faults("C |" * before + " H |" + "C |" * behind)[0]
    assert len(fault.text) == WIDEST
    assert fault.text[fault.caret] == "H"
    assert (before > 0) == fault.text.startswith("…")
    assert (behind > 0) == fault.text.endswith("…")
