"""Voicings of the chop: the shape of every chord of a chart on a fretted instrument.

Conventions: one fingering path is found, through the form once round. Every chorus, a loop, an
intro and a tag take their shapes from it, so that the shape shown for a bar is the one that sounds.
Parts whose style has another instrument have their own path. A chord that no bar of the form has,
such as the last hit, takes its shape elsewhere in the chart, or the one nearest the path's start.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from backing.chart.sequence import once_round
from backing.fretboard.fingering_path import candidates, fingering_path, move_cost
from backing.fretboard.hand import Hand
from backing.fretboard.instrument import find_instrument
from backing.fretboard.request import Fretting, ShapeRequest
from backing.fretboard.voices import as_played

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.chart.model import Chart
    from backing.chart.sequence import ChordPlace, Origin, SequencedBar
    from backing.fretboard.hand import Shape
    from backing.fretboard.request import FrettingSettings
    from backing.harmony.chord import Chord
    from backing.style.model import ChopStyle, Style

_Place: TypeAlias = "tuple[Origin | None, int]"
"""A chord of the form: its bar, and its index in that bar."""


@dataclass(frozen=True, slots=True)
class FingeredChord:
    """A chord of the chart with its shape.

    Attributes:
        sequenced: the bar in which it sounds.
        span: its index in that bar, from 0; -1 if no bar of the form has it.
        chord: the chord as played.
        shape: its shape.
        fretting: instrument, hand and request.
    """

    sequenced: SequencedBar
    span: int
    chord: Chord
    shape: Shape
    fretting: Fretting

    @property
    def source(self) -> tuple[SequencedBar, int]:
        """The written bar that has it, and its index there, from 0."""
        return self.sequenced.source(self.span)

    @property
    def place(self) -> ChordPlace | None:
        """Its place in the chart."""
        return self.sequenced.chord_place(self.span)

    @property
    def keys(self) -> tuple[int, ...]:
        """Its MIDI keys in the order of the strings, from the bass side; a unison is there once."""
        return tuple(dict.fromkeys(self.shape.keys(self.fretting.instrument)))


class _Chord(NamedTuple):
    """A chord of the form, which has one shape.

    Attributes:
        place: where it is written.
        chord: the chord as played.
        fretting: instrument, hand and request.
    """

    place: _Place
    chord: Chord
    fretting: Fretting


class _Played(NamedTuple):
    """A chord in playing order.

    Attributes:
        sequenced: the bar in which it sounds.
        span: its index in that bar, from 0.
        written: the chord of the form that it is.
    """

    sequenced: SequencedBar
    span: int
    written: _Chord


def usual_fretting(style: ChopStyle) -> Fretting:
    """Return the instrument, hand and request of a style's chop."""
    settings = ShapeRequest(style.voicing, strings=style.strings, highest=style.highest)
    return Fretting(find_instrument(style.instrument), Hand(), settings, style.adds)


class Voicings:
    """The shapes of a chart's chords.

    Args:
        chart: the chart, in the key in which it sounds.
        style_of: returns the style of a bar.
        settings: the player's settings, which override the style's.
    """

    def __init__(
        self, chart: Chart, style_of: Callable[[SequencedBar], Style], settings: FrettingSettings
    ) -> None:
        self._chart = chart
        self._style_of = style_of
        self._settings = settings
        self._frettings: dict[Style, Fretting] = {}

    def fretting(self, style: Style) -> Fretting:
        """Return instrument, hand and request in a style.

        Raises:
            SettingsError: if the settings do not fit.
        """
        if style not in self._frettings:
            self._frettings[style] = self._settings.over(usual_fretting(style.chop))
        return self._frettings[style]

    @cached_property
    def chords(self) -> tuple[FingeredChord, ...]:
        """Every chord of the form in performance order, and at the end the pickup into the next.

        A pickup that repeats has the shape of the first time.

        Raises:
            SettingsError: if the settings do not fit.
            ShapeError: if a chord cannot be held.
        """
        closing = once_round(self._chart, last=False)[-1]
        own = closing.joined.own if closing.joined else len(closing.bar.chords)
        played = [
            each for sequenced in once_round(self._chart) for each in self._chords_of(sequenced)
        ]
        played += [each for each in self._chords_of(closing) if each.span >= own]
        written = list(dict.fromkeys(each.written for each in played))
        shapes = {
            fretting: iter(
                fingering_path(
                    fretting.instrument,
                    fretting.hand,
                    tuple(each.chord for each in written if each.fretting == fretting),
                    fretting.request,
                ).shapes
            )
            for fretting in {each.fretting: None for each in written}
        }
        found = {each: next(shapes[each.fretting]) for each in written}
        return tuple(
            FingeredChord(sequenced, span, chord.chord, found[chord], chord.fretting)
            for sequenced, span, chord in played
        )

    def _chords_of(self, sequenced: SequencedBar) -> Iterator[_Played]:
        """Yield the chords of a bar as they are played."""
        fretting = self.fretting(self._style_of(sequenced))
        for span, each in enumerate(sequenced.bar.chords):
            if each.chord:
                chord = as_played(each.chord, fretting.adds)
                yield _Played(sequenced, span, _Chord(_place(sequenced, span), chord, fretting))

    def keys_of(self, sequenced: SequencedBar, span: int, chord: Chord) -> tuple[int, ...]:
        """Return the MIDI keys of a chord in a bar.

        Args:
            sequenced: the bar.
            span: the chord's index in the bar, from 0; -1 for the last chord of an ending.
            chord: the chord as written.
        """
        fretting = self.fretting(self._style_of(sequenced))
        played = as_played(chord, fretting.adds)
        fingered = self._by_place.get(_place(sequenced, span))
        if fingered is None or (fingered.chord, fingered.fretting) != (played, fretting):
            fingered = self._elsewhere.get((played, fretting)) or self._nearest(
                sequenced, played, fretting
            )
        return fingered.keys

    @cached_property
    def _by_place(self) -> dict[_Place, FingeredChord]:
        return {_place(each.sequenced, each.span): each for each in reversed(self.chords)}

    @cached_property
    def _elsewhere(self) -> dict[tuple[Chord, Fretting], FingeredChord]:
        return {(each.chord, each.fretting): each for each in reversed(self.chords)}

    def _nearest(self, sequenced: SequencedBar, chord: Chord, fretting: Fretting) -> FingeredChord:
        """Return and remember the shape of a chord that is not in the chart."""
        instrument = fretting.instrument
        start = next((each.shape for each in self.chords if each.fretting == fretting), None)
        shape = min(
            candidates(instrument, fretting.hand, chord, fretting.request),
            key=lambda each: each.total + (move_cost(instrument, start, each) if start else 0.0),
        )
        fingered = FingeredChord(sequenced, -1, chord, shape, fretting)
        self._elsewhere[chord, fretting] = fingered
        return fingered


def _place(sequenced: SequencedBar, span: int) -> _Place:
    """Return the place of a bar's chord in the form."""
    bar, number = sequenced.source(span)
    return bar.origin, number
