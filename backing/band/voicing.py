"""Voicings of the chop: for every chord of a chart the shape that a hand plays on an instrument.

Conventions: the cheapest way is sought once, through all bars of the form with its intro and tag;
every chorus, a loop and what is repeated at the start or the end take their shapes from it, so that
the shape that is shown for a bar is the one that is heard. Parts in styles with another instrument
have a way of their own. A chord that no bar of the chart has, such as the last hit, takes the shape
that it has elsewhere in the chart, or the one that is nearest to the start of the way.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from backing.chart.form import once_round
from backing.fretboard.fretting import Fretting
from backing.fretboard.hand import Hand
from backing.fretboard.instrument import find_instrument
from backing.fretboard.shapes import Wish
from backing.fretboard.voices import as_played
from backing.fretboard.way import candidates, move_cost, way_through

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.form import RoadBar
    from backing.chart.model import Chart
    from backing.fretboard.fretting import FrettingWish
    from backing.fretboard.shapes import Shape
    from backing.harmony.chord import Chord
    from backing.style.model import ChopStyle, Style

Voicing = tuple[int, ...]
"""MIDI keys in the order of the strings, from the bass side; a unison is there once."""


@dataclass(frozen=True, slots=True)
class Held:
    """A chord of the chart and how it is held.

    Attributes:
        road: the bar in which it stands.
        span: which chord of its bar it is, from 0.
        chord: as it is played.
        shape: what the hand holds.
        fretting: on which instrument.
    """

    road: RoadBar
    span: int
    chord: Chord
    shape: Shape
    fretting: Fretting

    @property
    def keys(self) -> Voicing:
        """What sounds."""
        return tuple(dict.fromkeys(self.shape.keys(self.fretting.instrument)))


def usual_fretting(style: ChopStyle) -> Fretting:
    """Return how a style's chop frets its chords."""
    wish = Wish(style.level, strings=style.strings, highest=style.highest)
    return Fretting(find_instrument(style.instrument), Hand(), wish, style.adds)


class Voicings:
    """The shapes of a chart's chords.

    Args:
        chart: the chart, in the key in which it sounds.
        style_of: the style of a bar.
        wish: what the player asks of shapes, over what the style has.
    """

    def __init__(
        self, chart: Chart, style_of: Callable[[RoadBar], Style], wish: FrettingWish
    ) -> None:
        self._chart = chart
        self._style_of = style_of
        self._wish = wish
        self._frettings: dict[Style, Fretting] = {}

    def fretting(self, style: Style) -> Fretting:
        """Return how chords are fretted in a style.

        Raises:
            SettingsError: when the wish cannot be.
        """
        if style not in self._frettings:
            self._frettings[style] = self._wish.over(usual_fretting(style.chop))
        return self._frettings[style]

    @cached_property
    def way(self) -> tuple[Held, ...]:
        """Every chord of the form in the order of the road, the bars without chords left out.

        Raises:
            ShapeError: when a chord cannot be held.
        """
        written: list[tuple[RoadBar, int, Chord, Fretting]] = []
        for road in once_round(self._chart):
            fretting = self.fretting(self._style_of(road))
            for span, each in enumerate(road.bar.chords):
                if each.chord:
                    chord = as_played(each.chord, fretting.adds)
                    written.append((road, span, chord, fretting))
        shapes = {
            fretting: iter(
                way_through(
                    fretting.instrument,
                    fretting.hand,
                    tuple(chord for *_, chord, other in written if other == fretting),
                    fretting.wish,
                ).shapes
            )
            for fretting in {each[3]: None for each in written}
        }
        return tuple(
            Held(road, span, chord, next(shapes[fretting]), fretting)
            for road, span, chord, fretting in written
        )

    def find(self) -> None:
        """Find the way now, so that what cannot be held is told before the band plays.

        Raises:
            SettingsError, ShapeError: as for `fretting` and `way`.
        """
        _ = self.way

    def voicing(self, road: RoadBar, span: int, chord: Chord) -> Voicing:
        """Return what sounds of a chord in a bar.

        Args:
            road: the bar.
            span: which chord of the bar it is, from 0; -1 where no bar of the chart has it.
            chord: as written.
        """
        fretting = self.fretting(self._style_of(road))
        played = as_played(chord, fretting.adds)
        held = self._by_place.get((*road.written, span))
        if held is None or (held.chord, held.fretting) != (played, fretting):
            held = self._elsewhere.get((played, fretting)) or self._nearest(road, played, fretting)
        return held.keys

    @cached_property
    def _by_place(self) -> dict[tuple[int, int, int], Held]:
        return {(*each.road.written, each.span): each for each in self.way}

    @cached_property
    def _elsewhere(self) -> dict[tuple[Chord, Fretting], Held]:
        return {(each.chord, each.fretting): each for each in reversed(self.way)}

    def _nearest(self, road: RoadBar, chord: Chord, fretting: Fretting) -> Held:
        """Return how a chord is held that is nowhere in the chart."""
        neck, hand, wish = fretting.instrument, fretting.hand, fretting.wish
        start = next((each.shape for each in self.way if each.fretting == fretting), None)
        shape = min(
            candidates(neck, hand, chord, wish),
            key=lambda each: each.total + (move_cost(neck, start, each) if start else 0.0),
        )
        held = Held(road, -1, chord, shape, fretting)
        self._elsewhere[chord, fretting] = held
        return held
