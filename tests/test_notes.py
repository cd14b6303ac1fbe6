"""The guarantees of `without_overlaps` to every output."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.notes import Note, Player, without_overlaps

# Few keys and short times, so that strokes meet.
notes_in_disorder = st.lists(
    st.builds(
        Note,
        tick=st.integers(0, 60),
        player=st.sampled_from(Player),
        pitch=st.integers(40, 42),
        velocity=st.integers(1, 127),
        length=st.integers(1, 40),
    ),
    max_size=30,
)


def start(note: Note) -> tuple[int, Player, int]:
    """Return what identifies a stroke: its tick, player and key."""
    return note.tick, note.player, note.pitch


@given(notes=notes_in_disorder)
def test_no_key_is_struck_while_it_sounds(notes: list[Note]) -> None:
    """A key of a player ends before or when it is struck again."""
    kept = without_overlaps(notes)
    for first, second in pairwise(sorted(kept, key=lambda each: (*start(each)[1:], each.tick))):
        if start(first)[1:] == start(second)[1:]:
            assert first.end <= second.tick


@given(notes=notes_in_disorder)
def test_every_start_is_kept_once(notes: list[Note]) -> None:
    """Each key struck on a tick is struck there exactly once, as loud as its loudest stroke."""
    loudest: dict[tuple[int, Player, int], int] = {}
    for note in notes:
        loudest[start(note)] = max(note.velocity, loudest.get(start(note), 0))
    kept = without_overlaps(notes)
    assert len(loudest) == len(kept)
    assert loudest == {start(note): note.velocity for note in kept}


@given(notes=notes_in_disorder)
def test_notes_only_get_shorter(notes: list[Note]) -> None:
    """A note lasts at least a tick, and ends as written or at the next stroke."""
    starts = {start(note) for note in notes}
    for note in without_overlaps(notes):
        ends = {
            each.end
            for each in notes
            if start(each) == start(note) and each.velocity == note.velocity
        }
        assert note.length >= 1
        assert note.end in ends or (note.end, note.player, note.pitch) in starts
        assert note.end <= max(ends)


@given(notes=notes_in_disorder)
def test_order_is_by_ticks(notes: list[Note]) -> None:
    """The notes come in order of ticks."""
    kept = without_overlaps(notes)
    assert sorted(kept) == kept
    assert sorted(note.tick for note in kept) == [note.tick for note in kept]


@given(notes=notes_in_disorder)
def test_twice_is_once(notes: list[Note]) -> None:
    """Notes without overlaps stay as they are."""
    kept = without_overlaps(notes)
    assert kept == without_overlaps(kept)


@given(notes=notes_in_disorder, seed=st.integers(0, 2**16))
def test_order_of_the_input_does_not_matter(notes: list[Note], seed: int) -> None:
    """The order of notes does not matter, and they can be an iterator."""
    shuffled = random.Random(seed).sample(notes, len(notes))
    assert without_overlaps(notes) == without_overlaps(iter(shuffled))


def test_apart_from_overlaps_nothing_changes() -> None:
    """Other keys and players can sound together, and a key can follow itself at once."""
    notes = [
        Note(0, Player.BASS, 40, 80, 100),
        Note(0, Player.BASS, 47, 80, 100),
        Note(0, Player.CHOP, 40, 80, 100),
        Note(100, Player.BASS, 40, 80, 100),
    ]
    assert notes == without_overlaps(notes)


@pytest.mark.parametrize(
    "given_notes, expected",
    [
        # (tick, velocity, length) of one key: the earlier stroke ends where the later begins
        ([(0, 80, 100), (50, 70, 10)], [(0, 80, 50), (50, 70, 10)]),
        ([(0, 80, 100), (50, 70, 100), (60, 60, 5)], [(0, 80, 50), (50, 70, 10), (60, 60, 5)]),
        # of two strokes on one tick the louder stays
        ([(0, 80, 10), (0, 90, 5)], [(0, 90, 5)]),
        ([(0, 90, 100), (0, 80, 200), (30, 1, 1)], [(0, 90, 30), (30, 1, 1)]),
        ([(0, 80, 99), (98, 80, 1)], [(0, 80, 98), (98, 80, 1)]),
        ([], []),
    ],
)
def test_by_hand(
    given_notes: list[tuple[int, int, int]], expected: list[tuple[int, int, int]]
) -> None:
    """Overlapping strokes of one key are shortened or dropped, as on a keyboard."""
    notes = [Note(tick, Player.CHOP, 60, *rest) for tick, *rest in given_notes]
    kept = without_overlaps(notes)
    assert expected == [(note.tick, note.velocity, note.length) for note in kept]
