"""`backing convert`: other people's notation in, and ours out."""

from __future__ import annotations

from typing import Annotated

import typer

EXAMPLE = "backing convert tunes.abc tunes/"


def run(
    source: Annotated[
        str,
        typer.Argument(metavar="IN", help="An .abc, .musicxml, .xml, .mxl or .chart file."),
    ],
    target: Annotated[
        str,
        typer.Argument(
            metavar="OUT", help="A .chart, .abc, .musicxml or .mxl file, or a folder for charts."
        ),
    ],
    tune: Annotated[
        str | None, typer.Option("--tune", metavar="N", help="Only the Nth tune of the file.")
    ] = None,
    harmonise: Annotated[
        bool,
        typer.Option("--harmonise", help="Give a tune without chords a plain harmony of its key."),
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace files that are there.")] = False,
) -> None:
    """Convert tunes between ABC, MusicXML and charts, with their melody.

    A chart's melody is written beside it, into a file that ends in .melody.
    """
    import sys

    from backing.cli.conversion import Wishes, convert_all
    from backing.cli.values import whole_number

    number = whole_number("--tune", tune) if tune else None
    wishes = Wishes(source, target, number, harmonise=harmonise, force=force)
    if not convert_all(wishes):
        sys.exit(2)
