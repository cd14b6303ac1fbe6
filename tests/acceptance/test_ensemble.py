"""The players of a band have to do with each other: more than players of different evenings have.

No published figure of bands is known to us; the control is made from the same takes, with the
players exchanged between them. A band whose players ignore each other fails, since then the real
band and the exchanged ones are alike.
"""

from __future__ import annotations

import pytest

from .ensemble import BASS, CHOP, DRUMS, accent_correlation, against_exchanged, band

STYLES = [
    "swing",
    *(
        pytest.param(style, marks=pytest.mark.slow)
        for style in ("two-beat", "shuffle", "bossa-nova", "ballad", "reel", "jig", "waltz")
    ),
]


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("first, second", [(BASS, DRUMS), (BASS, CHOP), (CHOP, DRUMS)], ids=str)
def test_accents_are_shared(style: str, first: int, second: int) -> None:
    """Two players accent the same bars, clearly more than exchanged players do."""
    real, exchanged = against_exchanged(accent_correlation, band(style), first, second)
    spread = max(exchanged) - min(exchanged)
    assert max(exchanged) + spread < real < 0.9
