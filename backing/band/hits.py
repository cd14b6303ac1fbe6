"""What the whole band does together at a chord, in place of its groove.

The chart asks for some of it by a direction; a kick-off and the last chord are the band's own. Each
is an entry of its own here, so that one can change without the others.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hit:
    """How the band plays one chord together.

    Attributes:
        name: what it is.
        is_struck: whether the band strikes the chord; else it is silent.
        rings: whether the chord lasts; else it is damped after an eighth.

    """

    name: str
    is_struck: bool = True
    rings: bool = False


HITS = {
    "break": Hit("break", is_struck=False),
    "stop": Hit("stop"),
    "hold": Hit("hold", rings=True),
}
"""What the band does at a direction; of several the first counts."""

KICK_OFF_HIT = Hit("kick-off")
LAST_HELD, LAST_SHORT = Hit("last chord, held", rings=True), Hit("last chord, short")


def asked_hit(words: frozenset[str]) -> Hit | None:
    """Return the hit that directions ask for, or None where the groove goes on."""
    return next((hit for word, hit in HITS.items() if word in words), None)
