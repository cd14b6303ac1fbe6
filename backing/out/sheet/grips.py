"""The shapes of a sheet: one way of a hand through the chart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.chart.form import once_round
from backing.fretboard.voices import as_played
from backing.fretboard.way import way_through

if TYPE_CHECKING:
    from backing.chart.model import Bar, Chart
    from backing.fretboard.hand import Hand
    from backing.fretboard.instrument import Instrument
    from backing.fretboard.shapes import Shape, Wish
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
        different: each different one once, in the order of the road.
        places: the one at each tick of a bar, by the bar's identity: a bar that is played again
            keeps the one of its first time.
        left: whether they are drawn for a left hand.
    """

    different: tuple[Grip, ...]
    places: dict[tuple[int, int], Grip]
    left: bool = False

    def at(self, bar: Bar, tick: int) -> Grip | None:
        """Return the shape at a tick of a bar; None where no chord is played."""
        return self.places.get((id(bar), tick))


def grips_of(
    chart: Chart, instrument: Instrument, hand: Hand, wish: Wish, *, left: bool = False
) -> Grips:
    """Return the shapes of a chart, chosen together.

    Raises:
        ShapeError: when the hand has none for a chord.
    """
    where = [
        (each.bar, span.tick, as_played(span.chord, wish.level), each.key)
        for each in once_round(chart)
        for span in each.bar.chords
        if span.chord
    ]
    way = way_through(instrument, hand, tuple(chord for _, _, chord, _ in where), wish)
    places: dict[tuple[int, int], Grip] = {}
    different: dict[tuple[Chord, Shape], Grip] = {}
    for (bar, tick, chord, key), shape in zip(where, way.shapes, strict=True):
        grip = different.setdefault((chord, shape), Grip(chord, key, shape))
        places.setdefault((id(bar), tick), grip)
    return Grips(tuple(different.values()), places, left)
