"""What each pitch is to a chord, for players who build lines.

Conventions: a pitch is the chord's bass, its root, third, fifth, seventh (or sixth), another note
of it, a note of the scale around it, or none of these. A scale note that the chord spells
otherwise gives way: over D7 in C there is an F#, no F.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.harmony.pitch import NoteName


class Role(IntEnum):
    """What a pitch class is to a chord."""

    BASS = 0
    ROOT = 1
    THIRD = 2
    FIFTH = 3
    SEVENTH = 4
    COLOUR = 5
    SCALE = 6
    OUTSIDE = 7


_BY_DEGREE = {1: Role.ROOT, 3: Role.THIRD, 4: Role.THIRD, 2: Role.THIRD}
_BY_DEGREE |= {5: Role.FIFTH, 7: Role.SEVENTH, 6: Role.SEVENTH}


@lru_cache(256)
def roles(chord: Chord, key: Key) -> tuple[Role, ...]:
    """Return the role of each pitch class from C = 0; without a slash bass the root is the bass."""
    found = [Role.OUTSIDE] * 12
    spelled = {_letter(note) for note in chord.notes}
    for note in key.scale:
        if _letter(note) not in spelled:
            found[note.pitch_class] = Role.SCALE
    for degree, note in reversed(list(zip(chord.quality.degrees, chord.notes, strict=True))):
        found[note.pitch_class] = _BY_DEGREE.get(degree.number, Role.COLOUR)
    found[chord.lowest.pitch_class] = Role.BASS
    return tuple(found)


Pitches = tuple[tuple[int, float], ...]
"""Pairs of (MIDI key, weight above 0)."""

_FARTHEST = 10
"""How far from its centre a line goes, in semitones; every pitch class lies within six."""


@dataclass(frozen=True, slots=True, eq=False)
class Register:
    """Where a line moves; made by `register`, so that of equal ones there is but one.

    Attributes:
        low, high: lowest and highest MIDI key, an octave or more apart.
        centre: the key around which it moves.
        reach: how far from there it moves readily, in semitones.
    """

    low: int
    high: int
    centre: int
    reach: float

    def near(self, pitches: Iterable[tuple[int, float]]) -> Pitches:
        """Return the pitches near the centre, the nearer ones made likelier; all when none is."""
        wanted = tuple(pitches)
        kept = tuple(
            (pitch, weight / (1.0 + ((pitch - self.centre) / self.reach) ** 2))
            for pitch, weight in wanted
            if abs(pitch - self.centre) <= _FARTHEST
        )
        return kept or wanted


register = lru_cache(256)(Register)
"""Return the register with these values, always the same one."""


@lru_cache(1024)
def pitches_by_role(chord: Chord, key: Key, weights: tuple[float, ...], where: Register) -> Pitches:
    """Return the pitches of a register whose role has a weight above 0, with their weights.

    Args:
        chord: the chord.
        key: the key around it.
        weights: one for each `Role`, in order.
        where: where the line moves.
    """
    by_class = roles(chord, key)
    return where.near(
        (pitch, weights[by_class[pitch % 12]])
        for pitch in range(where.low, where.high + 1)
        if weights[by_class[pitch % 12]] > 0
    )


@lru_cache(256)
def pitches_of_class(pitch_class: int, where: Register) -> Pitches:
    """Return the pitches of a register in one pitch class, all weighing the same at its centre."""
    return where.near(
        (pitch, 1.0) for pitch in range(where.low, where.high + 1) if pitch % 12 == pitch_class
    )


def _letter(note: NoteName) -> str:
    return str(note)[0]
