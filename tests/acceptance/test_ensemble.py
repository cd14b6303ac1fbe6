"""The players of a band have to do with each other: more than players of different evenings have.

No published figure of bands is known to us; the control is made from the same takes, with the
players exchanged between them. A band whose players ignore each other fails, since then the real
band and the exchanged ones are alike.
"""

from __future__ import annotations

from statistics import mean, stdev
from typing import TYPE_CHECKING

import numpy as np
import pytest

from .ensemble import (
    BASS,
    CHOP,
    DRUMS,
    PAIRS,
    Band,
    accent_correlation,
    against_exchanged,
    band,
    in_fills,
    shared_bits,
)

if TYPE_CHECKING:
    from collections.abc import Callable

STYLES = [
    "swing",
    *(
        pytest.param(style, marks=pytest.mark.slow)
        for style in ("two-beat", "shuffle", "bossa-nova", "ballad", "reel", "jig", "waltz")
    ),
]


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("first, second", [(BASS, DRUMS), (BASS, CHOP)], ids=str)
def test_accents_are_shared(style: str, first: int, second: int) -> None:
    """The bass accents the bars that others do, clearly more than exchanged players do."""
    assert is_told(accent_correlation, style, first, second)


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("first, second", PAIRS, ids=str)
def test_off_beats_are_struck_together(style: str, first: int, second: int) -> None:
    """What one player strikes between the beats tells what another does."""
    assert is_told(shared_bits, style, first, second)


def is_told(measure: Callable[..., float], style: str, first: int, second: int) -> bool:
    """Whether a figure is above all exchanges, by three standard deviations of theirs."""
    real, exchanged = against_exchanged(measure, band(style), first, second)
    return max(*exchanged, mean(exchanged) + 3 * stdev(exchanged)) < real


def test_swapped_players_are_not_told() -> None:
    """The measure can fail: a band of players of three evenings is like all exchanges."""
    found = band("swing")
    swapped = Band(
        np.stack([np.roll(each, 3 * n, axis=0) for n, each in enumerate(found.velocities)]),
        found.fills,
    )
    for first, second in PAIRS:
        real, exchanged = against_exchanged(shared_bits, swapped, first, second)
        assert real < max(exchanged)


def test_fills_are_prepared() -> None:
    """In fills of the form the bass grows and the chop plays less than elsewhere."""
    for style in ("swing", "shuffle"):
        assert in_fills(band(style), BASS)[1] > 1
        assert in_fills(band(style), CHOP)[0] < 0.95
