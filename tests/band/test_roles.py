"""The role of each pitch in a chord."""

from __future__ import annotations

import pytest

from backing.band.roles import Role, roles
from backing.harmony.chord import read_chord
from backing.harmony.key import Key


@pytest.mark.parametrize(
    "chord, key, expected",
    [
        ("Gsus4", "C", {"root": 7, "third": 0, "fifth": 2}),
        ("G7sus4", "C", {"root": 7, "third": 0, "fifth": 2, "seventh": 5}),
        ("Dsus2", "D", {"root": 2, "third": 4, "fifth": 9}),
        ("C", "C", {"root": 0, "third": 4, "fifth": 7}),
        ("Bb6", "F", {"root": 10, "third": 2, "fifth": 5, "seventh": 7}),
        ("F#m7b5", "Em", {"root": 6, "third": 9, "fifth": 0, "seventh": 4}),
    ],
)
def test_tones_of_a_chord(chord: str, key: str, expected: dict[str, int]) -> None:
    """In a suspended chord the fourth, or second, replaces the third: hence its name.

    A sixth is to a line what a seventh is: common practice, no source.
    """
    found = roles(read_chord(chord), Key.parse(key))
    expected = dict(expected)
    assert found[expected.pop("root")] == Role.BASS
    assert {name: found[pitch] for name, pitch in expected.items()} == {
        name: Role[name.upper()] for name in expected
    }
    assert sum(role < Role.TENSION for role in found) == len(expected) + 1
