"""`backing shapes`: what a hand plays, for chords or for a whole chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from backing.fretboard.diagram import Diagram
    from backing.fretboard.hand import Hand
    from backing.fretboard.instrument import Instrument
    from backing.fretboard.shapes import Shape, Wish
    from backing.harmony.chord import Chord

EXAMPLE = "backing shapes G F#7 Bb --reach 70"

_MOST = "6"


def run(
    what: Annotated[
        list[str], typer.Argument(metavar="CHORD...", help="Chords, or one chart file; - is input.")
    ],
    instrument: Annotated[
        str, typer.Option("--instrument", "-i", metavar="NAME", help="Or a file of your own.")
    ] = "mandolin",
    level: Annotated[str, typer.Option(metavar="LEVEL", help="easy, full or swing.")] = "full",
    reach: Annotated[
        str, typer.Option(metavar="MM", help="From first finger to fourth; a small hand 70.")
    ] = "100",
    strings: Annotated[str | None, typer.Option(metavar="N", help="Strings that sound.")] = None,
    frets: Annotated[
        str | None, typer.Option(metavar="LOW-HIGH", help="Where the fingers are, such as 1-7.")
    ] = None,
    capo: Annotated[str, typer.Option(metavar="FRET", help="Frets count from it.")] = "0",
    most: Annotated[str, typer.Option("--max", metavar="N", help="Shapes of each chord.")] = _MOST,
    open_strings: Annotated[bool, typer.Option("--open", help="Open strings may sound.")] = False,
    no_barre: Annotated[bool, typer.Option("--no-barre", help="One finger, one string.")] = False,
    rootless: Annotated[
        bool, typer.Option("--rootless", help="The root may be left to the bass.")
    ] = False,
    left: Annotated[bool, typer.Option("--left", help="Draw for a left hand.")] = False,
    svg: Annotated[
        str | None, typer.Option(metavar="DIR", help="Write drawings into this folder.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that are there.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Show shapes that a hand can play, for chords or a whole chart."""
    import shutil

    from backing.cli.numbers import number, whole_number
    from backing.errors import SettingsError
    from backing.fretboard.diagram import Diagram, side_by_side
    from backing.fretboard.diagram import remarks as remarks_on
    from backing.fretboard.hand import Hand
    from backing.fretboard.instrument import find_instrument
    from backing.fretboard.shapes import Wish

    neck = find_instrument(instrument, capo=whole_number("--capo", capo))
    lowest, highest = _range(frets)
    wish = Wish(
        level,
        rootless=rootless,
        strings=None if strings is None else whole_number("--strings", strings),
        lowest=lowest,
        highest=highest,
    )
    hand = Hand(number("--reach", reach), open_strings=open_strings, barre=not no_barre)
    count = whole_number("--max", most)
    if count < 1:
        raise SettingsError(f"--max {count}: at least one shape is shown")
    if _is_chart(what):
        rows = list(_of_chart(what[0], neck, hand, wish))
    else:
        rows = list(_of_chords(what, neck, hand, wish, count))
    if not rows:
        raise SettingsError(f"{what[0]} has no chords: there is no shape to show")
    diagrams = [
        Diagram(str(chord), shape, (*remarks_on(shape), *said), left) for chord, shape, said in rows
    ]
    if svg is not None:
        _write(svg, diagrams, force=force)
    if as_json:
        _print_json(neck, rows)
    else:
        width = min(80, shutil.get_terminal_size().columns)
        print(*side_by_side(diagrams, width), sep="\n")


_Row = tuple["Chord", "Shape", tuple[str, ...]]
"""A chord, a shape of it, and what is said about where it is used."""


def _is_chart(what: list[str]) -> bool:
    """Whether one chart is meant; what reads as a chord is one, even if a file is called so."""
    from pathlib import Path

    from backing.errors import SymbolError
    from backing.harmony.chord import read_chord

    if len(what) != 1:
        return False
    try:
        read_chord(what[0])
    except SymbolError:
        return what[0] == "-" or what[0].endswith(".chart") or Path(what[0]).is_file()
    return False


