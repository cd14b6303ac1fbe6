"""Read ABC as players write it, according to the standard; the results are worked out by hand."""

from __future__ import annotations

import codecs

import pytest
from cases import CHORDS, HEAD, LENGTHS, NO_CHORDS, NOTES, ORDERS
from playing import only_tune, played_abc

from backing.chart.read import read_chart
from backing.chart.sequence import once_round
from backing.chart.write import write_chart
from backing.errors import ScoreError
from backing.scores.abc.read import read_abc
from backing.scores.to_chart import to_chart
from backing.scores.tune import Tune
from backing.timing import Meter

NAMES = {60: "C", 62: "D", 64: "E", 65: "F", 67: "G", 69: "A", 71: "B"}


@pytest.mark.parametrize("name", ORDERS)
def test_order(name: str) -> None:
    """Repeats, endings, parts and jumps are played as the standard defines them."""
    body, wanted = ORDERS[name]

    bars = played_abc(HEAD + body)

    assert "".join(NAMES[bar[0][2]] if bar else "." for bar in bars) == wanted


@pytest.mark.parametrize("name", NOTES)
def test_notes(name: str) -> None:
    """Pitches follow key, earlier accidentals and their own."""
    body, wanted = NOTES[name]

    assert [key for bar in played_abc(HEAD + body) for _, _, key in bar] == wanted


@pytest.mark.parametrize("name", LENGTHS)
def test_lengths(name: str) -> None:
    """Lengths are exact to the tick, 960 a quarter note."""
    body, wanted = LENGTHS[name]

    assert [ticks for bar in played_abc(HEAD + body) for _, ticks, _ in bar] == wanted


@pytest.mark.parametrize("sign", CHORDS)
def test_chord_signs(sign: str) -> None:
    """Players' spellings are read as chords."""
    tune = only_tune(f"{HEAD}K:C\n{sign}C4|]")

    found = [str(each.chord) if each.chord else None for each in tune.bars[0].chords]
    assert found == [CHORDS[sign]]


@pytest.mark.parametrize("sign", NO_CHORDS)
def test_what_is_no_chord(sign: str) -> None:
    """Annotations are printed and not played."""
    assert not only_tune(f"{HEAD}K:C\n{sign}C4|]").bars[0].chords


@pytest.mark.parametrize(
    "field, key",
    [
        ("G", "G"), ("Am", "Am"), ("F#m", "F#m"), ("Bb", "Bb"), ("D Mixolydian", "D mixolydian"),
        ("Ador", "A dorian"), ("E PHR", "E phrygian"), ("F lyd", "F lydian"), ("C ionian", "C"),
        ("B locrian", "B locrian"), ("Eaeo", "Em"), ("EMin", "Em"), ("G clef=bass", "G"),
        ("HP", "A mixolydian"), ("Hp", "A mixolydian"), ("none", "C"), ("", "C"), ("treble", "C"),
        ("D =c", "D mixolydian"), ("A exp ^f ^c", "A mixolydian"), ("G#", "Ab"),
        ("Amaj octave=-1", "A"), ("F# minor", "F#m"),
    ],
)  # fmt: skip
def test_keys(field: str, key: str) -> None:
    """Every mode, every spelling (v2.1, 3.1.14)."""
    assert str(only_tune(f"X:1\nT:t\nM:4/4\nL:1/4\nK:{field}\nC4|]").key) == key


@pytest.mark.parametrize(
    "fields, meter, unit_ticks",
    [
        ("M:C", Meter(4, 4), 480),
        ("M:C|", Meter(2, 2), 480),
        ("M:2/4", Meter(2, 4), 240),
        ("M:6/8", Meter(6, 8), 480),
        ("M:(2+3)/8", Meter(5, 8), 240),
        ("", Meter(4, 4), 480),
        ("M:3/4\nL:1/16", Meter(3, 4), 240),
    ],
)
def test_meters_and_units(fields: str, meter: Meter, unit_ticks: int) -> None:
    """The unit of length is 1/16 below 3/4 (v2.1, 3.1.7)."""
    tune = only_tune(f"X:1\nT:t\n{fields}\nK:C\nC|]".replace("\n\n", "\n"))

    assert (tune.meter, tune.bars[0].notes[0].ticks) == (meter, unit_ticks)


