"""Transposed charts."""

from __future__ import annotations

import pytest

from backing.chart.read import read_chart
from backing.chart.transpose import by_semitones, in_key
from backing.errors import SettingsError
from backing.harmony.key import Key


@pytest.mark.parametrize(
    "home, wanted, expected",
    [
        ("E dorian", "A", "A dorian"),
        ("E dorian", "Am", "A dorian"),
        ("E dorian", "A dorian", "A dorian"),
        ("E phrygian", "Bbm", "Bb phrygian"),
        ("A mixolydian", "D", "D mixolydian"),
        ("A mixolydian", "D major", "D mixolydian"),
        ("F lydian", "Gmaj", "G lydian"),
        ("G", "Bb", "Bb"),
        ("Em", "G", "Gm"),
    ],
)
def test_modes(home: str, wanted: str, expected: str) -> None:
    """A bare note keeps the mode, and so does major or minor with the third of the home chord."""
    assert in_key(read_chart(f"key: {home}\n| 1 |"), wanted).key == Key.parse(expected)


@pytest.mark.parametrize(
    "home, wanted, sentence",
    [
        ("G", "Em", "the chart is in G, which is major; Em is minor"),
        ("E dorian", "E major", "E major is major"),
        ("A mixolydian", "Am", "Am is minor"),
        ("E dorian", "E phrygian", "E phrygian is phrygian"),
        ("G", "g", "did you mean 'G'"),
        ("A phrygian", "Abm", "write G# phrygian"),
        ("F lydian", "C#", "write Db lydian"),
    ],
)
def test_refusals(home: str, wanted: str, sentence: str) -> None:
    """A key with another third, of another mode or of too many accidentals is refused."""
    with pytest.raises(SettingsError) as caught:
        in_key(read_chart(f"key: {home}\n| 1 |"), wanted)
    assert sentence in str(caught.value)


@pytest.mark.parametrize("semitones", [-24, 24])
def test_two_octaves_are_not_too_far(semitones: int) -> None:
    """A chart moves up or down by at most 24 semitones."""
    chart = read_chart("key: G\n| G | D7 |", "x")
    assert by_semitones(chart, semitones) == chart
    with pytest.raises(SettingsError, match="24 at most"):
        by_semitones(chart, semitones + (1 if semitones > 0 else -1))
