"""The role of each pitch in a chord, and the pitches of a register by role.

Conventions: a pitch is the chord's bass, root, third (or suspension), fifth, seventh (or sixth),
another chord tone (tension), a note of the scale, or outside. A chord tone replaces the scale note
on its letter: over D7 in C there is an F#, no F. Enharmonic spelling does not matter: Ebm in E has
D# and does not remove E. In a minor key the sixth is raised over a chord with the raised seventh,
and then goes up by step (the melodic minor: common practice, no source). A note that is not a chord
tone is left by step.
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
    """The role of a pitch class in a chord."""

    BASS = 0
    ROOT = 1
    THIRD = 2
    FIFTH = 3
    SEVENTH = 4
    TENSION = 5
    SCALE = 6
    OUTSIDE = 7


_BY_DEGREE = {1: Role.ROOT, 3: Role.THIRD, 4: Role.THIRD, 2: Role.THIRD}
_BY_DEGREE |= {5: Role.FIFTH, 7: Role.SEVENTH, 6: Role.SEVENTH}


@lru_cache(256)
def roles(chord: Chord, key: Key) -> tuple[Role, ...]:
    """Return the role of each pitch class, from C = 0; the bass is the slash bass or the root."""
    found = [Role.OUTSIDE] * 12
    scale = _scale(chord, key)
    named = {note.pitch_class: note for note in scale}
    spelled = {_letter(named.get(note.pitch_class, note)) for note in chord.notes}
    for note in scale:
        if _letter(note) not in spelled:
            found[note.pitch_class] = Role.SCALE
    for degree, note in reversed(list(zip(chord.quality.degrees, chord.notes, strict=True))):
        found[note.pitch_class] = _BY_DEGREE.get(degree.number, Role.TENSION)
    found[chord.lowest.pitch_class] = Role.BASS
    return tuple(found)


def _scale(chord: Chord, key: Key) -> tuple[NoteName, ...]:
    """Return the scale of a key over a chord."""
    raised = _raised_sixth(chord, key)
    return (*key.scale[:5], raised or key.scale[5], key.scale[6])


def _raised_sixth(chord: Chord, key: Key) -> NoteName | None:
    """Return the raised sixth of a minor key over a chord with its raised seventh, else None."""
    has_seventh = key.mode == "minor" and key.tonic.up(5).pitch_class in chord.pitch_classes
    return key.tonic.up(3) if has_seventh else None


def _exits(chord: Chord, key: Key) -> tuple[int, ...]:
    """Return the exit of each pitch class, from C = 0, as in `path`; chord tones are free."""
    exits = [FREE if role <= Role.TENSION else BY_STEP for role in roles(chord, key)]
    raised = _raised_sixth(chord, key)
    if raised and exits[raised.pitch_class] == BY_STEP:
        exits[raised.pitch_class] = UP_BY_STEP
    return tuple(exits)


_FARTHEST, _FEW = 10, 4
"""Greatest distance of a line from its centre, in semitones; every pitch class lies within six. Of
so few pitches, octaves of one note, none is left out, so that a line can reach them and go on."""

_FAR = 1e-4
"""Factor on the weight of those that lie further."""


@dataclass(frozen=True, slots=True, eq=False)
class Register:
    """The register of a line; `register` makes each only once.

    Attributes:
        low, high: lowest and highest MIDI key, an octave or more apart.
        centre: the MIDI key around which the line moves.
        reach: usual distance from the centre, in semitones.
    """

    low: int
    high: int
    centre: int
    reach: float

    def weighed(self, choices: Iterable[tuple[int, float, int]]) -> Choices:
        """Return the choices with weights that fall with the distance from the centre."""
        return tuple(
            (pitch, weight / (1.0 + ((pitch - self.centre) / self.reach) ** 2), exit)
            for pitch, weight, exit in choices
        )

    def near(self, choices: Iterable[tuple[int, float, int]]) -> Choices:
        """Return the weighed choices near the centre; all choices, unweighed, if none is near."""
        wanted = tuple(choices)
        if len(wanted) <= _FEW:
            return tuple(
                (pitch, weight * (1.0 if abs(pitch - self.centre) <= _FARTHEST else _FAR), exit)
                for pitch, weight, exit in self.weighed(wanted)
            )
        near = (each for each in wanted if abs(each[0] - self.centre) <= _FARTHEST)
        return self.weighed(near) or wanted


register = lru_cache(256)(Register)
"""Return the register with these values, always the same object."""


@lru_cache(1024)
def pitches_by_role(chord: Chord, key: Key, weights: tuple[float, ...], where: Register) -> Choices:
    """Return the pitches of a register whose role has a weight above 0, with their weights.

    Args:
        chord: the chord.
        key: the key that holds.
        weights: one for each `Role`, in order.
        where: the register.
    """
    return where.near(_wanted(chord, key, weights, where))


@lru_cache(1024)
def leading_pitches(chord: Chord, key: Key, weights: tuple[float, ...], where: Register) -> Choices:
    """Return pitches as `pitches_by_role` does, but with exits by step only.

    They span the whole range, since the note that they lead into may lie in another register.
    """
    return where.weighed(
        (pitch, weight, exit or LEADS)
        for pitch, weight, exit in _wanted(chord, key, weights, where)
    )


def _wanted(
    chord: Chord, key: Key, weights: tuple[float, ...], where: Register
) -> Iterator[tuple[int, float, int]]:
    by_class, exits = roles(chord, key), _exits(chord, key)
    for pitch in range(where.low, where.high + 1):
        weight = weights[by_class[pitch % 12]]
        if weight > 0:
            yield pitch, weight, exits[pitch % 12]


@lru_cache(256)
def pitches_of_class(pitch_class: int, where: Register, exit: int = FREE) -> Choices:
    """Return the pitches of a register in one pitch class, weighed by distance from its centre."""
    return where.near(
        (pitch, 1.0, exit)
        for pitch in range(where.low, where.high + 1)
        if pitch % 12 == pitch_class
    )


def _letter(note: NoteName) -> str:
    return str(note)[0]