@pytest.mark.parametrize(
    "field, tempo",
    [
        ("1/4=120", "120"), ("3/8=80", "dotted-quarter=80"), ('"Allegro" 1/2=100', "half=100"),
        ("1/4 = 96", "96"), ("120", "eighth=120"), ("C=120", "eighth=120"),
        ("1/8 1/8=60", "60"), ('"Slowly"', "None"), ("1/4=9999", "None"), ("fast", "None"),
    ],
)  # fmt: skip
def test_tempi(field: str, tempo: str) -> None:
    """`Q:` is read in all its forms (v2.1, 3.1.8, 10.1); an impossible tempo is ignored."""
    assert str(only_tune(f"X:1\nT:t\nL:1/8\nQ:{field}\nK:C\nC8|]").tempo) == tempo


def test_the_passes_of_an_ending_in_a_row() -> None:
    """A range that goes on to a third number is read number by number."""
    tune = only_tune("X:1\nT:Row\nM:4/4\nL:1/4\nK:C\n|:CDEF|1-3-5 GABc:|2,4 cBAG|]\n")

    assert [bar.ending for bar in tune.bars] == [(), (1, 2, 3, 5), (2, 4)]


def test_chords_go_on_and_endings_start_from_the_body() -> None:
    """A bar without a sign continues the chord before it; an ending, that of the repeat's body."""
    tune = only_tune(HEAD + 'K:C\n"C"C4|D4|"F"E4|1"G7"F4:|2G4|]')
    (part,) = to_chart(tune).chart.parts

    assert [[str(s.chord) for s in bar.chords] for bar in part.written()] == [
        ["C"], ["C"], ["F"], ["G7"], ["F"],
    ]  # fmt: skip


def _spans(body: str, head: str = HEAD) -> list[list[tuple[int, str]]]:
    """Return tick and chord of each span of each bar as written."""
    found = to_chart(only_tune(head + body)).chart
    text = write_chart(found)
    assert read_chart(text) == found
    return [
        [(span.tick, str(span.chord or "N.C.")) for span in bar.chords]
        for part in found.parts
        for bar in part.written()
    ]


def _remarks(body: str, head: str = HEAD) -> tuple[str, ...]:
    return to_chart(only_tune(head + body)).remarks


@pytest.mark.parametrize(
    "body, spans",
    [
        ('"C"C/"G"C/C/"F"C/C "Am"C|]', [(0, "C"), (480, "G"), (1440, "F"), (2880, "Am")]),
        ('"C"(3C"G"DE "F"F2|]', [(0, "C"), (640, "G"), (1920, "F")]),
        ('"C"C>"G"D E2|]', [(0, "C"), (1440, "G")]),
        ('"C"C"G">D E2|]', [(0, "C"), (1440, "G")]),
        ('"C"C{de}"G"D "F"{de}E2|]', [(0, "C"), (960, "G"), (1920, "F")]),
        ('"C"C"G"{de}D E2|]', [(0, "C"), (960, "G")]),
        ('C//"G"C//C/ C3|]', [(0, "N.C."), (240, "G")]),
        ('"C"z/"G"z3/z2|]', [(0, "C"), (480, "G")]),
        ('["C"CE]/["G"DF]3/C2|]', [(0, "C"), (480, "G")]),
    ],
)
def test_chords_between_beats_are_kept(body: str, spans: list[tuple[int, str]]) -> None:
    """A chord begins with the note after its sign, to the tick, without a remark."""
    assert _spans(f"K:C\n{body}") == [spans]
    assert _remarks(f"K:C\n{body}") == ()


def test_chords_on_quarters_of_alla_breve_keep_its_meter() -> None:
    """A chord at the second quarter of 2/2 lies between its two beats."""
    head = "X:1\nT:A Case\nM:C|\nL:1/4\n"
    found = to_chart(only_tune(head + 'K:C\n"C"C"G"C"F"C2|D4|]')).chart

    assert [str(bar.meter) for bar in found.parts[0].written()] == ["2/2", "2/2"]
    assert _spans('K:C\n"C"C"G"C"F"C2|D4|]', head)[0] == [(0, "C"), (960, "G"), (1920, "F")]


