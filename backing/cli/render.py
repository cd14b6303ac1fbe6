"""`backing render`: charts become MIDI files."""

from __future__ import annotations

from typing import Annotated

import typer

EXAMPLE = "backing render demos/quarry-hill.chart -o quarry-hill.mid"


def run(
    charts: Annotated[
        list[str],
        typer.Argument(
            metavar="CHART...", help="Chart files, or folders of them; - is standard input."
        ),
    ],
    output: Annotated[
        str | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="MIDI file, or a folder for several charts; - is standard output. [CHART.mid]",
        ),
    ] = None,
    style: Annotated[
        str | None,
        typer.Option("--style", "-s", metavar="NAME", help="Groove; see: backing styles."),
    ] = None,
    tempo: Annotated[
        str | None,
        typer.Option("--tempo", "-t", metavar="BPM", help="Quarter notes a minute, or half=116."),
    ] = None,
    key: Annotated[
        str | None, typer.Option("--key", "-k", metavar="KEY", help="Play in this key.")
    ] = None,
    transpose: Annotated[
        str, typer.Option(metavar="N", help="Play N semitones higher, or lower for -N.")
    ] = "0",
    choruses: Annotated[
        str, typer.Option("--choruses", "-n", metavar="N", help="Times round the form.")
    ] = "3",
    seed: Annotated[str, typer.Option(metavar="N", help="Another number is another take.")] = "1",
    count_in: Annotated[
        str | None, typer.Option(metavar="BARS", help="Bars of count-in. [as suits the tempo]")
    ] = None,
    looseness: Annotated[
        str,
        typer.Option(metavar="X", help="0 is exactly on the grid, 1 as loose as a good section."),
    ] = "1.0",
    only: Annotated[
        str | None, typer.Option(metavar="PLAYERS", help="Who plays, such as bass,drums.")
    ] = None,
    without: Annotated[
        str | None, typer.Option(metavar="PLAYERS", help="Who is left out, such as chop.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that are there.")] = False,
) -> None:
    """Render charts to MIDI files with bass, chop and drums."""
    from backing.chart.fields import read_tempo
    from backing.cli.jobs import Job, players_of, render_all, targets
    from backing.cli.numbers import number, whole_number
    from backing.errors import SettingsError, SymbolError
    from backing.performance import Settings
    from backing.style.library import find_style

    semitones = whole_number("--transpose", transpose)
    if key and semitones:
        raise SettingsError("--key and --transpose exclude each other: choose one")
    try:
        bpm = read_tempo(tempo).quarter_bpm if tempo else None
    except SymbolError as error:
        raise SettingsError(str(error)) from None
    if style:
        find_style(style)
    settings = Settings(
        style=style,
        bpm=bpm,
        choruses=whole_number("--choruses", choruses),
        seed=whole_number("--seed", seed),
        count_in=whole_number("--count-in", count_in) if count_in else None,
        looseness=number("--looseness", looseness),
        players=players_of(only, without),
    )
    render_all(
        [
            Job(source, target, settings, key, semitones, force=force)
            for source, target in targets(charts, output)
        ]
    )
