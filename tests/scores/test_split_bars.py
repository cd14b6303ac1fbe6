"""Check that half bars around repeats and parts, and orders of parts, are played right."""

from __future__ import annotations

import pytest
from cases import HEAD
from playing import only_tune, played, played_abc

from backing.chart.read import read_chart
from backing.chart.sequence import once_round
from backing.chart.write import write_chart
from backing.scores.musicxml import read_musicxml, write_musicxml
from backing.scores.to_chart import to_chart

NAMES = "C D EF G A B"
SIX = "X:1\nT:A Case\nM:6/8\nL:1/8\n"


def _played(text: str) -> list[str]:
    """Return the letters of each bar as played; "." for a silent one."""
    return _letters(played_abc(text))


def _letters(bars: list[list[tuple[int, int, int]]]) -> list[str]:
    return ["".join(NAMES[key % 12] for _, _, key in bar) or "." for bar in bars]


def _signs(text: str) -> list[str]:
    """Return the chords as played, without repeated ones."""
    signs: list[str] = []
    for bar in once_round(to_chart(only_tune(text)).chart):
        for span in bar.bar.chords:
            sign = str(span.chord or "N.C.")
            signs += [sign] if signs[-1:] != [sign] else []
    return signs


PIECES = {
    "half a bar before a repeat that begins with the other half": (
        SIX + 'K:C\n"G"G3 |:GAB|"C"c6|"D"d3:|', "GGAB C DGAB C D", "G C D C D",
    ),
    "a pickup before a repeat that begins with a pickup": (
        HEAD + 'K:C\n"G"G|:"C"A|"F"C4|"G"D3:|', "GA C DA C D", "G C F G C F G",
    ),
    "two halves of a bar, each with double bars": (
        HEAD + 'K:C\n"G"G2||"C"A2||"F"C4|"Am"D4|]', "GA C D", "G C F Am",
    ),
    "two pickups": (HEAD + 'K:C\n"G"G||"C"A||"F"C4|"Am"D4|]', "GA C D", "G C F Am"),
    "three pickups": (HEAD + 'K:C\n"G"G||"C"A||"Dm"B||"F"C4|"Am"D4|]', "GAB C D", "G C Dm F Am"),
    "two short bars that make up more than one": (
        HEAD + 'K:C\n"G"G3||"C"A3||"F"C4|"Am"D4|]', "GA C D", "G C F Am",
    ),
    "half a bar between two repeats, which begin with halves": (
        HEAD + 'K:C\n|:"C"C4|"D"D2:|"E"E2|:"F"F2|"G"G4|"A"A2:|', "C D C D EF G AF G A",
        "C D C D E F G A F G A",
    ),
    "a short bar before a repeat that begins with a whole one": (
        HEAD + 'K:C\nC4|"G"G2|:"C"C4|"F"D4:|', "C G C D C D", "N.C. G C F C F",
    ),
    "halves around :|:": (
        HEAD + 'K:C\n|:"C"C4|"D"D2:|:"F"F2|"G"G4|"A"A2:|', "C D C DF G AF G A",
        "C D C D F G A F G A",
    ),
    "halves around ::": (
        HEAD + 'K:C\n|:"C"C4|"D"D2::"F"F2|"G"G4|"A"A2:|', "C D C DF G AF G A",
        "C D C D F G A F G A",
    ),
    "a bar split by a repeat's opening": (
        HEAD + 'K:C\n"C"C4|"E"E2|:"F"F2|"G"G4|"A"A2:|', "C EF G AF G A", "C E F G A F G A",
    ),
    "half a bar behind a second ending": (
        HEAD + 'K:C\n|:"C"C4|1"D"D4:|2"E"E2||"F"F2|"G"G4|"A"A2|]', "C D C EF G A",
        "C D C E F G A",
    ),
    "short endings": (
        HEAD + 'K:C\n|:"G"G|"C"C4|1"D"D3:|2"E"E3|]', "G C DG C E", "G C D G C E",
    ),
    "a short part before another": (
        HEAD + 'K:C\nP:S\n"G"G|\nP:A\n"C"C4|"F"D4|]', "G C D", "G C F",
    ),
    "a short part before one with a pickup": (
        HEAD + 'K:C\nP:S\n"G"G|\nP:A\n|:"Am"E|"C"C4|"F"D3:|', "GE C DE C D",
        "G Am C F Am C F",
    ),
    "a short part before a pickup that stands alone": (
        HEAD + 'K:C\nP:S\n"G"G|\nP:A\nE|:"C"C4|"F"D3E:|', "GE C DE C DE", "G C F C F",
    ),
    "a short part in an order before one with a pickup": (
        "X:1\nT:t\nM:4/4\nL:1/4\nP:SAB\n" 'K:C\nP:S\n"G"G2|\nP:A\n"Am"E|"C"C4|"F"D3|\n'
        'P:B\n"G"G4|]', "GE C D G", "G Am C F G",
    ),
    "a short part that is played again": (
        "X:1\nT:t\nM:4/4\nL:1/4\nP:SASA\n" 'K:C\nP:S\n"G"G2|\nP:A\n"C"C4|"F"D4|]', "G C D G C D",
        "G C F G C F",
    ),
    "a short repeat": (HEAD + 'K:C\n|:"Am"A2:|"C"C4|"F"D4|E4|]', "A A C D E", "Am C F"),
    "a short bar at the end": (HEAD + 'K:C\n|:"C"C4|"F"D4:|"G"G2|]', "C D C D G", "C F C F G"),
    "a pickup under D.C.": (
        HEAD + 'K:C\n"G"G|:"C"C4|"F"D4:|"Am"E4|"G"F3!D.C.!|]', "G C D C D E FG C D E F",
        "G C F G C F Am G C F Am G",
    ),
}  # fmt: skip
"""Tunes; the letters of each bar as played; the chords as played. A pickup that finds no silence
before it is played at the start of the form alone; its chord sounds each time its part begins."""


