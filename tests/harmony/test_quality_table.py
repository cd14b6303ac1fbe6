"""The table of qualities: an invalid row is named, and a new row serves every reader."""

from __future__ import annotations

import re

import pytest

from backing.harmony.chord import Chord, read_chord
from backing.harmony.key import Key
from backing.harmony.numbers import number_text, roman_text
from backing.harmony.quality import table
from backing.harmony.quality_table import BASES, TableError, read_alterations, read_bases
from backing.harmony.signs import signed
from backing.live.screen import large_lines
from backing.out.sheet.faces import missing_signs
from backing.stand.markup import spoken

CHORDS = [read_chord(f"C{name}") for name in sorted({each.name for each in table().values()})]

LETTERS, WORD = re.compile("[a-z]+"), re.compile("[a-z]{2,}|[0-9]+")

GOOD = "  m6  | 1 b3 5 6 | minor 6 | {m}6"


@pytest.mark.parametrize(
    "row, found",
    [
        ("  m6    1 b3 5 6 | minor 6 | {m}6", "it has 3 columns between bars instead of 4"),
        ("  m6  | 1 b3 5 6 | minor 6", "it has 3 columns between bars instead of 4"),
        ("  | m6  | 1 b3 5 6 | minor 6 | {m}6", "it has 5 columns between bars instead of 4"),
        ("  m6 1 | b3 5 6 | minor 6 | {m}6", "'m6 1' cannot be a spelling"),
        ("  m | 6 1 b3 5 6 | minor 6 | {m}6", "'6 1 b3 5 6' are not degrees that begin with 1"),
        ("  m6  | 1 b3 5 6 minor | 6 | {m}6", "'minor' is not a degree"),
        ("  m6  | 1 b3 6 5 | minor 6 | {m}6", "the degrees '1 b3 6 5' do not rise"),
        ("  m6  | 1 b3 14 | minor 6 | {m}6", "'14' is not a degree"),
        ("  m6  | 1 | minor 6 | {m}6", "'1' are not degrees that begin with 1"),
        ("  m6  | 1 b3 5 6 | | minor {m}6", "the spoken words are missing or in the wrong"),
        ("      | 1 b3 5 6 | minor 6 | {m}6", "the spoken words are missing or in the wrong"),
        ("  m6  | 1 b3 5 6 | minor 6 | {min}6", "'{min}6' cannot be a spelling"),
        ("  m6b | 1 b3 5 b6 | minor 6 | {m}6", "'m6' is in this row, too: 'm6  | 1 b3 5 6"),
    ],
)
def test_a_wrong_row_is_named(row: str, found: str) -> None:
    """The error of an invalid row has the row and what is wrong."""
    with pytest.raises(TableError) as refused:
        read_bases(f"\n{GOOD}\n{row}\n" if "m6b" in row else f"\n{row}\n")

    assert repr(row.strip()) in str(refused.value)
    assert found in str(refused.value)


@pytest.mark.parametrize(
    "row",
    [
        "b5 | 5 | b5 | flat 5 | -5",
        "b5 | b5 | 5 | 5 | flat 5 | -5",
        "b5 | 5 | x | 5 | flat 5 | -5",
        "b5 | 5 | b5 | . | flat 5 | -5",
        "b5 | 5 | b5 | 5 | | -5",
        "| 5 | b5 | 5 | flat 5 | -5",
    ],
)
def test_a_wrong_alteration_is_named(row: str) -> None:
    """The same is true of the table of alterations."""
    with pytest.raises(TableError) as refused:
        read_alterations(row)

    assert repr(row.strip()) in str(refused.value)


def test_a_good_row() -> None:
    """A valid row is read in any width of columns."""
    (base,) = read_bases(GOOD)

    assert (base.name, base.spoken) == ("m6", "minor 6")
    assert {"m6", "min6", "-6"} <= set(base.spellings)
    assert read_bases("m6|1 b3 5 6|minor 6|{m}6") == (base,)


@pytest.mark.parametrize("chord", CHORDS, ids=str)
def test_one_row_serves_every_reader(chord: Chord) -> None:
    """Text, speech, large letters and fonts support every row; the message says what is missing."""
    key, name = Key.parse("C"), chord.quality.name
    for text in (str(chord), number_text(chord, key), roman_text(chord, key)):
        words = spoken(text).split()
        shorthands = [
            each for each in words[1:] if len(each) <= 4 and each in LETTERS.findall(name)
        ]
        assert not shorthands, f"{text}: harmony/quality_table.py says {shorthands} as written"
        assert all(WORD.fullmatch(each) for each in words[1:]), f"{text}: nobody can say {words}"
        assert words[1:] == chord.quality.spoken.split(), f"{text}: stand/markup.py says {words}"
    for sign in name:
        assert large_lines(sign, 80, 24) != [sign], f"{name}: live/letters.txt lacks '{sign}'"
    lacking = missing_signs(signed(name))
    assert not lacking, f"{name}: the fonts of out/fonts lack {lacking}"
    flats = [name[at : at + 2] for at, sign in enumerate(name) if sign == "b"]
    assert all(each[1:].isdigit() for each in flats), f"{name}: harmony/signs.py flattens its b"


def test_no_two_qualities_sound_alike() -> None:
    """Every row has its own spoken words."""
    assert len({base.spoken for base in BASES}) == len(BASES)