@pytest.mark.parametrize(
    "signs, taken, reported",
    [
        ('"Em""C"', "Em", "'Em' and 'C' stand at one place: the first is used"),
        ('"Em" "C"', "Em", "'Em' and 'C' stand at one place: the first is used"),
        ('"G""(Em)"', "G", "'G' and 'Em' stand at one place: the first is used"),
        ('"G""D7""C"', "G", "'G' and 'D7' and 'C' stand at one place: the first is used"),
        ('"N.C.""C"', "N.C.", "'N.C.' and 'C' stand at one place: the first is used"),
        ('"G""G"', "G", None),
        ('"G""/F#"', "G/F#", None),
        ('"G(Em)"', "G", "'G(Em)' is read as G"),
        ('"G or Em"', "G", "'G or Em' is read as G"),
        ('"(G" "Em)"', "G", "'G' and 'Em' stand at one place: the first is used"),
        ('"Am;C"', "Am", "'Am;C' is read as Am"),
        ('"G7(b9)"', "G7b9", None),
        ('"Hx7"', "N.C.", "'Hx7' is not a chord: read as a remark to the player"),
    ],
)
def test_alternatives(signs: str, taken: str, reported: str | None) -> None:
    """Of several chords at one place the first is played, and the others are reported."""
    body = f"K:C\n{signs}C4|D4|]"

    assert _spans(body)[0] == [(0, taken)]
    assert _remarks(body) == ((f"line 6: {reported}",) if reported else ())


@pytest.mark.parametrize("sign", ["Am D7", "G/Em", "D or Bm", "G(Em)"])
def test_alternatives_in_one_sign_are_told(sign: str) -> None:
    """The first alternative in a sign is played, and the sign is reported."""
    taken = sign[: 1 + sign[1:].startswith("m")]
    assert _remarks(f'K:C\n"{sign}"C4|D4|]') == (f"line 6: '{sign}' is read as {taken}",)


def test_signs_of_a_bar_without_notes_share_it() -> None:
    """Several signs in a bar without notes share the bar."""
    assert _spans('K:C\n"C""G"|"F"|C4|]')[:2] == [[(0, "C"), (1920, "G")], [(0, "F")]]


@pytest.mark.parametrize(
    "sign, notes, chord",
    [
        ("Gd", "G_B^c2", "Gdim"), ("Gd", "GBd2", "Gdim"), ("Da", "D4", "Ddim"),
        ("Da", "D=F_A2", "Ddim"), ("Da", "D^F^A2", "Daug"), ("Da", "^F2 z2", "Daug"),
        ("Fa", "f4", "Fdim"), ("Fa", "a2 ^c2", "Faug"),
    ],
)  # fmt: skip
def test_short_words_for_diminished(sign: str, notes: str, chord: str) -> None:
    """`d` and `a` after a root are diminished; `a` over an augmented chord's notes is augmented."""
    body = f'K:C\n"{sign}"{notes}|"C"C4|]'

    assert _spans(body)[0] == [(0, chord)]
    (reported,) = _remarks(body)
    assert reported.startswith(f"line 6: '{sign}' is read as {chord}")


def test_a_sign_behind_the_last_note_is_the_next_bars() -> None:
    """A sign after the last note moves to the next bar or is left out, with a remark."""
    body = 'K:C\n"C"C4"G"|D4"F"|"Am"E4|F4"D"|]'

    assert _spans(body) == [[(0, "C")], [(0, "G")], [(0, "Am")], [(0, "Am")]]
    assert _remarks(body) == (
        "line 6: 'G' stands after the last note of its bar: moved to the next",
        "line 6: 'F' stands after the last note of its bar: left out",
        "line 6: 'D' stands after the last note of its bar: left out",
    )


def test_the_chord_of_a_pickup_goes_on() -> None:
    """A bar without a sign continues the chord before it, a pickup's too."""
    assert _spans('K:C\n"G"G|C4|"F"D4|E3|]') == [[(0, "G")], [(0, "G")], [(0, "F")], [(0, "F")]]
    assert _spans('K:C\nG"G"G|C4|]') == [[(0, "N.C."), (960, "G")], [(0, "G")]]


