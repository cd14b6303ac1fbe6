"""`backing sheet`: charts as sheets to read from."""

from __future__ import annotations

from typing import Annotated

import typer

from backing.cli import options

EXAMPLE = "backing sheet demos/quarry-hill.chart -o quarry-hill.pdf --key G"


def run(
    chart: Annotated[
        str, typer.Argument(metavar="CHART", help="Chart file, or a folder of them; - is input.")
    ],
    output: Annotated[
        str | None,
        typer.Option(
            "--output", "-o", metavar="FILE", help=".pdf or .svg; - is output. [CHART.pdf]"
        ),
    ] = None,
    key: Annotated[
        str | None, typer.Option("--key", "-k", metavar="KEY", help="Write it in this key.")
    ] = None,
    numbers: Annotated[bool, typer.Option("--numbers", help="Chords as numbers: 1 4 57.")] = False,
    roman: Annotated[bool, typer.Option("--roman", help="Chords as numerals: I IV V7.")] = False,
    paper: Annotated[str, typer.Option(metavar="NAME", help="a4 or letter.")] = "a4",
    large: Annotated[bool, typer.Option("--large", help="Large print.")] = False,
    shapes: Annotated[
        str, typer.Option(metavar="WHERE", help="Chord shapes below, above or none.")
    ] = "below",
    instrument: options.Instrument = None,
    level: options.Level = None,
    reach: options.Reach = options.REACH,
    strings: options.Strings = None,
    frets: options.Frets = None,
    capo: options.Capo = options.CAPO,
    no_barre: options.NoBarre = False,
    left: Annotated[bool, typer.Option("--left", help="Shapes for a left hand.")] = False,
    tempo: Annotated[
        str | None, typer.Option("--tempo", "-t", metavar="BPM", help="The goal. [the chart's]")
    ] = None,
    tempi: Annotated[
        str | None,
        typer.Option(metavar="A,B,...", help="To tick off, or none. [up to the goal]"),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
) -> None:
    """Write a chart as a sheet to read from, or a folder of them as a songbook."""
    from backing.cli import sheets

    wishes = sheets.wishes(
        key=key,
        numbers=numbers,
        roman=roman,
        paper=paper,
        large=large,
        shapes=shapes,
        fretting=options.fretting(
            instrument=instrument,
            level=level,
            reach=reach,
            strings=strings,
            frets=frets,
            capo=capo,
            no_barre=no_barre,
        ),
        left=left,
        tempo=tempo,
        tempi=tempi,
    )
    sheets.write(chart, output, wishes, force=force)
