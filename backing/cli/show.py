"""`backing show`: print charts on the terminal."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated

import typer

from backing.cli import options
from backing.cli.charts import Charts, charts_of, for_each
from backing.cli.fretting import Fretting
from backing.cli.groups import spread

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.band.voicing import FingeredChord
    from backing.chart.model import Chart
    from backing.chart.write import Spell
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.performance.settings import Settings

EXAMPLE = "backing show demos/quarry-hill.chart --key G --numbers"

_ROOM = "\ue000"
"""Fills the room that the shape of a chord needs behind the chord while bars are aligned."""

_LENGTH_BEHIND_ROOM = re.compile(rf"({_ROOM}+)(:[0-9/]+)")


@spread
def run(
    charts: Charts,
    *,
    key: options.Key,
    numbers: options.Numbers = False,
    roman: options.Roman = False,
    shapes: Annotated[
        bool, typer.Option("--shapes", help="Write the frets of each chord above it.")
    ] = False,
    melody: Annotated[
        bool, typer.Option("--melody", help="Write the melody below the chart.")
    ] = False,
    style: options.Style = None,
    fretting: Fretting,
) -> None:
    """Show charts, in any key, in letters or numbers, with the shapes of their chords."""
    from backing.chart.read import load_chart
    from backing.performance.settings import Settings
    from backing.scores.sidecar import load_tune

    spell = options.spelling(numbers=numbers, roman=roman)
    settings = Settings(style=style, fretting=fretting.request()) if shapes else None
    sources = charts_of(charts)

    def show(source: str) -> None:
        if source != sources[0]:
            print()
        chart = load_tune(source) if melody else load_chart(source)
        print(*_lines(chart, key, spell, settings, melody=melody), sep="\n")

    for_each(sources, show)


def _lines(
    chart: Chart, key: options.Key, spell: Spell, settings: Settings | None, *, melody: bool
) -> list[str]:
    """Return the lines of a chart; with settings, the shapes of its chords above them."""
    import shutil

    from backing.chart.write import chart_lines

    chart = key.applied(chart) if key.moves else chart
    shown = chart.plain() if key.moves else chart
    width = shutil.get_terminal_size().columns
    below = _melody(chart) if melody else []
    if not settings:
        return [*chart_lines(shown, spell=spell, width=width), *below]
    from backing.performance.performance import Performance

    path = Performance(chart, settings).voicings.chords
    above = _written_shapes(chart, path)
    room = max(map(len, above), default=0) + 1
    lines = chart_lines(shown, spell=_with_room(spell, room), width=width)
    return [*_with_shapes(lines, iter(above)), *_other_times(path), *below]


def _melody(chart: Chart) -> list[str]:
    """Return the lines of a chart's melody."""
    from backing.chart.melody_text import write_melody
    from backing.errors import SettingsError

    if not chart.melody:
        raise SettingsError("the chart has no line 'melody:': leave out --melody")
    return ["", *write_melody(chart.melody, chart).splitlines()]


def _with_room(spell: Spell, room: int) -> Spell:
    def spelled(chord: Chord, key: Key) -> str:
        return f"{spell(chord, key)}{_ROOM}".ljust(room, _ROOM)

    return spelled


def _written_shapes(chart: Chart, path: tuple[FingeredChord, ...]) -> list[str]:
    """Return each written chord's shape the first time it is played; "" if it never is."""
    found = {each.place: str(each.shape) for each in reversed(path)}
    return [
        found.get((part.name, place, number), "")
        for part in chart.parts
        for place, bar in enumerate(part.written())
        for number, span in enumerate(bar.chords)
        if span.chord
    ]


def _with_shapes(lines: list[str], shapes: Iterator[str]) -> Iterator[str]:
    for written in lines:
        line = _LENGTH_BEHIND_ROOM.sub(r"\2\1", written)
        places = [match.start() for match in re.finditer(rf"[^\s{_ROOM}]+{_ROOM}+", line)]
        if places:
            above = ""
            for place in places:
                above = above.ljust(place) + next(shapes)
            yield above.rstrip()
        yield line.replace(_ROOM, " ").rstrip()


def _other_times(path: tuple[FingeredChord, ...]) -> Iterator[str]:
    """Yield a line for each chord with another shape than the first time its bar is played."""
    from backing.chart.sequence import part_label

    first: dict[tuple[str, int, int] | None, str] = {}
    for chord in path:
        place, shape, origin = chord.place, str(chord.shape), chord.source[0].origin
        if origin and first.setdefault(place, shape) != shape:
            where = f"bar {origin.index + 1} as played" if origin.index >= 0 else "pickup"
            yield f"[{part_label(origin.part, origin.occurrence)}] {where}: {chord.chord} {shape}"
