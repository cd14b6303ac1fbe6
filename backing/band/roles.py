"""What each pitch is to a chord, for players who build lines.

Conventions: a pitch is the chord's bass, its root, third, fifth, seventh (or sixth), another note
of it, a note of the scale around it, or none of these. A scale note that the chord alters gives
way: over D7 in C there is an F#, no F. How the chord spells a note of the scale is all the same:
Ebm in E holds D# and takes no E away. In a minor key the sixth is raised over a chord with the
raised seventh, and then goes up by step (the melodic minor: common practice, no source). A note
that is not the chord's own is left by step.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.band.path import BY_STEP, FREE, LEADS, UP_BY_STEP, Choices

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

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
    scale = _scale(chord, key)
    named = {note.pitch_class: note for note in scale}
    spelled = {_letter(named.get(note.pitch_class, note)) for note in chord.notes}
    for note in scale:
        if _letter(note) not in spelled:
            found[note.pitch_class] = Role.SCALE
    for degree, note in reversed(list(zip(chord.quality.degrees, chord.notes, strict=True))):
        found[note.pitch_class] = _BY_DEGREE.get(degree.number, Role.COLOUR)
    found[chord.lowest.pitch_class] = Role.BASS
    return tuple(found)


def _scale(chord: Chord, key: Key) -> tuple[NoteName, ...]:
    """Return the scale of a key around a chord."""
    raised = _raised_sixth(chord, key)
    return (*key.scale[:5], raised or key.scale[5], key.scale[6])


def _raised_sixth(chord: Chord, key: Key) -> NoteName | None:
    """Return the raised sixth of a minor key over a chord with its raised seventh, else None."""
    has_seventh = key.mode == "minor" and key.tonic.up(5).pitch_class in chord.pitch_classes
    return key.tonic.up(3) if has_seventh else None


def _ways_to_leave(chord: Chord, key: Key) -> tuple[int, ...]:
    """Return how each pitch class from C = 0 is left, as in `path`: the chord's own freely."""
    ways = [FREE if role <= Role.COLOUR else BY_STEP for role in roles(chord, key)]
    raised = _raised_sixth(chord, key)
    if raised and ways[raised.pitch_class] == BY_STEP:
        ways[raised.pitch_class] = UP_BY_STEP
    return tuple(ways)


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

    def weighed(self, choices: Iterable[tuple[int, float, int]]) -> Choices:
        """Return the choices, those nearer to the centre made likelier."""
        return tuple(
            (pitch, weight / (1.0 + ((pitch - self.centre) / self.reach) ** 2), left)
            for pitch, weight, left in choices
        )

    def near(self, choices: Iterable[tuple[int, float, int]]) -> Choices:
        """Return the choices near the centre, the nearer ones made likelier; all when none is."""
        wanted = tuple(choices)
        near = (each for each in wanted if abs(each[0] - self.centre) <= _FARTHEST)
        return self.weighed(near) or wanted


register = lru_cache(256)(Register)
"""Return the register with these values, always the same one."""


@lru_cache(1024)
def pitches_by_role(chord: Chord, key: Key, weights: tuple[float, ...], where: Register) -> Choices:
    """Return the pitches of a register whose role has a weight above 0, with their weights.

    Args:
        chord: the chord.
        key: the key around it.
        weights: one for each `Role`, in order.
        where: where the line moves.
    """
    return where.near(_wanted(chord, key, weights, where))


@lru_cache(1024)
def leading_pitches(chord: Chord, key: Key, weights: tuple[float, ...], where: Register) -> Choices:
    """Return pitches as `pitches_by_role` does, all to be left by step.

    They reach as far as the range, since what they lead into may lie in another register.
    """
    return where.weighed(
        (pitch, weight, left or LEADS)
        for pitch, weight, left in _wanted(chord, key, weights, where)
    )


def _wanted(
    chord: Chord, key: Key, weights: tuple[float, ...], where: Register
) -> Iterator[tuple[int, float, int]]:
    by_class, ways = roles(chord, key), _ways_to_leave(chord, key)
    for pitch in range(where.low, where.high + 1):
        weight = weights[by_class[pitch % 12]]
        if weight > 0:
            yield pitch, weight, ways[pitch % 12]


@lru_cache(256)
def pitches_of_class(pitch_class: int, where: Register, left: int = FREE) -> Choices:
    """Return the pitches of a register in one pitch class, all weighing the same at its centre."""
    return where.near(
        (pitch, 1.0, left)
        for pitch in range(where.low, where.high + 1)
        if pitch % 12 == pitch_class
    )


def _letter(note: NoteName) -> str:
    return str(note)[0]
