"""`backing pack`: what a student takes home, as a folder or one file."""

from __future__ import annotations

from typing import Annotated

import typer

from backing.cli import options

EXAMPLE = "backing pack demos/quarry-hill.chart -o quarry-hill/ --tempi 120,160,200"


def run(
    chart: Annotated[str, typer.Argument(metavar="CHART", help="Chart file, or a folder of them.")],
    output: Annotated[
        str, typer.Option("--output", "-o", metavar="DIR", help="Folder, or a file ending in .zip.")
    ],
    tempi: Annotated[
        str | None, typer.Option(metavar="A,B,...", help="Tempi. [60 to 100 percent]")
    ] = None,
    keys: Annotated[str | None, typer.Option(metavar="K,L,...", help="Keys. [the chart's]")] = None,
    minus: Annotated[
        str, typer.Option(metavar="PLAYERS", help="Also without each of these, or none.")
    ] = "chop,lead",
    parts: Annotated[
        str | None, typer.Option(metavar="A,B,...", help="Parts to loop, or none. [all]")
    ] = None,
    ending: Annotated[
        str, typer.Option("--format", metavar="NAME", help="mp3, ogg, flac or wav.")
    ] = "mp3",
    style: options.Style = None,
    choruses: Annotated[
        str, typer.Option("--choruses", "-n", metavar="N", help="Times round the whole tune.")
    ] = "2",
    seed: options.Seed = options.SEED,
    count_in: options.CountIn = None,
    looseness: options.Looseness = options.LOOSENESS,
    called: options.With = None,
    instrument: options.Instrument = None,
    level: options.Level = None,
    reach: options.Reach = options.REACH,
    strings: options.Strings = None,
    frets: options.Frets = None,
    capo: options.Capo = options.CAPO,
    no_barre: options.NoBarre = False,
    left: Annotated[bool, typer.Option("--left", help="Shapes for a left hand.")] = False,
    sound_font: options.SoundFont = None,
    mono: options.Mono = False,
    processes: Annotated[str, typer.Option(metavar="N", help="Files made at the same time.")] = "2",
    list_jobs: Annotated[
        bool, typer.Option("--list-jobs", help="Print a command for each file, and make none.")
    ] = False,
    job: Annotated[
        str | None, typer.Option(metavar="FILE", help="Make this file of the pack alone.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that are there.")] = False,
) -> None:
    """Make a practice pack: sheet, MIDI, recordings at several tempi, loops, a page."""
    from backing.cli import pack_options, packing
    from backing.packs.wish import PackWish

    said = {
        "--tempi": tempi,
        "--keys": keys,
        "--minus": minus,
        "--parts": parts,
        "--format": ending,
        "--style": style,
        "--choruses": choruses,
        "--seed": seed,
        "--count-in": count_in,
        "--looseness": looseness,
        "--with": called,
        "--instrument": instrument,
        "--level": level,
        "--reach": reach,
        "--strings": strings,
        "--frets": frets,
        "--capo": capo,
        "--sound-font": sound_font,
    }
    flags = {"--mono": mono, "--no-barre": no_barre, "--left": left}
    wish = PackWish(
        settings=options.settings(
            style=style,
            choruses=choruses,
            seed=seed,
            count_in=count_in,
            looseness=looseness,
            called=called,
            fretted=options.fretting(
                instrument=instrument,
                level=level,
                reach=reach,
                strings=strings,
                frets=frets,
                capo=capo,
                no_barre=no_barre,
            ),
        ),
        tempi=options.tempi_of(tempi),
        keys=pack_options.keys_of(keys),
        parts=pack_options.parts_of(parts),
        minus=pack_options.minus_of(minus),
        ending=pack_options.ending_of(ending),
        font=pack_options.font_of(sound_font),
        mono=mono,
        left=left,
    )
    words = [word for name, text in said.items() if text is not None for word in (name, text)]
    order = packing.Order(
        chart,
        output,
        wish,
        pack_options.processes_of(processes),
        force=force,
        words=(*words, *(flag for flag, wished in flags.items() if wished)),
    )
    if list_jobs:
        packing.print_jobs(order)
    elif job is not None:
        packing.make_one(order, job)
    else:
        packing.make_all(order)
