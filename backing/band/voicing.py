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
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from backing.chart.sequence import once_round
from backing.fretboard.fingering_path import candidates, fingering_path, move_cost
from backing.fretboard.fretting import Fretting
from backing.fretboard.hand import Hand
from backing.fretboard.instrument import find_instrument
from backing.fretboard.request import ShapeRequest
from backing.fretboard.voices import as_played

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.chart.model import Chart
    from backing.chart.sequence import ChordPlace, Origin, SequencedBar
    from backing.fretboard.fretting import FrettingSettings
    from backing.fretboard.shape import Shape
    from backing.harmony.chord import Chord
    from backing.style.model import ChopStyle, Style

Voicing = tuple[int, ...]
"""MIDI keys in the order of the strings, from the bass side; a unison is there once."""

_Place: TypeAlias = "tuple[Origin | None, int]"
"""A chord of the form: its bar, and which chord of that it is, from 0."""


@dataclass(frozen=True, slots=True)
class FingeredChord:
    """A chord of the chart and how it is held.

    Attributes:
        sequenced: the bar in which it sounds.
        span: which chord of that bar it is, from 0; -1 where no bar of the form has it.
        chord: as it is played.
        shape: what the hand holds.
        fretting: on which instrument.
    """

    sequenced: SequencedBar
    span: int
    chord: Chord
    shape: Shape
    fretting: Fretting

    @property
    def source(self) -> tuple[SequencedBar, int]:
        """The bar as written in which it stands, and which chord of it it is, from 0."""
        return self.sequenced.source(self.span)

    @property
    def place(self) -> ChordPlace | None:
        """Where it stands in the chart."""
        return self.sequenced.chord_place(self.span)

    @property
    def keys(self) -> Voicing:
        """What sounds."""
        return tuple(dict.fromkeys(self.shape.keys(self.fretting.instrument)))


class _Chord(NamedTuple):
    """A chord of the form, for which one shape is sought.

    Attributes:
        place: where it is written, as `_place` has it.
        chord: as it is played.
        fretting: on which instrument.
    """

    place: _Place
    chord: Chord
    fretting: Fretting


class _Played(NamedTuple):
    """A chord in playing order.

    Attributes:
        sequenced: the bar in which it sounds.
        span: which chord of that bar it is, from 0.
        held: what is held.
    """

    sequenced: SequencedBar
    span: int
    held: _Chord


def usual_fretting(style: ChopStyle) -> Fretting:
    """Return how a style's chop frets its chords."""
    wish = ShapeRequest(style.level, strings=style.strings, highest=style.highest)
    return Fretting(find_instrument(style.instrument), Hand(), wish, style.adds)


class Voicings:
    """The shapes of a chart's chords.

    Args:
        chart: the chart, in the key in which it sounds.
        style_of: the style of a bar.
        wish: what the player asks of shapes, over what the style has.
    """

    def __init__(
        self, chart: Chart, style_of: Callable[[SequencedBar], Style], wish: FrettingSettings
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
    def way(self) -> tuple[FingeredChord, ...]:
        """Every chord of the form in the order of the sequence, the bars without chords left out.

        Last comes the pickup with which one time round leads into the next. A pickup that comes
        again is held as the first time.

        Raises:
            ShapeError: when a chord cannot be held.
        """
        closing = once_round(self._chart, last=False)[-1]
        own = closing.joined.own if closing.joined else len(closing.bar.chords)
        played = [
            each for sequenced in once_round(self._chart) for each in self._chords_of(sequenced)
        ]
        played += [each for each in self._chords_of(closing) if each.span >= own]
        written = list(dict.fromkeys(each.held for each in played))
        shapes = {
            fretting: iter(
                fingering_path(
                    fretting.instrument,
                    fretting.hand,
                    tuple(each.chord for each in written if each.fretting == fretting),
                    fretting.wish,
                ).shapes
            )
            for fretting in {each.fretting: None for each in written}
        }
        found = {each: next(shapes[each.fretting]) for each in written}
        return tuple(
            FingeredChord(sequenced, span, held.chord, found[held], held.fretting)
            for sequenced, span, held in played
        )

    def _chords_of(self, sequenced: SequencedBar) -> Iterator[_Played]:
        """Yield the chords of a bar as they are played."""
        fretting = self.fretting(self._style_of(sequenced))
        for span, each in enumerate(sequenced.bar.chords):
            if each.chord:
                chord = as_played(each.chord, fretting.adds)
                yield _Played(sequenced, span, _Chord(_place(sequenced, span), chord, fretting))

    def find(self) -> None:
        """Find the way now, so that what cannot be held is told before the band plays.

        Raises:
            SettingsError, ShapeError: as for `fretting` and `way`.
        """
        _ = self.way

    def voicing(self, sequenced: SequencedBar, span: int, chord: Chord) -> Voicing:
        """Return what sounds of a chord in a bar.

        Args:
            sequenced: the bar.
            span: which chord of the bar it is, from 0; -1 for the last chord of an ending.
            chord: as written.
        """
        fretting = self.fretting(self._style_of(sequenced))
        played = as_played(chord, fretting.adds)
        held = self._by_place.get(_place(sequenced, span))
        if held is None or (held.chord, held.fretting) != (played, fretting):
            held = self._elsewhere.get((played, fretting)) or self._nearest(
                sequenced, played, fretting
            )
        return held.keys

    @cached_property
    def _by_place(self) -> dict[_Place, FingeredChord]:
        return {_place(each.sequenced, each.span): each for each in reversed(self.way)}

    @cached_property
    def _elsewhere(self) -> dict[tuple[Chord, Fretting], FingeredChord]:
        return {(each.chord, each.fretting): each for each in reversed(self.way)}

    def _nearest(self, sequenced: SequencedBar, chord: Chord, fretting: Fretting) -> FingeredChord:
        """Return how a chord is held that is nowhere in the chart."""
        neck, hand, wish = fretting.instrument, fretting.hand, fretting.wish
        start = next((each.shape for each in self.way if each.fretting == fretting), None)
        shape = min(
            candidates(neck, hand, chord, wish),
            key=lambda each: each.total + (move_cost(neck, start, each) if start else 0.0),
        )
        held = FingeredChord(sequenced, -1, chord, shape, fretting)
        self._elsewhere[chord, fretting] = held
        return held


def _place(sequenced: SequencedBar, span: int) -> _Place:
    """Return where in the form a chord of a bar stands."""
    bar, number = sequenced.source(span)
    return bar.origin, number
