"""Unknown and invalid headers: one fault with the right name, no follow-on errors."""

from __future__ import annotations

from string import ascii_lowercase

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.chart.fields import CHART_NAMES, PART_NAMES
from backing.chart.read import read_chart, read_chart_bytes
from backing.errors import ChartError, Diagnostic
from backing.style.library import style_meters

ALL = "title, by, key, meter, tempo, style, form, count-in, intro, ending, melody, note"

GOOD = {
    "title": "Mill Race", "by": "Somebody", "key": "Bb", "meter": "3/4", "tempo": "120",
    "style": "waltz", "form": "A B A", "count-in": "2", "intro": "last 2", "ending": "ritard",
    "melody": "mill.abc", "note": "slow",
}  # fmt: skip
BODY = "\n[A] 3\n| 1 4 5 | 57 / / | (2/4) 2m 5 |\n[B] 1\nkey: G\n| 1 / 5 |\n"
"""Bars that want a key and three beats."""


def faults(text: str) -> list[Diagnostic]:
    """Return the faults of a chart, including styles and their meters."""
    with pytest.raises(ChartError) as caught:
        read_chart(text, "mill.chart", style_meters())
    return list(caught.value.faults)


def chart(**changed: str) -> str:
    """Return a valid chart, some of its headers replaced by other lines."""
    lines = [changed.get(name.replace("-", "_"), f"{name}: {GOOD[name]}") for name in CHART_NAMES]
    return "\n".join(lines) + BODY


def test_the_good_chart_is_good() -> None:
    """The bars depend on every header, so a missing one would be reported."""
    assert read_chart(chart(), "mill.chart", style_meters()).title == "Mill Race"
    assert len(faults(chart(key="", meter=""))) > 3


ELSEWHERE = [
    ("bpm", "tempo"), ("speed", "tempo"), ("Q", "tempo"), ("metronome", "tempo"),
    ("time", "meter"), ("time signature", "meter"), ("Time_Sig", "meter"), ("M", "meter"),
    ("metre", "meter"), ("signature", "meter"), ("takt", "meter"),
    ("feel", "style"), ("groove", "style"), ("rhythm", "style"), ("genre", "style"),
    ("composer", "by"), ("author", "by"), ("artist", "by"), ("written by", "by"),
    ("tune", "title"), ("name", "title"), ("song", "title"), ("T", "title"),
    ("tonality", "key"), ("key signature", "key"), ("K", "key"),
    ("structure", "form"), ("order", "form"), ("comment", "note"), ("copyright", "note"),
    ("countin", "count-in"), ("count off", "count-in"), ("end", "ending"),
]  # fmt: skip


@pytest.mark.parametrize("spell", ["{}: {}", "{} :  {}", " {}:{}", "{} = {}", "{}： {}"])
@pytest.mark.parametrize("other, name", ELSEWHERE)
def test_names_of_other_notations(other: str, name: str, spell: str) -> None:
    """A foreign name of a header is one fault with the name to write."""
    for written in (other, other.upper(), other.lower()):
        line = spell.format(written, GOOD[name])
        if "=" in line and (len(other) == 1 or other == "takt"):
            continue
        found = faults(chart(**{name.replace("-", "_"): line}))

        assert [CHART_NAMES.index(name) + 1] == [each.line for each in found]
        assert f"write '{name}: {GOOD[name]}', or choose from {ALL}" == found[0].allowed


@pytest.mark.parametrize("name", [name for name in CHART_NAMES if name not in ("by", "note")])
@given(data=st.data())
def test_misspelt_headers(name: str, data: st.DataObject) -> None:
    """A misspelt header is one fault with all headers."""
    place = data.draw(st.integers(0, len(name) - 1))
    letter = data.draw(st.sampled_from(ascii_lowercase))
    slip = data.draw(
        st.sampled_from(
            [
                name[:place] + letter + name[place:],
                name[:place] + name[place + 1 :],
                name[:place] + letter + name[place + 1 :],
                name[:place] + name[place : place + 2][::-1] + name[place + 2 :],
            ]
        )
    )
    if slip.strip("-") in CHART_NAMES or slip in ("modes", ""):
        return
    found = faults(chart(**{name.replace("-", "_"): f"{slip}: {GOOD[name]}"}))

    assert [CHART_NAMES.index(name) + 1] == [each.line for each in found]
    assert found[0].allowed.endswith(f"choose from {ALL}")


