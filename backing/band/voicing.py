"""Voicings of the chop: the shape of every chord of a chart on a fretted instrument.

Conventions: up to three fingering paths are found, through the form once round. A chorus takes all
its shapes from one of them, an intro and a tag from that of their chorus, so that the shape shown
for a bar is the one that sounds. The first chorus and a loop have the first path, which sheets
show; later ones climb to the others with the energy of the band. Where the player chooses the kind
of shape there is one path. Parts whose style has another instrument have their own paths. A chord
that no bar of the form has, such as the last hit, takes its shape elsewhere in the chart, or the
one nearest the path's start.

In a style that walks, every second bar of a chord that lasts has the neighbouring inversion, but
not in the first path (players' practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from backing.band.arc import energy_of
from backing.chart.sequence import once_round
from backing.fretboard.fingering_path import candidates, fingering_path, move_cost
from backing.fretboard.further_paths import MOST_PATHS, fingering_paths, neighbour
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

_HIGHEST_FROM = 0.8
"""Energy from which on the last path could be followed by one more; ours."""

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
        keys: its MIDI keys in the order of the strings, from the bass side; a unison is there once.
    """

    sequenced: SequencedBar
    span: int
    chord: Chord
    shape: Shape
    fretting: Fretting
    keys: tuple[int, ...] = field(init=False, compare=False)

    def __post_init__(self) -> None:
        keys = tuple(dict.fromkeys(self.shape.keys(self.fretting.instrument)))
        object.__setattr__(self, "keys", keys)

    @property
    def source(self) -> tuple[SequencedBar, int]:
        """The written bar that has it, and its index there, from 0."""
        return self.sequenced.source(self.span)

    @property
    def place(self) -> ChordPlace | None:
        """Its place in the chart."""
        return self.sequenced.chord_place(self.span)


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
        seed: the seed of the choruses' energy; None if all have the first path, as in a loop.
    """

    def __init__(
        self,
        chart: Chart,
        style_of: Callable[[SequencedBar], Style],
        settings: FrettingSettings,
        seed: int | None = None,
    ) -> None:
        self._chart = chart
        self._style_of = style_of
        self._settings = settings
        self._seed = seed
        self._frettings: dict[Style, Fretting] = {}
        self._paths: dict[int, _Path] = {}

    def fretting(self, style: Style) -> Fretting:
        """Return instrument, hand and request in a style.

        Raises:
            SettingsError: if the settings do not fit.
        """
        if style not in self._frettings:
            self._frettings[style] = self._settings.over(usual_fretting(style.chop))
        return self._frettings[style]

    @property
    def chords(self) -> tuple[FingeredChord, ...]:
        """Every chord of the form in the first path, as in `path`."""
        return self.path(0)

    @property
    def paths(self) -> tuple[tuple[FingeredChord, ...], ...]:
        """The path of each number; a chart with fewer has the last one again."""
        return tuple([self.path(number) for number in range(MOST_PATHS)])

    def path(self, number: int) -> tuple[FingeredChord, ...]:
        """Return every chord of the form in performance order, and the pickup into the next.

        A pickup that repeats has the shape of the first time.

        Args:
            number: the number of the path, from 0.

        Raises:
            ShapeError: if a chord cannot be held.
        """
        return self._path(number).chords

    def number_of(self, chorus: int) -> int:
        """Return the number of a chorus's path: the more energy, the higher, the first one 0."""
        return 0 if self._seed is None or chorus == 1 else _number_of(self._seed, chorus)

    def _path(self, number: int) -> _Path:
        if number not in self._paths:
            self._paths[number] = self._found(0 if self._settings.fixes_shapes else number)
        return self._paths[number]

    def _found(self, number: int) -> _Path:
        written = list(dict.fromkeys(each.written for each in self._played))
        shapes: dict[Fretting, Iterator[Shape]] = {}
        for fretting in dict.fromkeys(each.fretting for each in written):
            chords = tuple(each.chord for each in written if each.fretting == fretting)
            asked = fretting.instrument, fretting.hand, chords, fretting.request
            paths = fingering_paths(*asked) if number else (fingering_path(*asked),)
            shapes[fretting] = iter(paths[min(number, len(paths) - 1)].shapes)
        found = {each: next(shapes[each.fretting]) for each in written}
        if number:
            found |= self._walks(found, number)
        return _Path(
            tuple(
                FingeredChord(sequenced, span, fingered.chord, found[fingered], fingered.fretting)
                for sequenced, span, fingered in self._played
            )
        )

    @cached_property
    def _played(self) -> tuple[_Played, ...]:
        closing = once_round(self._chart, last=False)[-1]
        own = closing.joined.own if closing.joined else len(closing.bar.chords)
        played = [
            each for sequenced in once_round(self._chart) for each in self._chords_of(sequenced)
        ]
        return (*played, *(each for each in self._chords_of(closing) if each.span >= own))

    def _chords_of(self, sequenced: SequencedBar) -> Iterator[_Played]:
        """Yield the chords of a bar as they are played."""
        fretting = self.fretting(self._style_of(sequenced))
        for span, each in enumerate(sequenced.bar.chords):
            if each.chord:
                chord = as_played(each.chord, fretting.adds)
                yield _Played(sequenced, span, _Chord(_place(sequenced, span), chord, fretting))

    def _walks(self, found: dict[_Chord, Shape], number: int) -> dict[_Chord, Shape]:
        """Return the neighbouring inversions of every second bar of a chord that lasts."""
        walked: dict[_Chord, Shape] = {}
        for before, after in pairwise(self._played):
            fingered, fretting = after.written, after.written.fretting
            if _lasts(before, after) and before.written not in walked:
                asked = fretting.instrument, fretting.hand, fingered.chord, fretting.request
                if self._style_of(after.sequenced).chop.walks:
                    walked[fingered] = neighbour(*asked, number, found[fingered])
        return walked

    def keys_of(
        self, sequenced: SequencedBar, span: int, chord: Chord, chorus: int = 1
    ) -> tuple[int, ...]:
        """Return the MIDI keys of a chord in a bar.

        Args:
            sequenced: the bar.
            span: the chord's index in the bar, from 0; -1 for the last chord of an ending.
            chord: the chord as written.
            chorus: the chorus of the bar, from 1.
        """
        number = self.number_of(chorus)
        path = self._path(number)
        fretting = self.fretting(self._style_of(sequenced))
        played = as_played(chord, fretting.adds)
        fingered = path.by_place.get(_place(sequenced, span))
        if fingered is None or (fingered.chord, fingered.fretting) != (played, fretting):
            fingered = path.elsewhere.get((played, fretting))
        if fingered is None:
            fingered = _nearest(path, sequenced, played, fretting)
            path.elsewhere[played, fretting] = fingered
        return fingered.keys


