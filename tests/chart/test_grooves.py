"""The styles of a chart and the meters that they play."""

from __future__ import annotations

import pytest

from backing.chart.read import read_chart
from backing.errors import ChartError
from backing.timing import Meter

STYLES = {
    "stroll": frozenset({Meter(4, 4), Meter(2, 2)}),
    "lilt": frozenset({Meter(6, 8)}),
    "bounce": frozenset({Meter(4, 4)}),
    "garbled": frozenset[Meter](),
}
"""Invented styles; of the last one the meters are not known."""


def sentences(text: str) -> list[str]:
    """Return the faults of a chart as sentences, without its name."""
    with pytest.raises(ChartError) as caught:
        read_chart(text, "mill.chart", STYLES)
    return [line.removeprefix("mill.chart:") for line in str(caught.value).split("\n")]


@pytest.mark.parametrize(
    "text, sentence",
    [
        (
            "style: bonce\n| C |",
            "1:8: 'bonce' is not a style: choose from bounce, garbled, lilt, stroll; did you mean "
            "'bounce'?",
        ),
        (
            "[A]\nstyle: xyz\n| C |",
            "2:8: 'xyz' is not a style: choose from bounce, garbled, lilt, stroll",
        ),
        (
            "style: bounce\nmeter: 6/8\n[A]\n| C |\n[B]\n| C |",
            "2:8: the style bounce is played in 4/4, the chart is in 6/8: choose from lilt",
        ),
        (
            "style: lilt\n| C |",
            "1:8: the style lilt is played in 6/8, the chart is in 4/4: choose from bounce, stroll",
        ),
        (
            "meter: 7/8\nstyle: stroll\n| C |",
            "1:8: the style stroll is played in 2/2 or 4/4, the chart is in 7/8: no style "
            "plays 7/8",
        ),
        (
            "style: bounce\n[A]\n| C |\n[B]\nmeter: 2/2\n| C |",
            "5:8: the style bounce is played in 4/4, part B is in 2/2: choose from stroll",
        ),
        (
            "meter: 6/8\nstyle: lilt\n[A]\nstyle: stroll\n| C |",
            "4:8: the style stroll is played in 2/2 or 4/4, part A is in 6/8: choose from lilt",
        ),
    ],
)
def test_faults(text: str, sentence: str) -> None:
    """An unknown style and a meter that a style does not play are each reported once."""
    assert [sentence] == sentences(text)


@pytest.mark.parametrize(
    "text",
    [
        "meter: 6/8\nstyle: lit\n| C |",
        "meter: 6/9\nstyle: bounce\n| C |",
        "meter: 6/8\nstyle: Bounce!\n| C |",
    ],
)
def test_a_fault_makes_no_other(text: str) -> None:
    """An invalid style or meter is not compared with the other."""
    assert len(sentences(text)) == 1


@pytest.mark.parametrize(
    "text",
    [
        "| C |",
        "style: lilt\nmeter: 6/8\n| C |",
        "style: garbled\nmeter: 9/8\n| C |",
        "form: A\n[A]\n| C |\n[B]\nmeter: 6/8\n| C |",
        "| C | (7/8) D |",
    ],
)
def test_valid_styles(text: str) -> None:
    """A style in its meter is valid, and so are bars of other meters and parts outside the form."""
    assert read_chart(text, styles=STYLES) == read_chart(text)


def test_together_with_all_others() -> None:
    """Faults of styles are sorted among the others."""
    found = sentences("key: X\nstyle: bonce\n| C | X9 |")
    assert [each.split(": ")[0] for each in found] == ["1:6", "2:8", "3:7"]


def test_without_styles_any_will_do() -> None:
    """Without known styles, every name is valid."""
    assert read_chart("style: bonce\nmeter: 7/8\n| C |").style == "bonce"