OCTAVES = "accidental holds in every octave up to the bar line, as the standard says"


@pytest.mark.parametrize(
    "directive, keys, reported",
    [
        ("", [66, 78, 66, 65], True),
        ("%%propagate-accidentals pitch\n", [66, 78, 66, 65], True),
        ("%%propagate-accidentals octave\n", [66, 77, 66, 65], False),
        ("I:propagate-accidentals octave\n", [66, 77, 66, 65], False),
        ("%%propagate-accidentals not\n", [66, 77, 65, 65], False),
        ("%%propagate-accidentals NOT\n", [66, 77, 65, 65], False),
    ],
)
def test_accidentals_in_other_octaves(directive: str, keys: list[int], *, reported: bool) -> None:
    """Accidentals apply to every octave unless a directive narrows that (v2.1, 11.3)."""
    for text in (f"{directive}{HEAD}K:C\n", f"{HEAD}{directive}K:C\n", f"{HEAD}K:C\n{directive}"):
        tune = only_tune(f"{text}^FfF2|F4|]")
        assert [note.pitch.key for bar in tune.bars for note in bar.notes] == keys
        assert any(OCTAVES in each for each in to_chart(tune).remarks) == reported


@pytest.mark.parametrize(
    "body, reported",
    [
        ("^F=fF2|]", True), ("^F^fFf|]", False), ("^FF2z|f4|]", False), ("F^fF2|]", True),
        ("^f=fF2|]", False), ("_B=bB2|]", True), ("^F{f}F2z|]", True), ("[^Ff]4|]", True),
    ],
)  # fmt: skip
def test_what_the_octaves_change_is_told(body: str, *, reported: bool) -> None:
    """An accidental in another octave is reported only where it changes a pitch."""
    found = to_chart(only_tune(f"{HEAD}K:{'F' if 'B' in body else 'C'}\n{body}"))
    assert any(OCTAVES in each for each in found.remarks) == reported


def test_a_directive_that_makes_no_sense_is_told() -> None:
    """An unknown directive leaves the default."""
    assert _remarks("%%propagate-accidentals maybe\nK:C\n^Ff3|]")[0] == (
        "line 5: 'propagate-accidentals maybe' is not understood: accidentals count in every octave"
    )


@pytest.mark.parametrize(
    "key",
    ["C" + "#" * 99_999, "99999", "C" + "b" * 9, "C##", "Cbb", "H", "Cx", "C#maj99999"],
)
def test_keys_that_are_none(key: str) -> None:
    """An invalid key is ignored and reported."""
    found = to_chart(only_tune(f"{HEAD}K:{key}\nC4|]"))

    assert str(found.chart.key) == "C"
    assert any("is not a key: ignored" in each for each in found.remarks), found.remarks


@pytest.mark.parametrize("key", ["D transpose=2", "D octave=-1", "D clef=bass", "G exp ^f", "Am"])
def test_keys_with_more_behind_them(key: str) -> None:
    """Other properties after a key are no fault."""
    assert str(to_chart(only_tune(f"{HEAD}K:{key}\nC4|]")).chart.key) == key.split()[0]


def test_a_quotation_mark_that_is_not_closed_is_told() -> None:
    """An open quotation mark loses the rest of its line, which is reported."""
    (reported,) = _remarks('K:C\nC4|"slow D4|E4|\nF4|]')
    assert reported == "line 6: a quotation mark is not closed: the rest of its line is left out"


def test_pickups_come_before_each_part() -> None:
    """A pickup inside the repeat is the part's pickup, and sounds in the bar before it."""
    text = HEAD + 'K:C\n|:"G7"G|"C"C4|"F"D3:|\n|:A|"C"E4|F3:|'
    found = to_chart(only_tune(text))
    assert [part.name for part in found.chart.parts] == ["A", "B"]
    assert all(part.pickup and part.pickup.ticks == 960 for part in found.chart.parts)

    keys = [[key for _, _, key in bar] for bar in played_abc(text)]
    assert keys == [[67], [60], [62, 67], [60], [62, 69], [64], [65, 69], [64], [65]]


