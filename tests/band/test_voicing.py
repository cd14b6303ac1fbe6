"""Voicings of the chop: which notes, how wide, how far they move."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.band.voicing import closed_voicings, essential_degrees, movement, voice_leading
from backing.harmony.chord import Chord, read_chord
from backing.harmony.pitch import NoteName
from backing.harmony.quality import table

every_chord = st.builds(
    Chord,
    st.integers(-15, 19).map(NoteName),
    st.sampled_from(sorted(table().values(), key=lambda quality: quality.name)),
)


# Which notes are left out: common practice, no source (the fifth first, then the root; never the
# third or a written seventh; a natural eleventh not beside a major third). The three voices of 7,
# maj7, m7 and 6 are those of the guitar's shells 3x34xx, 3x44xx, 3x33xx, 3x24xx (arithmetic).
@pytest.mark.parametrize(
    "symbol, three, four",
    [
        ("C", "0 4 7", "0 4 7"),
        ("Cm", "0 3 7", "0 3 7"),
        ("C6", "0 4 9", "0 4 7 9"),
        ("C7", "0 4 10", "0 4 7 10"),
        ("Cm7", "0 3 10", "0 3 7 10"),
        ("Cmaj7", "0 4 11", "0 4 7 11"),
        ("Cm7b5", "3 6 10", "0 3 6 10"),
        ("Cdim7", "3 6 9", "0 3 6 9"),
        ("C9", "4 10 14", "4 7 10 14"),
        ("C13", "4 10 21", "4 10 14 21"),
        ("C7b9", "4 10 13", "4 7 10 13"),
        ("Csus4", "0 5 7", "0 5 7"),
        ("C7sus4", "0 5 10", "0 5 7 10"),
        ("C5", "0 7", "0 7"),
    ],
)
def test_degrees_that_are_played(symbol: str, three: str, four: str) -> None:
    """The third and a written seventh are played in three voices and in four."""
    quality = read_chord(symbol).quality
    played = [" ".join(map(str, sorted(essential_degrees(quality, voices)))) for voices in (3, 4)]
    assert [three, four] == played


@given(
    chord=every_chord, voices=st.integers(3, 4), low=st.integers(0, 90), wide=st.integers(12, 30)
)
def test_voicings(chord: Chord, voices: int, low: int, wide: int) -> None:
    """Every chord has voicings in any range of an octave: its own notes, ascending, for one hand.

    A tenth (16 semitones) is the widest: common practice, no source.
    """
    found = closed_voicings(chord, voices, low, low + wide)
    assert found
    for voicing in found:
        assert sorted(set(voicing)) == list(voicing)
        assert low <= voicing[0] <= voicing[-1] <= min(low + wide, voicing[0] + 16)
        assert {key % 12 for key in voicing} <= chord.pitch_classes
        assert 2 <= len(voicing) <= voices


@given(chords=st.lists(every_chord, min_size=1, max_size=12), voices=st.integers(3, 4))
def test_every_chord_is_voiced(chords: list[Chord], voices: int) -> None:
    """Whatever follows whatever, each chord gets a voicing of its own notes."""
    line = voice_leading(tuple((chord, voices, 55, 81) for chord in chords))
    assert len(chords) == len(line)
    for chord, voicing in zip(chords, line, strict=True):
        assert voicing in closed_voicings(chord, voices, 55, 81)


@pytest.mark.parametrize("chord", ["A5", "Bb5"])
@pytest.mark.parametrize("voices, notes", [(3, 3), (4, 3)])
def test_two_notes_for_four_voices(chord: str, voices: int, notes: int) -> None:
    """Root and fifth in four voices would be wider than a hand: three of them are played."""
    assert {notes} == {len(each) for each in closed_voicings(read_chord(chord), voices, 55, 81)}


# The distances are arithmetic.
@pytest.mark.parametrize(
    "before, after, semitones",
    [
        ((60, 64, 67), (60, 64, 67), 0),
        ((60, 64, 67), (60, 65, 69), 3),
        ((60, 64, 67, 72), (59, 65, 67, 74), 4),
        ((60, 64, 67, 72), (59, 65, 67), 2),
    ],
)
def test_movement(before: tuple[int, ...], after: tuple[int, ...], semitones: int) -> None:
    """Movement is the sum over the voices; of unlike chords the nearest notes are counted."""
    assert semitones == movement(before, after)


def test_the_shortest_way() -> None:
    """Of all ways through one-four-five the one is taken that no other beats (worked by hand).

    C major to F major and back keeps C; to G major it keeps G: 3 semitones each, over the nearest
    voicings (arithmetic).
    """
    chords = tuple(map(read_chord, ["C", "F", "C", "G", "C"]))
    line = voice_leading(tuple((chord, 3, 60, 76) for chord in chords))
    moved = [movement(*pair) for pair in pairwise(line)]
    assert {3} == set(moved)
