"""Fingerings: the shapes that teachers show, and all small ones against brute force."""

from __future__ import annotations

from itertools import product

import pytest

from backing.errors import SettingsError
from backing.fretboard.hand import Hand, fingering
from backing.fretboard.instrument import Instrument, find_instrument
from tests.fretboard.checker import faults_of_hand

X = None


@pytest.mark.parametrize(
    "name, frets, fingers",
    [
        ("mandolin", (7, 5, 2, 3), (4, 3, 1, 2)),
        ("mandolin", (6, 4, 1, 2), (4, 3, 1, 2)),
        ("mandolin", (X, 5, 2, 3), (X, 3, 1, 2)),
        ("mandolin", (0, 0, 2, 3), (0, 0, 1, 2)),
        ("guitar", (3, 5, 5, 4, 3, 3), (1, 3, 4, 2, 1, 1)),
        ("guitar", (X, 3, 2, 0, 1, 0), (X, 3, 2, 0, 1, 0)),
        ("guitar", (0, 2, 2, 1, 0, 0), (0, 2, 3, 1, 0, 0)),
    ],
)
def test_fingers_as_they_are_taught(
    name: str, frets: tuple[int | None, ...], fingers: tuple[int | None, ...]
) -> None:
    """Common practice, no source: which finger goes where."""
    found = fingering(find_instrument(name), Hand(), frets)
    assert found
    assert found.fingers == fingers


def test_a_bar_is_not_laid_over_lower_or_muted_strings(guitar: Instrument) -> None:
    """A barre is used unless a string under it would sound wrong."""
    with_bar = fingering(guitar, Hand(), (1, 3, 3, 2, 1, 1))
    assert with_bar
    assert with_bar.fingers[0] == with_bar.fingers[5] == 1
    assert fingering(guitar, Hand(), (2, 2, 2, 2, 2, 1)) is not None
    assert fingering(guitar, Hand(), (2, X, 2, X, 2, X)).fingers == (1, X, 2, X, 3, X)


def test_no_barre(guitar: Instrument) -> None:
    """Five pressed strings need a barre."""
    assert fingering(guitar, Hand(barre=False), (1, 3, 3, 2, 1, 1)) is None


def test_reach(mandolin: Instrument) -> None:
    """The four-finger G is 78.8 mm wide: in reach for an average hand, not for one of 70."""
    wide = fingering(mandolin, Hand(), (7, 5, 2, 3))
    assert wide
    assert wide.span_mm == pytest.approx(78.8, abs=0.05)
    assert fingering(mandolin, Hand(78), (7, 5, 2, 3)) is None


@pytest.mark.parametrize("reach", [0, -70, 19.9, 251, float("nan"), float("inf")])
def test_a_hand_that_cannot_be(reach: float) -> None:
    """A reach of 0 is refused, with what hands reach."""
    with pytest.raises(
        SettingsError, match=r"reach .*: a hand reaches 20 to 250 mm .*small one 70"
    ):
        Hand(reach)


def test_against_brute_force(mandolin: Instrument) -> None:
    """All fingerings of all frets 0 to 5 and muted: found where any way at all is allowed."""
    hand = Hand(60)
    choices = [X, 0, 1, 2, 3, 5]
    ways = {sounding: list(product(range(1, 5), repeat=sounding)) for sounding in range(5)}
    held = 0
    for frets in product(choices, repeat=4):
        pressed = [string for string, fret in enumerate(frets) if fret]
        possible = False
        for way in ways[len(pressed)]:
            fingers: list[int | None] = [X if fret is X else 0 for fret in frets]
            for string, finger in zip(pressed, way, strict=True):
                fingers[string] = finger
            if not faults_of_hand(mandolin, frets, tuple(fingers), hand.reach_mm):
                possible = True
                break
        found = fingering(mandolin, hand, frets)
        assert (found is not None) == possible, frets
        if found:
            held += 1
            assert not faults_of_hand(mandolin, frets, found.fingers, hand.reach_mm)
    assert 300 < held < len(choices) ** 4
