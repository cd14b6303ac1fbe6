"""Shapes: exact frets of common practice, an independent check, brute force on small cases."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.errors import SettingsError, ShapeError
from backing.fretboard.hand import Hand, fingering
from backing.fretboard.instrument import Instrument, find_instrument, instrument_files
from backing.fretboard.request import EASY, FULL, SWING, VOICINGS, ShapeRequest
from backing.fretboard.shapes import easiest, shapes
from backing.fretboard.voices import VOICING_ADDS, as_played, required, voices
from backing.harmony.chord import Chord, read_chord
from backing.harmony.pitch import Degree, NoteName
from backing.harmony.quality import read_quality, table
from tests.fretboard.checker import classes, faults_of_hand, faults_of_notes

if TYPE_CHECKING:
    from backing.fretboard.hand import Shape

QUALITIES = sorted({quality.name for quality in table().values()})
SMALL = Hand(70)


def found(
    instrument: Instrument, symbol: str, hand: Hand | None = None, **request
) -> dict[str, Shape]:
    """Return the shapes of a chord by their frets, in their order."""
    listed = shapes(instrument, hand or Hand(), read_chord(symbol), ShapeRequest(**request))
    return {str(shape): shape for shape in listed}


@pytest.mark.parametrize(
    "symbol, frets",
    [
        ("G", "7523"),
        ("G", "4553"),
        ("G", "x523"),
        ("G", "455x"),
        ("F#", "6412"),
        ("A", "2245"),
        ("B", "4467"),
        ("B", "412x"),
        ("B", "x122"),
    ],
)
def test_mandolin_chops(mandolin: Instrument, symbol: str, frets: str) -> None:
    """Common practice, no source: the chops of the mandolin are among its closed shapes."""
    shape = found(mandolin, symbol)[frets]
    assert shape.closed


def test_the_f_sharp_has_its_first_finger_on_fret_1(mandolin: Instrument) -> None:
    """Common practice, no source: 6-4-1-2 with 4-3-1-2."""
    assert found(mandolin, "F#")["6412"].fingers == (4, 3, 1, 2)


def test_big_stretches_are_marked(mandolin: Instrument) -> None:
    """78.8 and 83.4 mm (arithmetic) are more than a small hand reaches; 4-5-5-3 is not."""
    g, f_sharp = found(mandolin, "G")["7523"], found(mandolin, "F#")["6412"]
    assert (round(g.span_mm, 1), round(f_sharp.span_mm, 1)) == (78.8, 83.4)
    assert g.big_stretch
    assert f_sharp.big_stretch
    assert not found(mandolin, "G")["4553"].big_stretch


@pytest.mark.parametrize("symbol, wide", [("G", "7523"), ("F#", "6412")])
def test_a_small_hand(mandolin: Instrument, symbol: str, wide: str) -> None:
    """With 70 mm no shape is wider, and shapes of three strings are among the first."""
    listed = list(found(mandolin, symbol, SMALL).values())
    assert wide in found(mandolin, symbol)
    assert wide not in map(str, listed)
    assert max(shape.span_mm for shape in listed) <= 70
    assert any(shape.strings == 3 for shape in listed[:3])


def test_e_becomes_e7_by_one_finger(mandolin: Instrument) -> None:
    """Common practice, no source: some E turns into E7 on one string, the other fingers stay."""
    pairs = [
        (str(plain), str(seventh))
        for plain in found(mandolin, "E").values()
        for seventh in found(mandolin, "E7").values()
        if sum(a != b for a, b in zip(plain.frets, seventh.frets, strict=True)) == 1
    ]
    assert ("4224", "4254") in pairs


@pytest.mark.parametrize(
    "symbol, frets",
    [
        ("G7", "3x34xx"),
        ("Gmaj7", "3x44xx"),
        ("Gm7", "3x33xx"),
        ("G6", "3x24xx"),
        ("C7", "x323xx"),
        ("Cmaj7", "x324xx"),
    ],
)
def test_guitar_shells(guitar: Instrument, symbol: str, frets: str) -> None:
    """Arithmetic: strings 6-4-3 with the root on 6, 5-4-3 with the root on 5, and only those."""
    listed = found(guitar, symbol, voicing=SWING)
    assert frets in list(listed)[:3]
    for shape in listed.values():
        used = tuple(string for string, fret in enumerate(shape.frets) if fret is not None)
        assert used in {(0, 2, 3), (1, 2, 3)}
        root = read_chord(symbol).root.pitch_class
        assert (guitar.strings[used[0]] + shape.frets[used[0]]) % 12 == root


def test_a_shell_does_not_hide_a_flat_fifth(guitar: Instrument) -> None:
    """Three strings would turn m7b5 into m7, so four sound."""
    best = shapes(guitar, Hand(), read_chord("Cm7b5"), ShapeRequest(SWING))[0]
    assert best.left_out in ((), (Degree(1, 0),))
    assert shapes(guitar, Hand(), read_chord("Cm7"), ShapeRequest(SWING))[0].left_out == (
        Degree(5, 0),
    )


def test_what_is_played() -> None:
    """A plain chord is a sixth chord in the voicing swing; the bass has the slash bass."""
    assert as_played(read_chord("G"), VOICING_ADDS[SWING]) == read_chord("G6")
    assert as_played(read_chord("G/B")) == read_chord("G")
    assert as_played(read_chord("Gm7"), VOICING_ADDS[SWING]) == read_chord("Gm7")


@pytest.mark.parametrize("voicing, sizes", [(EASY, {2, 3}), (FULL, {3, 4}), (SWING, {3, 4})])
def test_voicings(mandolin: Instrument, voicing: str, sizes: set[int]) -> None:
    """Easy has two and three strings, full and swing three and four."""
    assert {each.strings for each in found(mandolin, "G7", voicing=voicing).values()} == sizes


def test_full_begins_with_four_strings(mandolin: Instrument) -> None:
    """An average hand is shown a four-string chop first."""
    for root in range(12):
        chord = Chord(NoteName(root - 4), read_quality(""))
        assert shapes(mandolin, Hand(), chord, ShapeRequest())[0].strings == 4


@pytest.mark.parametrize("strings", [2, 3, 4])
def test_forms_of_two_three_and_four_strings(mandolin: Instrument, strings: int) -> None:
    """The number of strings can be requested."""
    assert {each.strings for each in found(mandolin, "G", strings=strings).values()} == {strings}


def test_position_range(mandolin: Instrument) -> None:
    """Fingers stay between the requested frets."""
    for shape in found(mandolin, "G", lowest=3, highest=7).values():
        assert all(3 <= fret <= 7 for fret in shape.frets if fret)


def test_open_strings_only_when_asked(mandolin: Instrument) -> None:
    """The two-finger G 0-0-2-3 needs open strings."""
    assert "0023" not in found(mandolin, "G")
    assert "0023" in found(mandolin, "G", Hand(open_strings=True))


def test_rootless_when_asked(mandolin: Instrument) -> None:
    """The root sounds unless it is left to the bass."""

    def rooted(shape: Shape) -> bool:
        return 7 in classes(mandolin, shape.frets)

    assert all(map(rooted, found(mandolin, "G7").values()))
    assert not all(map(rooted, found(mandolin, "G7", rootless=True).values()))


@pytest.mark.parametrize(
    "quality, strings, degrees",
    [
        ("", 4, "3 1"),
        ("", 2, "3 1"),
        ("7", 3, "3 b7 1"),
        ("7", 2, "3 b7"),
        ("m7b5", 4, "b3 b7 b5 1"),
        ("9", 4, "3 b7 9 1"),
        ("13", 4, "3 b7 13 1"),
        ("7b9", 4, "3 b7 b9 1"),
        ("6", 3, "3 6 1"),
        ("69", 4, "3 6 9 1"),
        ("sus4", 3, "4 1"),
        ("7sus4", 3, "4 b7 1"),
        ("5", 3, "5 1"),
        ("aug", 3, "3 #5 1"),
        ("add9", 3, "3 9 1"),
        ("m11", 4, "b3 b7 11 1"),
    ],
)
def test_what_must_sound(quality: str, strings: int, degrees: str) -> None:
    """Third, seventh when written, alterations; the fifth and the root go first."""
    wanted = required(read_quality(quality), strings, rootless=False, shell=False)
    assert " ".join(map(str, wanted)) == degrees


def test_no_eleventh_beside_a_major_third() -> None:
    """Common practice, no source; an added eleventh is what makes the chord and stays."""
    assert [str(each) for each in voices(read_quality("13")).avoided] == ["11"]
    assert voices(read_quality("m11")).avoided == ()
    assert voices(read_quality("add11")).avoided == ()


@pytest.mark.parametrize("name", ["mandolin", "guitar", "tenor-banjo"])
@pytest.mark.parametrize("quality", QUALITIES)
def test_every_quality_in_twelve_roots(name: str, quality: str) -> None:
    """Each has a closed shape at the default reach, with its omitted notes listed."""
    instrument = find_instrument(name)
    for fifths in range(-5, 7):
        chord = Chord(NoteName(fifths), read_quality(quality))
        (shape,) = easiest(instrument, Hand(), chord, ShapeRequest(strings=None), 1)
        assert shape.closed
        assert not faults_of_notes(instrument, shape.frets, chord, shape.left_out)
        core = [each for each in voices(chord.quality).needed if each.number in (2, 3, 4, 7)]
        assert not set(core) & set(shape.left_out)


@pytest.mark.parametrize("name", ["mandolin", "guitar", "ukulele"])
@pytest.mark.parametrize("symbol", ["G", "F#7", "Bbmaj7", "C#m7b5", "D13", "A5"])
def test_the_easiest_are_the_first(name: str, symbol: str) -> None:
    """The easiest shapes are the first of all shapes."""
    instrument, chord = find_instrument(name), read_chord(symbol)
    every = shapes(instrument, Hand(), chord, ShapeRequest())
    for most in (1, 5, 24):
        assert easiest(instrument, Hand(), chord, ShapeRequest(), most) == every[:most]


@given(
    name=st.sampled_from(sorted(instrument_files())),
    fifths=st.integers(-8, 10),
    quality=st.sampled_from(QUALITIES),
    voicing=st.sampled_from(sorted(VOICINGS)),
    reach=st.sampled_from([60.0, 70.0, 85.0, 100.0, 120.0]),
    free=st.booleans(),
    gaps=st.integers(0, 1),
    barre=st.booleans(),
    capo=st.sampled_from([0, 0, 3]),
)
def test_every_shape_passes_the_independent_check(
    name: str,
    fifths: int,
    quality: str,
    voicing: str,
    reach: float,
    free: bool,
    gaps: int,
    barre: bool,
    capo: int,
) -> None:
    """Shapes have no wrong note, list what is missing, and can be held."""
    instrument = find_instrument(name, capo=capo)
    chord = Chord(NoteName(fifths), read_quality(quality))
    hand = Hand(reach, open_strings=free, barre=barre, inner_muted=gaps)
    try:
        listed = shapes(instrument, hand, chord, ShapeRequest(voicing))
    except ShapeError:
        return
    assert len({shape.frets for shape in listed}) == len(listed)
    assert [shape.total for shape in listed] == sorted(shape.total for shape in listed)
    for shape in listed:
        assert not faults_of_hand(instrument, shape.frets, shape.fingers, reach)
        assert not faults_of_notes(instrument, shape.frets, chord, shape.left_out)
        assert free or shape.closed
        fingers = [finger for finger in shape.fingers if finger]
        assert barre or len(set(fingers)) == len(fingers)


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(instrument_files()))
def test_all_shapes_of_all_chords(name: str) -> None:
    """The independent check, over every quality, root and voicing of an instrument."""
    instrument, hand = find_instrument(name), Hand()
    for quality, fifths, voicing in product(QUALITIES, range(-5, 7), VOICINGS):
        chord = Chord(NoteName(fifths), read_quality(quality))
        for shape in shapes(instrument, hand, chord, ShapeRequest(voicing)):
            assert not faults_of_hand(instrument, shape.frets, shape.fingers, hand.reach_mm)
            assert not faults_of_notes(instrument, shape.frets, chord, shape.left_out)


@pytest.mark.parametrize("symbol", ["G", "E7", "F#m7b5", "C9", "Bb13", "D5", "Adim7", "Bsus4"])
@pytest.mark.parametrize("reach", [45.0, 70.0])
@pytest.mark.parametrize("free", [False, True])
def test_against_brute_force(mandolin: Instrument, symbol: str, reach: float, free: bool) -> None:
    """All combinations of muted, open and fret 1 to 5 give just the shapes that are listed."""
    chord, hand = read_chord(symbol), Hand(reach, open_strings=free)
    root = chord.root.pitch_class
    avoided = {(root + each.semitones) % 12 for each in voices(chord.quality).avoided}

    def complete(frets: tuple[int | None, ...]) -> bool:
        used = [string for string, fret in enumerate(frets) if fret is not None]
        if len(used) < 3 or used[-1] - used[0] >= len(used):
            return False
        must = required(chord.quality, len(used), rootless=False, shell=False)
        needed = {(root + each.semitones) % 12 for each in must}
        return needed <= classes(mandolin, frets) <= chord.pitch_classes - avoided

    combinations = product([None, *range(0 if free else 1, 6)], repeat=4)
    expected = {each for each in combinations if complete(each) and fingering(mandolin, hand, each)}
    found_frets = {shape.frets for shape in shapes(mandolin, hand, chord, ShapeRequest(highest=5))}
    if expected:
        assert found_frets == expected
    else:  # what is left is a shape that is told to miss something, or has two strings
        assert not any(map(complete, found_frets))


def test_capo_shows_frets_from_the_capo() -> None:
    """With a capo at 2, the G shapes of the guitar sound A."""
    bare, capo = find_instrument("guitar"), find_instrument("guitar", capo=2)
    hand = Hand(open_strings=True)
    assert "320003" in found(bare, "G", hand)
    assert "320003" in found(capo, "A", hand)


def test_a_chord_that_cannot_be_held(guitar: Instrument) -> None:
    """The message says what would help."""
    with pytest.raises(
        ShapeError, match=r"Gaug7 cannot be held on the guitar .*reach of 20 mm: .*or"
    ):
        found(guitar, "Gaug7", Hand(20, barre=False), strings=6)


@pytest.mark.parametrize(
    "options, sentence",
    [
        ({"voicing": "hard"}, "'hard' is not a voicing: choose from easy, full, swing"),
        ({"strings": 1}, "1 strings: a shape has at least 2"),
        ({"strings": 5}, "5 strings: the mandolin has 4"),
        ({"lowest": 0}, "write the lower one first, 1 or more"),
        ({"lowest": 7, "highest": 3}, "frets 7 to 3: write the lower one first"),
    ],
)
def test_requests_that_are_refused(mandolin: Instrument, options: dict, sentence: str) -> None:
    """An impossible request is refused."""
    with pytest.raises(SettingsError, match=sentence):
        found(mandolin, "G", **options)
