"""`backing convert`: convert tunes between notations."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from backing.cli import options
from backing.cli.groups import spread

EXAMPLE = "backing convert tunes.abc tunes/"


@spread
def run(
    sources: Annotated[
        list[str],
        typer.Argument(
            metavar="IN...",
            help="Files: .abc, .musicxml, .xml, .mxl, .chart; or folders of them, or sets.",
        ),
    ],
    target: Annotated[
        str,
        typer.Argument(metavar="OUT", help="File: .chart, .abc, .musicxml or .mxl; or a folder."),
    ],
    ending: Annotated[
        str,
        typer.Option(
            "--format", metavar="NAME", help="Files in a folder: chart, abc, musicxml, mxl."
        ),
    ] = "chart",
    tune: Annotated[
        str | None,
        typer.Option("--tune", metavar="N", help="Convert only the Nth tune of the file."),
    ] = None,
    harmonise: Annotated[
        bool,
        typer.Option("--harmonise", help="Add plain chords to tunes without chords."),
    ] = False,
    force: options.Force = False,
) -> None:
    """Convert tunes between ABC, MusicXML and charts, with their melody.

    A chart's melody is written beside it, into a file that ends in .melody.
    """
    from backing.cli import values
    from backing.cli.charts import charts_of
    from backing.cli.conversion import Request, convert_all
    from backing.out.tunes import READ, WRITTEN

    formats = [each.removeprefix(".") for each in WRITTEN]
    request = Request(
        charts_of(sources, READ),
        target,
        f".{values.one_of('--format', ending, formats)}",
        values.whole_number("--tune", tune, None),
        harmonise=harmonise,
        force=force,
    )
    if not convert_all(request):
        sys.exit(2)