@pytest.mark.parametrize(
    "line, advice",
    [
        ("capo: 2", "use the option --capo, such as --capo 2, and delete the line"),
        ("tuning: GDAE", "use an option, such as --instrument guitar"),
        ("bars: 32", "write the number of bars after the name of a part, such as [A] 8"),
        ("lyrics: la la", "a chart has no lyrics"),
        ("transpose: 2", "use an option, such as --key G"),
        ("foo: 12", "choose from"),
        ("Verse one: slow", "choose from"),
        ("ключ: E", "choose from"),
        ("1st: 2", "choose from"),
    ],
)
def test_unknown_headers(line: str, advice: str) -> None:
    """Other lines are one fault with the headers allowed there, above the parts and in a part."""
    above = faults(f"{line}\n{chart()}")
    assert [each.line for each in above] == [1]
    assert above[0].allowed.startswith(advice)
    assert above[0].allowed.endswith(f"choose from {ALL}")

    inside = faults(chart().replace("[A] 3\n", f"[A] 3\n{line}\n"))
    assert [len(CHART_NAMES) + 2] == [each.line for each in inside]
    assert inside[0].allowed.endswith(f"choose from {', '.join(PART_NAMES)}")


@pytest.mark.parametrize(
    "line, name",
    [
        ("key E", "key: E"), ("tempo 120", "tempo: 120"), ("meter C|", "meter: 2/2"),
        ("time = C|", "meter: 2/2"), ("Title - Mill Race", "title: Mill Race"),
        ("key; E", "key: E"), ("beat: 3/4", "meter: 3/4"), ("**key**: E", "key: E"),
        ("%%title: Mill", "title: Mill"),
        ("{title: Mill}", "title: Mill"),
        ("[key: E]", "key: E"), ("tempo (bpm): 120", "tempo: 120"), ('"by": "Me",', "by: Me"),
        ("\ufeffkey: E", "key: E"), ("key\u00a0: E", "key: E"), ("Ｋｅｙ: Ｅ", "key: E"),
        ("time: common", "meter: 4/4"), ("bpm: fast", "tempo:"),
        ("feel: Slow Blues", "style: slow-blues"),
    ],
)  # fmt: skip
def test_lines_that_are_nearly_headers(line: str, name: str) -> None:
    """The fault of a line without a colon, or with extra signs, has the line to write."""
    header = name.partition(":")[0]
    found = faults("\n" + chart(**{header: line}))

    assert [CHART_NAMES.index(header) + 2] == [each.line for each in found]
    assert found[0].allowed.startswith(f"write '{name}', or choose from")


METERS = [
    ("C", "4/4"), ("c", "4/4"), ("common", "4/4"), ("common time", "4/4"), ("C|", "2/2"),
    ("c|", "2/2"), ("¢", "2/2"), ("cut", "2/2"), ("Cut Time", "2/2"), ("alla breve", "2/2"),
    ("3-4", "3/4"), ("3:4", "3/4"), ("34", "3/4"), ("6 8", "6/8"), ("3/4 time", "3/4"),
    ("in 6/8", "6/8"), ("12 8", "12/8"), ("waltz", "3/4"), ("3\\4", "3/4"),
]  # fmt: skip