def test_bars_in_two_pieces_are_one() -> None:
    """A double bar line inside a bar separates a pickup from the part before it."""
    found = to_chart(only_tune(HEAD + "K:C\nC4|D2|D2|E3||F|G4|A3|]"))

    assert [part.length() for part in found.chart.parts] == [3, 2]
    assert found.chart.parts[1].pickup


@pytest.mark.parametrize(
    "bars, lengths, reported",
    [
        ("C4|D2|E4|F4|G4|]", ["4/4", "2/4", "4/4", "4/4", "4/4"], None),
        ("C4|D2 C3|E4|F4|G4|]", ["4/4", "5/4", "4/4", "4/4", "4/4"], None),
        ("C4|D2 C4 D2|E4|F4|G4|]", ["4/4"] * 6, "bar line is missing"),
        ("C4|D2 C3/2|E4|F4|G4|]", ["4/4"] * 5, "too short: filled"),
        ("C4|D2 C5/2|E4|F4|G4|]", ["4/4"] * 5, "too long: cut"),
        ("C3|D3|E3|F3|G3|]", ["3/4"] * 5, "most bars last 3/4"),
    ],
)
def test_bars_of_wrong_length(bars: str, lengths: list[str], reported: str | None) -> None:
    """A bar of whole beats gets its own meter; other wrong lengths are corrected and reported."""
    found = to_chart(only_tune(HEAD + f"K:C\n{bars}"))

    assert [str(bar.meter) for bar in found.chart.parts[0].written()] == lengths
    assert (reported is None and not found.remarks) or any(
        reported in each for each in found.remarks
    )


@pytest.mark.parametrize(
    "data",
    [
        "X:1\nT:Épinal\nK:C\nC4|]".encode(),
        "X:1\nT:Épinal\nK:C\nC4|]".encode("latin-1"),
        codecs.BOM_UTF8 + "X:1\nT:Épinal\nK:C\nC4|]".encode(),
        "X:1\nT:Épinal\nK:C\nC4|]".encode("utf-16"),
        "X:1\r\nT:Épinal\r\nK:C\r\nC4|]\r\n".encode(),
        "X:1\rT:Épinal\rK:C\rC4|]\r".encode(),
        b"X:1\nT:\\'Epinal\nK:C\nC4|]",
        b"X:1\nT:&Eacute;pinal\nK:C\nC4|]",
        b"%%abc-charset iso-8859-1\nX:1\nT:\xc9pinal\nK:C\nC4|]",
    ],
)
def test_encodings(data: bytes) -> None:
    """UTF-8, Latin-1, UTF-16, byte order marks, all line ends and escapes are read (v2.1, 8.2)."""
    (tune,) = read_abc(data)

    assert not isinstance(tune, ScoreError)
    assert tune.title == "Épinal"
    assert len(tune.bars) == 1


def test_many_tunes_share_the_head_of_the_file() -> None:
    """Fields before the first tune apply to all (v2.1, 2.2.2); text between tunes is ignored."""
    text = "L:1/4\nM:3/4\n\nX:1\nT:One\nK:C\nC3|]\n\nfree text | here\n\nX:2\nT:Two\nK:G\nF3|]\n"

    tunes = list(read_abc(text.encode()))

    assert [each.title for each in tunes if not isinstance(each, ScoreError)] == ["One", "Two"]
    assert [str(each.meter) for each in tunes if not isinstance(each, ScoreError)] == ["3/4"] * 2


def test_a_tune_without_music_stops_no_other() -> None:
    """A refusal names the line and the reason."""
    first, second = read_abc(b"X:1\nT:Empty\nK:C\n\nX:2\nT:Full\nK:C\nC8|]\n", "two.abc")

    assert isinstance(first, ScoreError)
    assert str(first).startswith("two.abc:1: there is no music in it")
    assert not isinstance(second, ScoreError)


