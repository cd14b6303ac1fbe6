"""What a page shows of a chart: the form as written in the key that sounds, and its shapes."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.chart.transpose import by_semitones
from backing.errors import BackingError
from backing.fretboard.diagram import Diagram, svg
from backing.fretboard.fretting import AS_THE_STYLE, FrettingSettings
from backing.harmony.numbers import letter_text, number_text, roman_text
from backing.harmony.signs import NO_CHORD
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.voicing import FingeredChord
    from backing.chart.model import Chart
    from backing.chart.sequence import ChordPlace
    from backing.fretboard.shape import Shape
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key

NAMES: dict[str, Callable[[Chord, Key], str]] = {
    "letters": letter_text,
    "numbers": number_text,
    "roman": roman_text,
}
NO_INSTRUMENT, THE_BAND = "none", "band"

_NAME_PX = 38
"""The height of a drawing's own name, which is cut off: the chord stands below it."""


@dataclass(frozen=True, slots=True)
class View:
    """How a page wishes to see a chart.

    Attributes:
        names: one of `NAMES`.
        shapes: whether those that the chop plays stand above the chords.
        left: whether shapes are drawn for a left hand.
    """

    names: str = "letters"
    shapes: bool = False
    left: bool = False


@dataclass(frozen=True, slots=True)
class Shown:
    """What is to be seen by all pages.

    Attributes:
        chart: the chart as written.
        semitones: how much higher it sounds.
        style: a groove for it, or None for its own.
        fretting: what is asked of the band's shapes.
    """

    chart: Chart
    semitones: int = 0
    style: str | None = None
    fretting: FrettingSettings = AS_THE_STYLE


@dataclass(frozen=True, slots=True)
class Drawing:
    """A shape that is drawn.

    Attributes:
        svg: the drawing, without the name of its chord.
        frets: its frets, string by string.
        label: the name of its chord.
        keys: the MIDI keys that sound.
    """

    svg: str
    frets: str
    label: str
    keys: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Shapes:
    """The shapes of a chart.

    Attributes:
        drawings: each different one, in the order in which they are played first.
        places: where in the chart each of them stands; a bar has those of its first time round.
        fault: why there are none, or None.
    """

    drawings: tuple[Drawing, ...] = ()
    places: dict[ChordPlace, Drawing] = field(default_factory=dict)
    fault: str | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """A chart as a page shows it.

    Attributes:
        chart: the chart in the key that sounds, spelled for reading.
        view: how the page wishes to see it.
        instrument: what its shapes are for: an instrument, the band's, or none.
        shapes: its shapes.
    """

    chart: Chart
    view: View
    instrument: str
    shapes: Shapes

    def spelled(self, chord: Chord | None, key: Key) -> str:
        """Return a chord of a part in a key as text."""
        return NAMES[self.view.names](chord, key) if chord else NO_CHORD


@lru_cache(16)
def sheet(what: Shown, view: View) -> Sheet:
    """Return a chart as a page sees it."""
    sounding = by_semitones(what.chart, what.semitones)
    instrument = (what.fretting.instrument or THE_BAND) if view.shapes else NO_INSTRUMENT
    shapes = _shapes(sounding, what, view) if view.shapes else Shapes()
    return Sheet(sounding.plain(), view, instrument, shapes)


def _shapes(chart: Chart, what: Shown, view: View) -> Shapes:
    try:
        way = shapes_of(chart, what.style, what.fretting)
    except BackingError as error:
        return Shapes(fault=str(error))
    drawings: dict[tuple[Chord, Shape], Drawing] = {}
    places: dict[ChordPlace, Drawing] = {}
    for held in way:
        if held.place is None or held.place in places:  # the first time round is shown
            continue
        drawn = held.chord, held.shape
        drawings[drawn] = places[held.place] = drawings.get(drawn) or _drawing(held, view)
    return Shapes(tuple(drawings.values()), places)


def _drawing(held: FingeredChord, view: View) -> Drawing:
    name = str(held.chord.plain())
    drawn = svg(Diagram(name, held.shape, (), view.left))
    return Drawing(_without_name(drawn), str(held.shape), name, held.keys)


def _without_name(drawn: str) -> str:
    """Return a drawing cut at its top: the chord's name stands below it."""

    def cut(box: re.Match[str]) -> str:
        left, top, width, height = map(float, box[1].split())
        return f'viewBox="{left:g} {top + _NAME_PX:g} {width:g} {height - _NAME_PX - 8:g}"'

    return re.sub('viewBox="([^"]+)"', cut, drawn, count=1)


def shapes_of(
    chart: Chart, style: str | None, fretting: FrettingSettings
) -> tuple[FingeredChord, ...]:
    """Return how the chords of a form are held, in playing order: what the band's chop plays.

    Args:
        chart: the chart in the key that sounds.
        style: a groove for the chart, or None for its own.
        fretting: what is asked of them, over what the style has.

    Raises:
        BackingError: when there is no such instrument, or it cannot hold one of the chords.
    """
    settings = Settings(style=style, called=frozenset(Player), fretting=fretting)
    return Performance(chart, settings).voicings.way
