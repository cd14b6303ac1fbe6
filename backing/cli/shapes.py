"""`backing shapes`: show the shapes of chords, or of whole charts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from backing.cli import options
from backing.cli.charts import STANDARD_INPUT, SUFFIX, charts_of, for_each, is_set
from backing.cli.fretting import Fretting, Left
from backing.cli.groups import spread

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from backing.fretboard.diagram import Diagram
    from backing.fretboard.hand import Shape
    from backing.fretboard.instrument import Instrument
    from backing.fretboard.request import FrettingSettings
    from backing.harmony.chord import Chord

EXAMPLE = "backing shapes G F#7 Bb --reach 70"


@spread
def run(
    what: Annotated[
        list[str],
        typer.Argument(
            metavar="CHORD...", help="Chords; or chart files, folders of them, or sets."
        ),
    ],
    *,
    style: options.Style = None,
    key: options.Key,
    fretting: Fretting,
    most: Annotated[
        str, typer.Option("--max", metavar="N", help="Show at most N shapes of each chord.")
    ] = "6",
    left: Left = False,
    svg: Annotated[
        str | None,
        typer.Option(metavar="DIR", help="Write a drawing of each shape into this folder."),
    ] = None,
    force: options.Force = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the shapes as JSON.")] = False,
) -> None:
    """Show shapes that a hand can play, for chords or whole charts."""
    from backing.cli.values import whole_number
    from backing.errors import SettingsError

    request = fretting.request()
    count = whole_number("--max", most)
    if count < 1:
        raise SettingsError(f"--max {count}: write 1 or more")
    sources = _charts(what)
    if not sources and (style or key.moves):
        raise SettingsError(
            "--style, --key and --transpose are for charts: write the chords that you want"
        )
    rows: list[_Row] = [] if sources else list(_of_chords(what, request, count))

    def output() -> None:
        if svg is not None:
            drawings = [row.diagram(left=left) for row in rows]
            _write(svg, drawings, _inputs(sources, request), force=force)
        if as_json:
            _print_json(rows)
        else:
            _print(rows, left=left, headed=len(sources) > 1)

    for_each(sources, lambda source: rows.extend(_of_chart(source, style, key, request)), output)


class _Row(NamedTuple):
    """A shape to show.

    Attributes:
        chord: the chord as it is played.
        shape: the shape.
        instrument: the instrument.
        chart: the file of the chart, or None.
        bars: the bars of the chart with this shape, from 1 through the form; 0 is the pickup.
    """

    chord: Chord
    shape: Shape
    instrument: Instrument
    chart: str | None = None
    bars: tuple[int, ...] = ()

    def diagram(self, *, left: bool) -> Diagram:
        """Return the drawing of the shape, with its bars."""
        from backing.fretboard.diagram import Diagram, remarks

        where = _wrapped(self.bars) if self.bars else []
        return Diagram(str(self.chord), self.shape, (*remarks(self.shape), *where), left)


def _charts(what: list[str]) -> list[str]:
    """Return the charts that are named; an empty list for chords.

    A name that reads as a chord is a chord, even where a file has that name.

    Raises:
        SettingsError: when both chords and charts are named.
    """
    from backing.errors import SettingsError

    chords = [each for each in what if _is_chord(each)]
    files = [each for each in what if each not in chords and _is_file(each)]
    if files and len(files) < len(what):
        raise SettingsError(f"name chords or charts, not both: {files[0]} is a chart")
    return charts_of(files)


def _is_chord(text: str) -> bool:
    from backing.errors import SymbolError
    from backing.harmony.chord import read_chord

    try:
        read_chord(text)
    except SymbolError:
        return False
    return True


def _is_file(text: str) -> bool:
    from backing.reading import is_there

    return text == STANDARD_INPUT or text.endswith(SUFFIX) or is_set(text) or is_there(text)


def _of_chords(symbols: list[str], request: FrettingSettings, most: int) -> Iterator[_Row]:
    from backing.errors import SettingsError, SymbolError
    from backing.fretboard.shapes import shapes
    from backing.fretboard.voices import as_played
    from backing.harmony.chord import read_chord

    resolved = request.over()
    for symbol in symbols:
        try:
            chord = as_played(read_chord(symbol), resolved.adds)
        except SymbolError as error:
            raise SettingsError(str(error)) from None
        for shape in shapes(resolved.instrument, resolved.hand, chord, resolved.request)[:most]:
            yield _Row(chord, shape, resolved.instrument)


def _of_chart(
    source: str, style: str | None, key: options.Key, request: FrettingSettings
) -> Iterator[_Row]:
    """Yield each different shape of a chart in the order of the sequence, and its bars."""
    from backing.chart.read import load_chart
    from backing.chart.sequence import once_round
    from backing.errors import SettingsError
    from backing.performance.performance import Performance
    from backing.performance.settings import Settings

    chart = key.applied(load_chart(source))
    numbers, number = {}, 0
    for sequenced in once_round(chart):
        number += not sequenced.bar.pickup
        numbers[sequenced.origin] = number
    path = Performance(chart, Settings(style=style, fretting=request)).voicings.chords
    if not path:
        raise SettingsError("it has no chords: there is no shape to show")
    rows: dict[tuple[Chord, Shape, Instrument], dict[int, None]] = {}
    for fingered in path:
        bars = rows.setdefault((fingered.chord, fingered.shape, fingered.fretting.instrument), {})
        bars[numbers[fingered.sequenced.origin]] = None
    for (chord, shape, instrument), bars in rows.items():
        yield _Row(chord, shape, instrument, source, tuple(bars))


def _wrapped(numbers: Sequence[int]) -> list[str]:
    """Return the bars as lines of 16 characters, such as "bars 1-4, 7"; 0 is the pickup."""
    import textwrap

    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    names = [
        "pickup" if run == [0] else f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0])
        for run in runs
    ]
    word = "bar" if len(numbers) == 1 else "bars"
    return textwrap.wrap(f"{word} {', '.join(names)}", 16)


def _inputs(sources: list[str], request: FrettingSettings) -> list[Path]:
    """Return the files that are read and must not be overwritten."""
    from pathlib import Path

    from backing.fretboard.instrument import instrument_file

    charts = [Path(source) for source in sources]
    return [*charts, instrument_file(request.instrument)] if request.instrument else charts


def _write(folder: str, diagrams: list[Diagram], inputs: list[Path], *, force: bool) -> None:
    """Write an SVG file for each diagram, named after its chord and its frets."""
    from pathlib import Path

    from backing.fretboard.diagram import svg
    from backing.out.files import check_free, make_folder, write_file

    where = Path(folder)
    make_folder(where)
    files: dict[Path, Diagram] = {where / _file_name(each): each for each in diagrams}
    for path in files:
        check_free(path, force=force, inputs=inputs)
    for path, diagram in files.items():
        write_file(path, svg(diagram).encode(), force=force, inputs=inputs)


def _file_name(diagram: Diagram) -> str:
    """Return a file name that every system allows: F# is Fsharp, C/E is C-over-E."""
    chord = diagram.title.replace("#", "sharp").replace("/", "-over-")
    kept = "".join(sign if sign.isalnum() or sign == "-" else "-" for sign in chord)
    return f"{kept}-{diagram.shape}.svg"


def _print(rows: list[_Row], *, left: bool, headed: bool) -> None:
    """Print shapes side by side, those of each chart below its name."""
    import shutil
    from itertools import groupby

    from backing.fretboard.diagram import side_by_side

    width = min(80, shutil.get_terminal_size().columns)
    for chart, own in groupby(rows, lambda row: row.chart):
        if headed:
            print(f"{chart}:\n")
        print(*side_by_side([row.diagram(left=left) for row in own], width), sep="\n")


def _print_json(rows: list[_Row]) -> None:
    import json

    found = [
        {
            "chart": row.chart,
            "chord": str(row.chord),
            "instrument": row.instrument.name,
            "capo": row.instrument.capo,
            "frets": row.shape.frets,
            "fingers": row.shape.fingers,
            "keys": row.shape.keys(row.instrument),
            "span_mm": round(row.shape.span_mm, 1),
            "big_stretch": row.shape.big_stretch,
            "left_out": [str(degree) for degree in row.shape.left_out],
            "cost": round(row.shape.total, 2),
            "bars": row.bars,
        }
        for row in rows
    ]
    print(json.dumps({"shapes": found}))