@pytest.mark.parametrize(
    "meter, written, scale",
    [("3/8", "3/4", 2), ("6/4", "6/8", 0.5), ("3/2", "3/4", 0.5), ("4/8", "4/4", 2)],
)
def test_meters_that_no_groove_plays(meter: str, written: str, scale: float) -> None:
    """A tune in a meter without grooves is rescaled by two, its tempo too."""
    from backing.style.library import style_meters

    count, unit = map(int, meter.split("/"))
    bar = f"C{count * 8 // unit}|"
    tune = only_tune(f"X:1\nT:t\nM:{meter}\nL:1/8\nQ:1/4=100\nK:C\n{bar * 8}]")
    found = to_chart(tune, style_meters())

    assert str(found.chart.meter) == written
    assert found.chart.tempo
    assert found.chart.tempo.quarter_bpm == pytest.approx(100 * scale)
    assert all(bar[0].ticks == found.chart.meter.bar_ticks for bar in found.melody.parts[0].bars)


def test_tempi_inside_a_part_are_told() -> None:
    """A part has the tempo at its start; a change inside it is left out and reported."""
    body = "Q:1/4=100\nK:C\nC4|D4|[Q:1/4=60]E4|\nQ:1/4=90\nF4||\nQ:1/4=80\nG4|A4|]"
    found = to_chart(only_tune(HEAD + body))

    assert str(found.chart.tempo) == "100"
    assert [str(part.tempo) for part in found.chart.parts] == ["None", "80"]
    (reported,) = [each for each in found.remarks if "tempo" in each]
    assert reported.startswith("lines 7, 9: a tempo change inside a part is left out")


def test_a_part_that_comes_back_in_another_tempo_is_told() -> None:
    """A part that returns has the tempo of its first time."""
    body = "Q:1/4=100\nK:C\n|:C4:|\n|:D4:|\nQ:1/4=60\n|:C4:|\nQ:1/4=100\n|:D4:|"
    found = to_chart(only_tune(HEAD + body))

    assert found.chart.form == ("A", "B", "A", "B")
    assert [each for each in found.remarks if "tempo" in each] == [
        "line 10: part A returns at another tempo: that tempo is left out"
    ]


def test_a_coda_sign_behind_notes_is_the_way_there() -> None:
    """A jump after its bar line and before the next bar plays the same bars."""
    head = "X:1\nT:Round\nM:2/4\nL:1/8\nK:G\n"
    behind = '"G"G4|"D"A4!coda!|"C"c4|"G"B4!D.C.!|!coda!"Em"e4|]\n'
    before = '"G"G4|"D"A4|!coda!"C"c4|"G"B4!D.C.!|!coda!"Em"e4|]\n'
    sequences = []
    for body in (behind, before):
        tune = next(iter(read_abc((head + body).encode(), "round.abc")))
        assert not isinstance(tune, ScoreError)
        sequence = once_round(to_chart(tune).chart)
        sequences.append([str(bar.bar.chords[0].chord) for bar in sequence])

    assert sequences[0] == ["G", "D", "C", "G", "G", "D", "Em"]
    assert sequences[1] == sequences[0]


def test_letters_of_a_title_stay_as_they_are() -> None:
    """Escapes become accented letters; other letters are not normalised."""
    (tune,) = read_abc("X:1\nT:caf\\'e \uf9e8 \u212b\nK:C\nC4|\n".encode())

    assert isinstance(tune, Tune)
    assert tune.title == "café \uf9e8 \u212b"


@pytest.mark.parametrize("clef", ["perc", "none", "clef=perc", "soprano", "baritone", "score=CG"])
def test_a_clef_behind_a_key(clef: str) -> None:
    """A clef without `clef=` (4.6) is ignored, and the key is read."""
    found = to_chart(only_tune(f"{HEAD}K:D {clef}\nF4|]"))
    assert (str(found.chart.key), found.remarks) == ("D", ())


def test_other_titles_are_notes() -> None:
    """Further titles of a tune are kept as notes."""
    chart = to_chart(only_tune("X:1\nT:One Name\nT:Another Name\nK:C\nF4|]")).chart
    assert (chart.title, chart.notes) == ("One Name", ("also called Another Name",))


def test_a_composer_of_signs_alone() -> None:
    """Before `K:` a line that begins with a letter and a colon is a field, whatever follows."""
    chart = to_chart(only_tune("X:1\nT:t\nC::|\nK:C\nF4|]")).chart
    assert (chart.by, len(chart.parts)) == (":|", 1)
