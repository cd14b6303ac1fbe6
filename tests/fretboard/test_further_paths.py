"""Further paths: each can be held, sounds as its chords, and differs from those before."""

from __future__ import annotations

import pytest
from checker import faults_of_hand, faults_of_notes
from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.fretboard.fingering_path import fingering_path
from backing.fretboard.further_paths import fingering_paths, neighbour
from backing.fretboard.hand import AVERAGE_HAND
from backing.fretboard.instrument import find_instrument
from backing.fretboard.request import ShapeRequest
from backing.harmony.chord import read_chord

NAMES = ("G", "C", "D7", "Em", "Am7", "Bb", "F#m7b5", "B7", "Ebmaj7", "Gdim7", "A6", "Csus4", "E9")
REQUESTS = {
    "mandolin": ShapeRequest(highest=10),
    "guitar": ShapeRequest(strings=(4, 3, 2), highest=10),
    "tenor-banjo": ShapeRequest(highest=10),
}

progressions = st.lists(st.sampled_from(NAMES), min_size=1, max_size=8)


@pytest.mark.parametrize("name", REQUESTS)
@examples(15)
@given(names=progressions)
def test_every_path_is_played_by_the_same_hand(name: str, names: list[str]) -> None:
    """Shapes and the inversions beside them keep the rules of the hand and have the right notes."""
    neck, request = find_instrument(name), REQUESTS[name]
    chords = tuple(map(read_chord, names))
    paths = fingering_paths(neck, AVERAGE_HAND, chords, request)
    assert 1 <= len(paths) <= 3
    for number, path in enumerate(paths):
        assert len(path.shapes) == len(chords)
        for chord, held in zip(chords, path.shapes, strict=True):
            beside = neighbour(neck, AVERAGE_HAND, chord, request, number, held)
            for shape in (held, beside):
                reach_mm = AVERAGE_HAND.reach_mm
                assert not faults_of_hand(neck, shape.frets, shape.fingers, reach_mm)
                assert not faults_of_notes(neck, shape.frets, chord, shape.left_out)
                assert max(fret or 0 for fret in shape.frets) <= 10


@pytest.mark.parametrize("name", REQUESTS)
@examples(15)
@given(names=progressions)
def test_the_first_is_the_path_and_others_differ(name: str, names: list[str]) -> None:
    """The first path is that of `fingering_path`; a third of the chords of each other are new."""
    neck, request = find_instrument(name), REQUESTS[name]
    chords = tuple(map(read_chord, names))
    first, *others = fingering_paths(neck, AVERAGE_HAND, chords, request)
    assert first == fingering_path(neck, AVERAGE_HAND, chords, request)
    known = {(chord, shape.keys(neck)) for chord, shape in zip(chords, first.shapes, strict=True)}
    for path in others:
        here = {(chord, shape.keys(neck)) for chord, shape in zip(chords, path.shapes, strict=True)}
        assert len(here - known) >= len(here) / 3
        known |= here