@pytest.mark.parametrize("text, meter", METERS)
def test_other_spellings_of_meters(text: str, meter: str) -> None:
    """A meter in signs or words is one fault with its digits, also under a foreign name."""
    found = faults(chart(meter=f"meter: {text}"))
    assert [(CHART_NAMES.index("meter") + 1, f"write {meter}")] == [
        (each.line, each.allowed) for each in found
    ]
    (found,) = faults(chart(meter=f"time: {text}"))
    assert found.allowed.startswith(f"write 'meter: {meter}', or choose from")
    (found,) = faults(chart().replace("[B] 1\n", f"[B] 1\nmeter: {text}\n"))
    assert f"write {meter}" == found.allowed


IMPOSSIBLE = {
    "key": ["H", "E mjor", ""], "meter": ["5", "3/5", "C|", "", "0/4"],
    "tempo": ["fast", "9000", ""],
    "style": ["waltzz", "Slow Waltz", "", "../x"], "form": ["A X A X", "A X Y", "A x 2", "ABA", ""],
    "intro": ["4"], "ending": ["bang"], "count-in": ["many"], "melody": ["/etc/x"],
}  # fmt: skip


@pytest.mark.parametrize(
    "name, value", [(name, value) for name, values in IMPOSSIBLE.items() for value in values]
)
def test_an_impossible_value_is_one_fault(name: str, value: str) -> None:
    """An invalid header makes no follow-on errors, above the parts or in a part."""
    found = faults(chart(**{name.replace("-", "_"): f"{name}: {value}"}))
    assert [CHART_NAMES.index(name) + 1] == [each.line for each in found]
    if name in PART_NAMES:
        text = chart().replace("key: G\n", "").replace("[B] 1\n", f"[B] 1\n{name}: {value}\n")
        assert [len(CHART_NAMES) + 4] == [each.line for each in faults(text)]


PART_LINES = [
    ("time: 6/8", "write 'meter: 6/8', or"), ("feel: jig", "write 'style: jig', or"),
    ("meter: C|", "write 2/2"), ("composer: me", "write 'by: me' above the first part, or"),
    ("bpm: 90", "write 'tempo: 90', or"), ("capo: 3", "use the option --capo"),
]  # fmt: skip


@pytest.mark.parametrize("line, advice", PART_LINES)
@pytest.mark.parametrize("bars", ["| G D C G D C |", "| G D |", "| 1 4 |"])
def test_headers_in_parts(line: str, advice: str, bars: str) -> None:
    """An invalid header of a part makes no follow-on errors in its bars."""
    bars = "| G |" if line.split(":")[0] in ("composer", "bpm", "capo", "feel") else bars
    found = faults(f"key: E\n[A]\n| E |\n[B] 1\n{line}\n{bars}\n")

    assert [each.line for each in found] == [5]
    assert found[0].allowed.startswith(advice)


def test_two_headers_in_a_line() -> None:
    """A second header in a line makes no follow-on errors in the bars."""
    assert [each.line for each in faults(chart(key="key: E; meter: 3/4", meter=""))] == [3]


def test_a_header_after_bars() -> None:
    """A meter or key after bars makes no follow-on errors in the bars below it."""
    assert [each.line for each in faults("key: E\n[A]\n| E |\nmeter: 3/4\n| E A B |\n")] == [4]
    assert [each.line for each in faults("| C |\nkey: E\n| 1 |\n")] == [2]


@pytest.mark.parametrize("head", ["[A b]", "[Ä]", "[A", "[]", "[1]"])
def test_an_invalid_part_name_and_the_form(head: str) -> None:
    """An invalid part name makes no follow-on errors in the form."""
    text = chart().replace("[A] 3", head).replace("form: A B A", "form: Ab B Ab")

    assert [len(CHART_NAMES) + 1] == [each.line for each in faults(text)]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_ends_and_marks(end: str, mark: bytes) -> None:
    """A byte order mark and the kind of line end make no difference."""
    text = chart(tempo="BPM : 120").replace("\n", end)
    with pytest.raises(ChartError) as caught:
        read_chart_bytes(mark + text.encode(), "mill.chart", style_meters())

    (fault,) = caught.value.faults
    assert (fault.line, fault.column, fault.found) == (5, 1, "there is no header 'BPM:'")