@pytest.mark.parametrize("name", PIECES)
def test_pieces_of_bars(name: str) -> None:
    """Notes and chords of split bars are played in order."""
    text, letters, signs = PIECES[name]

    assert " ".join(_played(text)) == letters
    assert " ".join(_signs(text)) == signs


@pytest.mark.parametrize("name", PIECES)
def test_every_sign_is_in_the_chart(name: str) -> None:
    """Every chord sign of a split bar is in the chart."""
    text, _, _ = PIECES[name]
    body = text.split("K:C\n")[1]
    found = to_chart(only_tune(text))

    bars = [bar for part in found.chart.parts for bar in part.written()]
    chords = {str(span.chord) for bar in bars for span in bar.chords}
    assert chords >= set(body.split('"')[1::2])


COUNTED = " times, its repeat included"
EACH = "with its repeats each time"

ORDERS = {
    "a repeat is counted in": ("AAB", "|:C4|D4:|", "E4|", "CDCDE", "2" + COUNTED),
    "figures are the same": ("A2B", "|:C4|D4:|", "E4|", "CDCDE", "2" + COUNTED),
    "all parts": ("AABB", "|:C4:|", "|:E4:|", "CCEE", "2" + COUNTED),
    "twice the repeat": ("A4B", "|:C4:|", "E4|", "CCCCE", "4" + COUNTED),
    "endings": ("A2B", "|:C4|1D4:|2F4|", "E4|", "CDCFE", "2" + COUNTED),
    "four endings (4.10)": (
        "A4.B4", "C4|[1D4:|[2E4:|[3F4:|[4G4|", "E4|", "CDCECFCGEEEE", "4" + COUNTED,
    ),
    "two repeats": ("AAB", "|:C4:||:D4:|", "E4|", "CCDDE", "2" + COUNTED),
    "three times a repeat of two": ("A3B", "|:C4:|", "E4|", "CCCCCCE", EACH),
    "a repeat and more": ("AAB", "|:C4:|D4|", "E4|", "CCDCCDE", EACH),
    "not in a row": ("ABA", "|:C4:|", "E4|", "CCECC", None),
    "no repeats": ("AAB", "C4|D4|", "E4|", "CDCDE", None),
}  # fmt: skip


@pytest.mark.parametrize("name", ORDERS)
def test_orders_over_repeats(name: str) -> None:
    """`P:AAB` plays A twice, with or without a repeat in it, with a remark."""
    order, first, second, letters, reported = ORDERS[name]
    text = f"X:1\nT:t\nM:4/4\nL:1/4\nP:{order}\nK:C\nP:A\n{first}\nP:B\n{second}]\n"

    assert "".join(_played(text)) == letters
    score = to_chart(read_musicxml(write_musicxml(only_tune(text))))
    assert "".join(_letters(played(score))) == letters
    remarks = [each for each in to_chart(only_tune(text)).remarks if "P:" in each]
    assert any(reported in each for each in remarks) if reported else not remarks