def _range(text: str | None) -> tuple[int, int | None]:
    """Read a range of frets such as 1-7."""
    import re

    from backing.errors import SettingsError

    if text is None:
        return 1, None
    match = re.fullmatch(r"([0-9]{1,2})-([0-9]{1,2})", text, re.ASCII)
    if not match:
        raise SettingsError(f"--frets {text}: write two frets, such as --frets 1-7")
    return int(match[1]), int(match[2])


def _of_chords(
    symbols: list[str], instrument: Instrument, hand: Hand, wish: Wish, most: int
) -> Iterator[_Row]:
    from backing.errors import SettingsError, SymbolError
    from backing.fretboard.shapes import shapes
    from backing.fretboard.voices import as_played
    from backing.harmony.chord import read_chord

    for symbol in symbols:
        try:
            chord = as_played(read_chord(symbol), wish.level)
        except SymbolError as error:
            raise SettingsError(str(error)) from None
        for shape in shapes(instrument, hand, chord, wish)[:most]:
            yield chord, shape, ()


def _of_chart(source: str, instrument: Instrument, hand: Hand, wish: Wish) -> Iterator[_Row]:
    """Yield each different shape of a chart in the order of the road, and its bars."""
    from backing.chart.form import once_round
    from backing.chart.read import load_chart
    from backing.fretboard.voices import as_played
    from backing.fretboard.way import way_through

    road = once_round(load_chart(source))
    number, where = 0, []
    for each in road:
        number += not each.bar.pickup
        spans = (span.chord for span in each.bar.chords if span.chord)
        where += [(number, as_played(chord, wish.level)) for chord in spans]
    way = way_through(instrument, hand, tuple(chord for _, chord in where), wish)
    bars: dict[tuple[Chord, Shape], list[int]] = {}
    for (bar, chord), shape in zip(where, way.shapes, strict=True):
        numbers = bars.setdefault((chord, shape), [])
        if bar not in numbers:
            numbers.append(bar)
    for (chord, shape), numbers in bars.items():
        yield chord, shape, tuple(_wrapped(numbers))


def _wrapped(numbers: list[int]) -> list[str]:
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


def _write(folder: str, diagrams: list[Diagram], *, force: bool) -> None:
    """Write one SVG file for each diagram, named by its chord and its frets."""
    from pathlib import Path

    from backing.errors import OutputError
    from backing.fretboard.diagram import svg
    from backing.out.files import check_free, write_file

    where = Path(folder)
    try:
        where.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{where} cannot be made a folder: {error.strerror}") from None
    files: dict[Path, Diagram] = {where / _file_name(each): each for each in diagrams}
    for path in files:
        check_free(path, force=force)
    for path, diagram in files.items():
        write_file(path, svg(diagram).encode(), force=force)


def _file_name(diagram: Diagram) -> str:
    """Return a name that every file system takes: F# is Fsharp, C/E is C-over-E."""
    chord = diagram.title.replace("#", "sharp").replace("/", "-over-")
    kept = "".join(sign if sign.isalnum() or sign == "-" else "-" for sign in chord)
    return f"{kept}-{diagram.shape}.svg"


def _print_json(instrument: Instrument, rows: list[_Row]) -> None:
    import json

    found = [
        {
            "chord": str(chord),
            "frets": shape.frets,
            "fingers": shape.fingers,
            "keys": shape.keys(instrument),
            "span_mm": round(shape.span_mm, 1),
            "big_stretch": shape.big_stretch,
            "left_out": [str(degree) for degree in shape.left_out],
            "cost": round(shape.total, 2),
            "where": " ".join(said),
        }
        for chord, shape, said in rows
    ]
    print(json.dumps({"instrument": instrument.name, "capo": instrument.capo, "shapes": found}))
