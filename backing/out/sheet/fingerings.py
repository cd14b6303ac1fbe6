"""The shapes of a sheet: those that the chop plays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.band.voicing import FingeredChord
    from backing.chart.sequence import ChordPlace
    from backing.fretboard.hand import Shape
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key


@dataclass(frozen=True, slots=True)
class Fingering:
    """A shape of a chord of the chart.

    Attributes:
        chord: the chord as the chop plays it, without a slash bass.
        key: the key where it first occurs.
        shape: the shape.
    """

    chord: Chord
    key: Key
    shape: Shape


@dataclass(frozen=True)
class Fingerings:
    """The shapes of a chart.

    Attributes:
        different: each distinct one once, in playing order.
        places: the shape of each chord of the chart; that of the first time if it is played again.
        left: whether they are drawn for a left hand.
    """

    different: tuple[Fingering, ...]
    places: dict[ChordPlace, Fingering]
    left: bool = False


def fingerings_of(path: tuple[FingeredChord, ...], *, left: bool = False) -> Fingerings:
    """Return the shapes of a chart from its fingered chords in playing order."""
    places: dict[ChordPlace, Fingering] = {}
    different: dict[tuple[Chord, Shape], Fingering] = {}
    for fingered in path:
        chord, shape, key = fingered.chord, fingered.shape, fingered.source[0].key
        fingering = different.setdefault((chord, shape), Fingering(chord, key, shape))
        if fingered.place:
            places.setdefault(fingered.place, fingering)
    return Fingerings(tuple(different.values()), places, left)
