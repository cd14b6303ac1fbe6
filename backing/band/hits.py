"""Hits: what the whole band does together at a chord, in place of its groove.

Some come from directions in the chart; the kick-off and the last chord are the band's own. How loud
a hit is: `feel._hit`, at the level of `performance.context`. The weight that a player gives it
counts only for the last chord of a ritard.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hit:
    """How the band plays one chord together.

    Attributes:
        name: its name.
        is_struck: whether the band strikes the chord; if not, it is silent.
        rings: whether the chord lasts; if not, it is damped after an eighth.

    """

    name: str
    is_struck: bool = True
    rings: bool = False


HITS = {
    "break": Hit("break", is_struck=False),
    "stop": Hit("stop"),
    "hold": Hit("hold", rings=True),
}
"""Hits by the word of their direction; the first one wins."""

KICK_OFF_HIT = Hit("kick-off")
LAST_HELD, LAST_SHORT = Hit("last chord, held", rings=True), Hit("last chord, short")


def hit_of(words: frozenset[str]) -> Hit | None:
    """Return the hit of some directions, or None if the groove continues."""
    return next((hit for word, hit in HITS.items() if word in words), None)
