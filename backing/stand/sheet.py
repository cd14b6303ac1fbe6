"""The chart as a page shows it: the form as written, in the key that sounds."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from backing.chart.model import Bar
from backing.chart.sequence import unrolled
from backing.chart.transpose import by_semitones
from backing.errors import BackingError
from backing.fretboard.diagram import Diagram, svg
from backing.fretboard.fretting import AS_THE_STYLE, FrettingWish
from backing.harmony.numbers import letter_text, number_text, roman_text
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.stand.markup import tempo_markup

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.band.voicing import Held
    from backing.chart.model import Chart, Part
    from backing.chart.sequence import ChordPlace
    from backing.fretboard.shape import Shape
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key

BARS_A_LINE = 4
NAMES: dict[str, Callable[[Chord, Key], str]] = {
    "letters": letter_text,
    "numbers": number_text,
    "roman": roman_text,
}
NO_INSTRUMENT, THE_BAND = "none", "band"


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
    fretting: FrettingWish = AS_THE_STYLE


@lru_cache(16)
def sheet(what: Shown, view: View) -> dict[str, Any]:
    """Return a chart as a page sees it: header, parts, lines of at most four bars, shapes."""
    sounding = by_semitones(what.chart, what.semitones)
    shown = sounding.plain()
    shapes, places, fault = _shapes(sounding, what, view)
    return {
        "title": shown.title,
        "by": shown.by,
        "key": str(shown.key),
        "meter": str(shown.meter),
        "style": shown.style or "",
        "form": list(shown.order),
        "notes": list(shown.notes),
        "names": view.names,
        "instrument": (what.fretting.instrument or THE_BAND) if view.shapes else NO_INSTRUMENT,
        "left": view.left,
        "parts": [
            {
                "name": part.name,
                "key": str(part.key or shown.key),
                "meter": str(part.meter or shown.meter),
                "tempo": tempo_markup(part.tempo),
                "style": part.style or "",
                "bars": part.length(),
                "lines": list(_Lines(shown, part, view, places).lines()),
            }
            for part in shown.parts
        ],
        "shapes": shapes,
        "shapes_fault": fault,
    }


class _Lines:
    """The bars of a part in lines; a repeat and an ending begin one of their own."""

    def __init__(self, chart: Chart, part: Part, view: View, shapes: dict[ChordPlace, str]) -> None:
        self._part = part
        self._key = part.key or chart.key
        self._meter = part.meter or chart.meter
        self._spell = NAMES[view.names]
        self._shapes = shapes
        self._played = list(unrolled(part))
        self._number = 0
        self._before: Bar | None = None

    def lines(self) -> Iterator[list[dict[str, Any]]]:
        """Yield lines of cells."""
        plain: list[dict[str, Any]] = []
        for section in self._part.sections:
            if isinstance(section, Bar):
                plain.append(self._cell(section))
                continue
            pickup = plain if len(plain) == 1 and plain[0]["pickup"] else []
            yield from _rows([] if pickup else plain)
            plain = []
            self._before = None  # it is played behind the repeat's own end too
            cells = [self._cell(bar) for bar in section.bars]
            cells[0]["repeat_start"] = True
            cells[-1]["repeat_end"] = 0 if section.endings else section.times
            yield from _rows([*pickup, *cells])
            for ending in section.endings:
                self._before = section.bars[-1]
                cells = [self._cell(bar) for bar in ending.bars]
                cells[0]["ending"] = ",".join(map(str, ending.times))
                if ending is not section.endings[-1]:
                    cells[-1]["repeat_end"] = 1  # a sign; the endings tell how often
                yield from _rows(cells)
        yield from _rows(plain)

    def _cell(self, bar: Bar) -> dict[str, Any]:
        number, self._number = self._number, self._number + 1
        before, self._before = self._before, bar
        return {
            "bar": number,
            "played": [place for place, each in enumerate(self._played) if each == number],
            "chords": [
                {
                    "beat": span.tick / bar.meter.beat_ticks,
                    "text": self._spell(span.chord, self._key) if span.chord else "N.C.",
                    "shape": self._shapes.get((self._part.name, number, index)),
                }
                for index, span in enumerate(bar.chords)
            ],
            "repeat_start": False,
            "repeat_end": 0,
            "ending": None,
            "pickup": bar.pickup,
            "meter": str(bar.meter) if bar.meter != self._meter else None,
            "directions": [
                {"beat": each.tick / bar.meter.beat_ticks, "word": each.word}
                for each in bar.directions
            ],
            "same": before is not None and before.chords == bar.chords and not bar.directions,
        }


def _rows(cells: list[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    """Yield cells in lines of four; a pickup stands in its line over and above them."""
    start = 0
    while start < len(cells):
        end = start + BARS_A_LINE + cells[start]["pickup"]
        yield cells[start:end]
        start = end


def _shapes(
    chart: Chart, what: Shown, view: View
) -> tuple[dict[str, dict[str, Any]], dict[ChordPlace, str], str | None]:
    """Return drawings by number, which of them each chord has, and why there are none."""
    if not view.shapes:
        return {}, {}, None
    try:
        way = shapes_of(chart, what.style, what.fretting)
    except BackingError as error:
        return {}, {}, str(error)
    numbers: dict[tuple[Chord, Shape], str] = {}
    drawings: dict[str, dict[str, Any]] = {}
    where: dict[ChordPlace, str] = {}
    for held in way:
        place = held.place
        if place is None or place in where:  # the first time round is shown
            continue
        name = str(held.chord.plain())
        where[place] = number = numbers.setdefault((held.chord, held.shape), str(len(numbers) + 1))
        drawings[number] = {
            "svg": svg(Diagram(name, held.shape, (), view.left)),
            "frets": str(held.shape),
            "label": name,
            "keys": held.keys,
        }
    return drawings, where, None


def shapes_of(chart: Chart, style: str | None, fretting: FrettingWish) -> tuple[Held, ...]:
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
