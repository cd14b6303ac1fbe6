"""A chart as a client shows it: as written, in the sounding key, with its chord shapes."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.chart.transpose import by_semitones
from backing.errors import BackingError
from backing.fretboard.diagram import Diagram, svg
from backing.fretboard.request import AS_THE_STYLE, FrettingSettings
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
    from backing.fretboard.hand import Shape
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key

NAMES: dict[str, Callable[[Chord, Key], str]] = {
    "letters": letter_text,
    "numbers": number_text,
    "roman": roman_text,
}
NO_INSTRUMENT, THE_BAND = "none", "band"

_NAME_PX = 38
"""The height of the chord's name in a drawing; it is cut off, since the chart shows the name."""


@dataclass(frozen=True, slots=True)
class View:
    """How a client shows a chart.

    Attributes:
        names: one of `NAMES`.
        shapes: whether the shapes that the chop plays are shown above the chords.
        left: whether shapes are drawn for left-handed players.
    """

    names: str = "letters"
    shapes: bool = False
    left: bool = False


@dataclass(frozen=True, slots=True)
class SheetSource:
    """A chart and the settings that change its sheet, the same for all clients.

    Attributes:
        chart: the chart as written.
        semitones: how much higher it sounds.
        style: a groove in place of the chart's own, or None.
        fretting: the settings of the chord shapes.
    """

    chart: Chart
    semitones: int = 0
    style: str | None = None
    fretting: FrettingSettings = AS_THE_STYLE


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawn chord shape.

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
    """The chord shapes of a chart.

    Attributes:
        drawings: each different one, in the order in which they are first played.
        places: the drawing at each place of the chart, as first played there.
        fault: why there are none, or None.
    """

    drawings: tuple[Drawing, ...] = ()
    places: dict[ChordPlace, Drawing] = field(default_factory=dict)
    fault: str | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """A chart as a client shows it.

    Attributes:
        chart: the chart in the sounding key, spelled for reading.
        view: how the client shows it.
        instrument: an instrument with shapes, `THE_BAND` or `NO_INSTRUMENT`.
        shapes: its chord shapes.
    """

    chart: Chart
    view: View
    instrument: str
    shapes: Shapes

    def chord_name(self, chord: Chord | None, key: Key) -> str:
        """Return the name of a chord in a part of this key, in the client's kind of names."""
        return NAMES[self.view.names](chord, key) if chord else NO_CHORD


@lru_cache(16)
def sheet(source: SheetSource, view: View) -> Sheet:
    """Return a chart as a client shows it."""
    sounding = by_semitones(source.chart, source.semitones)
    instrument = (source.fretting.instrument or THE_BAND) if view.shapes else NO_INSTRUMENT
    shapes = _shapes(sounding, source, view) if view.shapes else Shapes()
    return Sheet(sounding.plain(), view, instrument, shapes)


def _shapes(chart: Chart, source: SheetSource, view: View) -> Shapes:
    try:
        fingered = fingered_chords(chart, source.style, source.fretting)
    except BackingError as error:
        return Shapes(fault=str(error))
    drawings: dict[tuple[Chord, Shape], Drawing] = {}
    places: dict[ChordPlace, Drawing] = {}
    for each in fingered:
        if each.place is None or each.place in places:  # a repeat may have another shape
            continue
        kind = each.chord, each.shape
        drawings[kind] = places[each.place] = drawings.get(kind) or _drawing(each, view)
    return Shapes(tuple(drawings.values()), places)


def _drawing(fingered: FingeredChord, view: View) -> Drawing:
    name = str(fingered.chord.plain())
    diagram = svg(Diagram(name, fingered.shape, (), view.left))
    return Drawing(_without_name(diagram), str(fingered.shape), name, fingered.keys)


def _without_name(diagram: str) -> str:
    """Return a diagram without the chord's name at its top."""

    def cropped(box: re.Match[str]) -> str:
        left, top, width, height = map(float, box[1].split())
        return f'viewBox="{left:g} {top + _NAME_PX:g} {width:g} {height - _NAME_PX - 8:g}"'

    return re.sub('viewBox="([^"]+)"', cropped, diagram, count=1)


def fingered_chords(
    chart: Chart, style: str | None, fretting: FrettingSettings
) -> tuple[FingeredChord, ...]:
    """Return the fingered chords that the chop plays in one chorus, in playing order.

    Args:
        chart: the chart in the sounding key.
        style: a groove in place of the chart's own, or None.
        fretting: settings that override the style's.

    Raises:
        BackingError: when there is no such instrument, or it has no shape for one of the chords.
    """
    settings = Settings(style=style, called=frozenset(Player), fretting=fretting)
    return Performance(chart, settings).voicings.chords
