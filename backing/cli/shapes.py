"""`backing shapes`: what a hand plays, for chords or for a whole chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from backing.cli import options
from backing.cli.fretting import Fretting, Left
from backing.cli.groups import spread

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from backing.fretboard.diagram import Diagram
    from backing.fretboard.fretting import FrettingWish
    from backing.fretboard.instrument import Instrument
    from backing.fretboard.shapes import Shape
    from backing.harmony.chord import Chord

EXAMPLE = "backing shapes G F#7 Bb --reach 70"


@spread
def run(
    what: Annotated[
        list[str], typer.Argument(metavar="CHORD...", help="Chords, or one chart file; - is input.")
    ],
    *,
    style: options.Style = None,
    key: options.Key,
    fretting: Fretting,
    most: Annotated[
        str, typer.Option("--max", metavar="N", help="Most shapes of each chord.")
    ] = "6",
    left: Left = False,
    svg: Annotated[
        str | None, typer.Option(metavar="DIR", help="Write drawings into this folder.")
    ] = None,
    force: options.Force = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Show shapes that a hand can play, for chords or a whole chart."""
    import shutil

    from backing.cli.values import whole_number
    from backing.errors import SettingsError
    from backing.fretboard.diagram import Diagram, side_by_side
    from backing.fretboard.diagram import remarks as remarks_on

    wish = fretting.request()
    count = whole_number("--max", most)
    if count < 1:
        raise SettingsError(f"--max {count}: at least one shape is shown")
    if _is_chart(what):
        rows = list(_of_chart(what[0], style, key, wish))
    else:
        if style or key.moves:
            raise SettingsError(
                "--style, --key and --transpose are for charts: write the chords you want"
            )
        rows = list(_of_chords(what, wish, count))
    if not rows:
        raise SettingsError(f"{what[0]} has no chords: there is no shape to show")
    diagrams = [
        Diagram(str(row.chord), row.shape, (*remarks_on(row.shape), *row.where), left)
        for row in rows
    ]
    if svg is not None:
        _write(svg, diagrams, _inputs(what, wish), force=force)
    if as_json:
        _print_json(rows)
    else:
        width = min(80, shutil.get_terminal_size().columns)
        print(*side_by_side(diagrams, width), sep="\n")


class _Row(NamedTuple):
    """A shape to be shown.

    Attributes:
        chord: as it is played.
        shape: how it is held.
        instrument: on what.
        bars: where it is used in a chart, counted from 1 through the form; 0 is the pickup.
    """

    chord: Chord
    shape: Shape
    instrument: Instrument
    bars: tuple[int, ...] = ()

    @property
    def where(self) -> list[str]:
        """The bars as short lines."""
        return _wrapped(self.bars) if self.bars else []


def _is_chart(what: list[str]) -> bool:
    """Whether one chart is meant; what reads as a chord is one, even if a file is called so."""
    from backing.errors import SymbolError
    from backing.harmony.chord import read_chord
    from backing.reading import is_there

    if len(what) != 1:
        return False
    try:
        read_chord(what[0])
    except SymbolError:
        return what[0] == "-" or what[0].endswith(".chart") or is_there(what[0])
    return False


def _of_chords(symbols: list[str], wish: FrettingWish, most: int) -> Iterator[_Row]:
    from backing.errors import SettingsError, SymbolError
    from backing.fretboard.shapes import shapes
    from backing.fretboard.voices import as_played
    from backing.harmony.chord import read_chord

    asked = wish.over()
    for symbol in symbols:
        try:
            chord = as_played(read_chord(symbol), asked.adds)
        except SymbolError as error:
            raise SettingsError(str(error)) from None
        for shape in shapes(asked.instrument, asked.hand, chord, asked.wish)[:most]:
            yield _Row(chord, shape, asked.instrument)


def _of_chart(
    source: str, style: str | None, key: options.Key, wish: FrettingWish
) -> Iterator[_Row]:
    """Yield each different shape of a chart in the order of the sequence, and its bars."""
    from backing.chart.read import load_chart
    from backing.chart.sequence import once_round
    from backing.performance import Performance, Settings

    chart = load_chart(source)
    if key.moves:
        chart = key.applied(chart)
    numbers, number = {}, 0
    for sequenced in once_round(chart):
        number += not sequenced.bar.pickup
        numbers[sequenced.origin] = number
    way = Performance(chart, Settings(style=style, fretting=wish)).voicings.way
    rows: dict[tuple[Chord, Shape, Instrument], dict[int, None]] = {}
    for held in way:
        bars = rows.setdefault((held.chord, held.shape, held.fretting.instrument), {})
        bars[numbers[held.sequenced.origin]] = None
    for (chord, shape, instrument), bars in rows.items():
        yield _Row(chord, shape, instrument, tuple(bars))


def _wrapped(numbers: Sequence[int]) -> list[str]:
    """Return the bars as short lines; 0 is the pickup."""
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


def _inputs(what: list[str], wish: FrettingWish) -> list[Path]:
    """Return the files that are read."""
    from pathlib import Path

    from backing.fretboard.instrument import instrument_file

    charts = [Path(what[0])] if _is_chart(what) else []
    return [*charts, instrument_file(wish.instrument)] if wish.instrument else charts


def _write(folder: str, diagrams: list[Diagram], inputs: list[Path], *, force: bool) -> None:
    """Write one SVG file for each diagram, named by its chord and its frets."""
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
    """Return a name that every file system takes: F# is Fsharp, C/E is C-over-E."""
    chord = diagram.title.replace("#", "sharp").replace("/", "-over-")
    kept = "".join(sign if sign.isalnum() or sign == "-" else "-" for sign in chord)
    return f"{kept}-{diagram.shape}.svg"


def _print_json(rows: list[_Row]) -> None:
    import json

    found = [
        {
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