class _Path:
    """A path with its chords by their places.

    Attributes:
        chords: in performance order.
        by_place: the chord at each place of the form.
        elsewhere: a chord by its name and fretting.
    """

    def __init__(self, chords: tuple[FingeredChord, ...]) -> None:
        self.chords = chords
        self.by_place = {_place(each.sequenced, each.span): each for each in reversed(chords)}
        self.elsewhere = {(each.chord, each.fretting): each for each in reversed(chords)}


def _nearest(
    path: _Path, sequenced: SequencedBar, chord: Chord, fretting: Fretting
) -> FingeredChord:
    """Return the shape nearest the path's start of a chord that is not in the chart."""
    instrument, hand, settings = fretting.instrument, fretting.hand, fretting.request
    start = next((each.shape for each in path.chords if each.fretting == fretting), None)
    shape = min(
        candidates(instrument, hand, chord, settings),
        key=lambda each: each.total + (move_cost(instrument, start, each) if start else 0.0),
    )
    return FingeredChord(sequenced, -1, chord, shape, fretting)


def _lasts(before: _Played, after: _Played) -> bool:
    """Whether a chord fills a bar as written and the one before it, with no repeat between."""
    first, then = before.sequenced.origin, after.sequenced.origin
    return (
        (before.written.chord, before.written.fretting)
        == (after.written.chord, after.written.fretting)
        and len(before.sequenced.bar.chords) == len(after.sequenced.bar.chords) == 1
        and first is not None
        and then is not None
        and (first.form_index, first.index + 1, first.written + 1)
        == (then.form_index, then.index, then.written)
    )


@lru_cache(64)
def _number_of(seed: int, chorus: int) -> int:
    energy = energy_of(seed, chorus, is_last=False)  # "last time" changes no shape
    return min(int(energy / _HIGHEST_FROM * MOST_PATHS), MOST_PATHS - 1)


def _place(sequenced: SequencedBar, span: int) -> _Place:
    """Return the place of a bar's chord in the form."""
    bar, number = sequenced.source(span)
    return bar.origin, number
