"""The shapes of a sheet: those that the band's chop plays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.band.voicing import Held
    from backing.chart.sequence import ChordPlace
    from backing.fretboard.shape import Shape
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key


@dataclass(frozen=True, slots=True)
class Grip:
    """A shape for a chord of the chart.

    Attributes:
        chord: the chord as it is played; its slash bass is the bass player's.
        key: the key that holds where it stands first.
        shape: the shape.
    """

    chord: Chord
    key: Key
    shape: Shape


@dataclass(frozen=True)
class Grips:
    """The shapes of a chart.

    Attributes:
        different: each different one once, in the order of the sequence.
        places: where in the chart each of them stands; a bar that is played again keeps those of
            its first time.
        left: whether they are drawn for a left hand.
    """

    different: tuple[Grip, ...]
    places: dict[ChordPlace, Grip]
    left: bool = False


def grips_of(way: tuple[Held, ...], *, left: bool = False) -> Grips:
    """Return the shapes of a chart from how its chords are held, in playing order."""
    places: dict[ChordPlace, Grip] = {}
    different: dict[tuple[Chord, Shape], Grip] = {}
    for held in way:
        chord, shape, key = held.chord, held.shape, held.source[0].key
        grip = different.setdefault((chord, shape), Grip(chord, key, shape))
        if held.place:
            places.setdefault(held.place, grip)
    return Grips(tuple(different.values()), places, left)