def test_what_an_order_leaves_out_is_told() -> None:
    """A part that P: does not name, and a jump in a tune with an order, are reported."""
    text = "X:1\nT:t\nM:4/4\nL:1/4\nP:BC\nK:C\nP:A\nC4|\nP:B\nD4!D.C.!|\nP:C\nE4|]\n"
    found = to_chart(only_tune(text))

    assert [part.name for part in found.chart.parts] == ["A", "B", "C"]
    assert found.remarks == (
        "line 10: D.C. is ignored: P: gives the order of the parts",
        "line 8: P: does not name part A: it is not played",
    )


def test_bars_that_no_way_leads_to_are_told() -> None:
    """Music after a D.C. without a coda is not played; it is kept as a part and reported."""
    found = to_chart(only_tune(HEAD + "K:C\nC4|D4!fine!|E4!D.C. al fine!||F4|G4|]"))

    assert len(played(found)) == 5
    assert [len(part.bars) for part in found.melody.parts] == [3, 2, 2]
    assert any("the jump skips this" in each for each in found.remarks)


@pytest.mark.parametrize(
    "body, signs, letters",
    [
        ('|:C4|"G"D4:|', "N.C. G", "CDCD"),
        ('|:C2"F"C2|"G"D4:|', "N.C. F G F G", "CCDCCD"),
        ('|::C4|"G"D4::|', "N.C. G", "CDCDCD"),
        ('|:C4|1"G"D4:|2"F"E4|]', "N.C. G F", "CDCE"),
        ('|:C4|1"G"D4:|2"F"E4:|3"Am"F4|]', "N.C. G F Am", "CDCECF"),
        ('"C"A4||C4|"G"D4:|', "C G", "ACDCD"),
        ('|:"C"C4|"G"D4:|', "C G C G", "CDCD"),
        ('"G"G4|:E4|1,3"C"C4:|2,4"C"F4|]', "G C", "GECEFECEF"),
        ('"G"G4|:E4|1,3"C"C4:|2,4,5"C"F4|]', "G C", "GECEFECEFEF"),
        ('"G"G4|:E4|1,4"C"C4:|2"C"D4:|3,5"C"F4|]', "G C", "GECEDEFECEF"),
        ('"G"G4|:E4|1"C"C4:|2,3"C"F4|]', "G C", "GECEFEF"),
        ('"G"G4|:E4|1,2"G"C4:|3"F"F4:|4"F"F4|]', "G F", "GECECEFEF"),
        ("|:C4|D4:|", "N.C.", "CDCD"),
        ('|:C4|"N.C."D4:|', "N.C.", "CDCD"),
        ('|:G|C4|"G"D3:|', "N.C. G", "GCDGCD"),
    ],
)
def test_a_first_bar_without_a_sign_goes_on_from_the_end(
    body: str, signs: str, letters: str
) -> None:
    """A first bar without a sign continues the last bar's chord on the second pass."""
    chart = to_chart(only_tune(f"{HEAD}K:C\n{body}")).chart
    assert read_chart(write_chart(chart)) == chart
    assert " ".join(_signs(f"{HEAD}K:C\n{body}")) == signs
    assert "".join(_played(f"{HEAD}K:C\n{body}")) == letters


@pytest.mark.parametrize(
    "tune, signs",
    [
        ('|:"C"C4|1"F"D4:|2"G"E4:|\n|:F4|"Am"G4:|', "C F C G G Am Am Am"),
        ('|:"C"C4|1"F"D4:|2"G"E4:|\nF4|"Am"G4|]', "C F C G G Am"),
        ('|:"C"C4|1,3"F"D4:|2,4"G"E4:|\n|:F4|"Am"G4:|', "C F C G C F C G G Am Am Am"),
    ],
    ids=["a repeat that is written out", "plain bars", "an ending for two times"],
)
def test_bars_after_the_last_ending(tune: str, signs: str) -> None:
    """They are read back as they were written, and each chord is played in its bar."""
    chart = to_chart(only_tune(f"{HEAD}K:C\nP:A\n{tune}")).chart
    assert read_chart(write_chart(chart)) == chart
    played = [str(bar.bar.chords[0].chord) for bar in once_round(chart)]
    assert " ".join(played) == signs
