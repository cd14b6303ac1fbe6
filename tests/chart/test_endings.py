"""Digits right after a bar line: endings and chords."""

from __future__ import annotations

import pytest

from backing.chart.model import Repeat
from backing.chart.read import read_chart
from backing.chart.sequence import played_bars
from backing.errors import ChartError


def reading(bars: str) -> list[str]:
    """Return the bars of a part in G as played, each with its chords."""
    part = read_chart(f"key: G\n{bars}").parts[0]
    return [" ".join(str(span.chord) for span in bar.chords) for bar in played_bars(part)]


@pytest.mark.parametrize(
    "bars, played",
    [
        ("|1 |4 |57 |1 |", "G, C, D7, G"),
        ("|: 1 |1 4 :| 2 |", "G, G C, G, G C, A"),
        ("|:1 |4 |5 |1 :|", "G, C, D, G, G, C, D, G"),
        ("|1 4 |1 5 |1 4 |5 1 |", "G C, G D, G C, D G"),
        ("|1 4 | 5 :|2 5 | 1 |", "G C, D, G C, D, A D, G"),
        ("| 4 |1 5 :|2 |1 |", "C, G D, C, G D, A, G"),
        ("| 4 | 1 5 :| 2 5 |", "C, G D, C, G D, A D"),
        ("|1", "G"),
        ("|N.C. |1 |1 4 |", "None, G, G C"),
    ],
)
def test_chords(bars: str, played: str) -> None:
    """Digits are chords if no ending fits, or after a space."""
    assert played.split(", ") == reading(bars)


@pytest.mark.parametrize(
    "bars, played",
    [
        ("| 4 |1 5 :|2 1 |", "C, D, C, G"),
        ("|: 4 |1 5 :|\n|2 1 | 1 |", "C, D, C, G, G"),
        ("| 4 |1,2 5 :|3 1 |", "C, D, C, D, C, G"),
        ("|4 |1,2 5 :|3,4 1 |", "C, D, C, D, C, G, C, G"),
        ("| 4 |1 5 :|2 1 :|3 6m |", "C, D, C, G, C, Em"),
        ("| IV |1 V :|2 I |", "C, D, C, G"),
        ("| C |1 D :|2 G |", "C, D, C, G"),
        ("| N.C. |1 N.C. :|2 N.C. |", "None, None, None, None"),
        ("| C |1 % :|2 D |", "C, C, C, D"),
        ('| C |1 "stop" D :|2(2/4) D |', "C, D, C, D"),
    ],
)
def test_endings(bars: str, played: str) -> None:
    """Digits are endings among letters, with a comma, or if one fits among spaced numbers."""
    assert played.split(", ") == reading(bars)
    assert isinstance(read_chart(f"key: G\n{bars}").parts[0].sections[0], Repeat)


@pytest.mark.parametrize(
    "bars, place",
    [
        ("|1 |4 |1 5 :|2 1 |", "2:8"),
        ("| 4 |1 5 |57 :|2 1 |", "2:6"),
        ("| 4 |1 5 :|2 1 |6m |", "2:6"),
        ("|:4 |1 5 :|2 1 |", "2:6"),
    ],
)
def test_doubtful(bars: str, place: str) -> None:
    """If an ending fits and other chords have no space either, the fault asks for a space."""
    with pytest.raises(ChartError) as caught:
        reading(bars)
    sentence = (
        f"chart:{place}: '1' right after a bar line can be an ending or a chord: put a space "
        "between every bar line and a chord, such as | 1 | 57 |, and none before an ending"
    )
    assert sentence == str(caught.value)
