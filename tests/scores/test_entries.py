"""Chords of parts whose first bar has no sign; the results are worked out by hand."""

from __future__ import annotations

import pytest
from cases import HEAD
from playing import only_tune

from backing.chart.sequence import once_round
from backing.scores.to_chart import to_chart


@pytest.mark.parametrize(
    "body, played",
    [
        ('P:AAB\nK:C\nP:A\nC4|"G"D4|"F"E4|\nP:B\nF4|"C"G4|]', "N.C. G F F G F F C"),
        ('P:BA\nK:C\nP:A\nC4|"G"D4|\nP:B\n"F"F4|"C"G4|]', "F C C G"),
        ('P:ABAC\nK:C\nP:A\n"C"C4|\nP:B\nF4|"G"G4|\nP:C\nE4|]', "C C G C C"),
        ('P:ABCB\nK:C\nP:A\n"C"C4|\nP:B\nF4|F4|\nP:C\n"G"E4|]', "C C C G G G"),
        ('P:ABA\nK:C\nP:A\n|:C4|"G"D4:|\nP:B\n"F"G4|]', "N.C. G G G F F G G G"),
        ('K:C\nC4|"G"D4!fine!|"F"E4|F4!D.C.!|]', "N.C. G F F F G"),
        ('P:AAB\nK:C\nP:A\n"Am"C4|"G"D4|\nP:B\nF4|]', "Am G Am G G"),
        ("P:AAB\nK:C\nP:A\nC4|D4|\nP:B\nF4|]", "N.C. N.C. N.C. N.C. N.C."),
    ],
)
def test_a_part_without_a_sign_goes_on_as_it_is_played(body: str, played: str) -> None:
    """The first bar of a part without a sign continues the chord played before it each time."""
    chart = to_chart(only_tune(HEAD + body)).chart
    bars = [each.bar.chords for each in once_round(chart)]
    assert " ".join(str(spans[0].chord or "N.C.") for spans in bars) == played


def test_a_part_that_is_written_out_is_told() -> None:
    """A part that follows different chords is written once for each, with a remark."""
    found = to_chart(only_tune(HEAD + 'P:AAB\nK:C\nP:A\nC4|"G"D4|\nP:B\n"C"F4|]'))
    assert found.chart.order == ("A", "A2", "B")
    assert found.remarks == (
        "line 8: part A begins without a chord sign, after different chords: written once for each "
        "chord",
    )
