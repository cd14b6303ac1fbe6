"""The markup of charts: chord symbols, rows, names for screen readers, escaped texts."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from properties import examples

from backing.chart.read import read_chart
from backing.stand.markup import render, spoken, symbol, symbol_markup
from backing.stand.sheet import SheetSource, View, chart_fields, parts_of, sheet
from backing.stand.validation import check_text
from tests.chart.strategies import charts
from tests.stand.server import chords_of

if TYPE_CHECKING:
    from backing.chart.model import Chart

ROUND = read_chart(
    "title: Round\nkey: D\ntempo: 110\nform: A B A\n"
    "[A] 8\n|: D | G |1 A7 | A7 :|2 D | D |\n[B] 4\n| Bm | Bm | A7 | D A |\n"
)


class _Tags(HTMLParser):
    """The names of all elements, all attributes, and the text."""

    def __init__(self, markup: str) -> None:
        super().__init__()
        self.names: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.words = ""
        self.feed(markup)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.words += data


@pytest.mark.parametrize(
    "text, seen, said",
    [
        ("C", "C", "C"),
        ("Bb7", "B♭7", "B flat 7"),
        ("F#m7b5", "F♯m7♭5", "F sharp minor 7 flat 5"),
        ("Cmaj7", "Cmaj7", "C major 7"),
        ("Am7/G", "Am7/G", "A minor 7 over G"),
        ("Eb/Bb", "E♭/B♭", "E flat over B flat"),
        ("G6/9", "G6/9", "G 6 9"),
        ("C#dim7", "C♯°7", "C sharp diminished 7"),
        ("57", "57", "5 7"),
        ("b7maj7", "♭7maj7", "flat 7 major 7"),
        ("2m/5", "2m/5", "2 minor over 5"),
        ("vi", "vi", "6 minor"),
        ("bVII7", "♭VII7", "flat 7 7"),
        ("N.C.", "N.C.", "no chord"),
        # common practice, no source
        ("Caug7", "Caug7", "C augmented 7"),
        ("C7alt", "C7alt", "C 7 altered"),
        ("Cadd9", "Cadd9", "C added 9"),
        ("Cmadd9", "Cmadd9", "C minor added 9"),
        ("Cmmaj7", "Cmmaj7", "C minor major 7"),
        ("Caugmaj7", "Caugmaj7", "C augmented major 7"),
        ("Ebsus4", "E♭sus4", "E flat suspended 4"),
        ("G7b9#9", "G7♭9♯9", "G 7 flat 9 sharp 9"),
        ("G7b9add13", "G7♭9add13", "G 7 flat 9 added 13"),
        ("C(b5)", "C(♭5)", "C major flat 5"),
        ("Cb(#11)", "C♭(♯11)", "C flat major sharp 11"),
        ("C5", "C5", "C 5"),
        ("F##m", "F♯♯m", "F double sharp minor"),
        ("Bbb6", "B♭♭6", "B double flat 6"),
        ("ii7b5", "ii7♭5", "2 minor 7 flat 5"),
        ("viidim7", "vii°7", "7 diminished 7"),
        ("1/b7", "1/♭7", "1 over flat 7"),
    ],
)
def test_a_chord_as_symbol_and_in_words(text: str, seen: str, said: str) -> None:
    """Symbols have ♯ and ♭; in words they are as players say them."""
    assert _Tags(symbol_markup(text)).words == seen
    assert spoken(text) == said
    assert symbol(text).is_chord == (text != "N.C.")


@pytest.mark.parametrize(
    "bars, lengths, offset",
    [
        ("|: D | G |1 A7 | A7 :|2 D | D |", [4, 2], 2),
        ("| (pickup 1/4) A7 |: D | G |1 A7 | A7 :|2 D | D |", [5, 2], 2),
        ("|: D | G | D |1 A7 | A7 :|2 D | D |", [3, 2, 2], 0),
        ("|: D | G |1 A7 :|2 D | G | D |", [3, 3], 0),
    ],
)
def test_endings_are_set_as_engraved(bars: str, lengths: list[int], offset: int) -> None:
    """A first ending stays in its row where there is room; the second one is set below it."""
    (part,) = parts_of(sheet(SheetSource(read_chart(f"key: D\n{bars}\n")), View()))

    assert [len(row) for row in part.rows] == lengths
    assert part.rows[-1][0].offset == offset
    assert not any(bar.offset for bar in part.rows[-1][1:])


def test_bars_have_their_numbers_in_the_form() -> None:
    """Bars have their numbers in the form as played, from 1."""
    attributes = _Tags(chart_fields(sheet(SheetSource(ROUND), View()))["html"]).attributes
    numbers = [value for name, value in attributes if name == "data-numbers"]

    assert numbers[:4] == ["1 5 13 17", "2 6 14 18", "3 15", "4 16"]
    assert numbers[4:] == ["7 19", "8 20", "9", "10", "11", "12"]


def test_each_occurrence_of_a_part_has_a_button() -> None:
    """Each occurrence of a part has a button with its own command."""
    attributes = _Tags(chart_fields(sheet(SheetSource(ROUND), View()))["form"]).attributes

    assert [value for name, value in attributes if name == "data-say"] == [
        "part A 1",
        "part B",
        "part A 2",
    ]


@examples(20)
@given(charts())
def test_all_chords_are_shown_in_order(chart: Chart) -> None:
    """The markup has the chords of all bars, also of those shown as a repeat sign."""
    bars = [bar for part in chart.plain().parts for bar in part.written()]
    texts = [str(span.chord) if span.chord else "N.C." for bar in bars for span in bar.chords]

    assert chords_of(chart_fields(sheet(SheetSource(chart), View()))["html"]) == texts


def test_texts_of_a_chart_are_escaped() -> None:
    """Titles, names of files and faults are escaped."""
    evil = '<img src=x onerror="alert(1)">'
    found = check_text(f"key: {evil}\n[A]\n| {evil} |\n".encode())
    tune = {"title": evil, "file": evil, "key": "C", "style": "", "meter": "", "bpm": 0}
    tunes = [{**tune, "about": evil, "fault": evil}]
    shown = found["list"], found["marks"], render("tunes", tunes=tunes), render("set", tunes=tunes)

    for markup in shown:
        tags = _Tags(markup)
        assert set(tags.names) <= {"button", "b", "mark", "li", "span"}
        assert not [name for name, _ in tags.attributes if name.startswith("on")]
        assert "<img" in tags.words


def test_faults_are_marked_at_their_place() -> None:
    """The marked text equals the text; marks have their offsets in UTF-16 units."""
    text = "title: 𝄞\nkey: G\n[A]\n| G | Gmaj77 |\n| H |\n"
    found = check_text(text.encode())
    tags = _Tags(found["marks"])
    places = [int(value or 0) for name, value in tags.attributes if name == "data-at"]

    assert tags.words.rstrip("\n") == text.rstrip("\n")
    units = text.encode("utf-16-le")
    assert [units[2 * at : 2 * at + 2].decode("utf-16-le") for at in places] == ["7", "H"]
