"""The usual tempi of dance styles include those that dancers need.

Sources, in the note that the dance counts: competition tempi of the United Country Western Dance
Council (UCWDC sanctioned tempi); contra dances: Jennings, "Zesty Contras", 110 to 128 steps a
minute (32 seconds for 64 of them are 120); reels and jigs of the Royal Scottish Country Dance
Society, 58 bars of two beats a minute, as the Scottish Country Dancing Dictionary reports it.
"""

from __future__ import annotations

import pytest

from backing.style.library import find_style
from backing.timing import EIGHTH, TICKS_PER_QUARTER

QUARTER, HALF, DOTTED = TICKS_PER_QUARTER, 2 * TICKS_PER_QUARTER, 3 * EIGHTH

TEMPI = [
    ("two-step", 182, 198, QUARTER, ("two-beat", "train-beat")),
    ("waltz", 84, 100, QUARTER, ("waltz",)),
    ("east coast swing", 142, 158, QUARTER, ("swing", "boogie", "western-swing")),
    ("polka", 114, 130, QUARTER, ("polka",)),
    ("contra, reels", 110, 128, HALF, ("reel",)),
    ("contra, jigs", 110, 128, DOTTED, ("jig",)),
    ("Scottish reels", 116, 116, HALF, ("reel",)),
    ("Scottish jigs", 116, 116, DOTTED, ("jig",)),
]


@pytest.mark.parametrize(
    "dance, least, most, beat, name",
    [(*row[:4], name) for row in TEMPI for name in row[4]],
    ids=str,
)
def test_a_style_is_at_home_where_its_dance_is(
    dance: str, least: float, most: float, beat: int, name: str
) -> None:
    """All tempi of the dance lie inside those of the style."""
    style = find_style(name)
    slowest, fastest = (
        bpm * TICKS_PER_QUARTER / beat for bpm in (style.slowest_bpm, style.fastest_bpm)
    )
    assert slowest <= least, dance
    assert most <= fastest, dance
