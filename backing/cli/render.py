"""`backing render`: charts become MIDI or sound files."""

from __future__ import annotations

from typing import Annotated

import typer

from backing.cli import options

EXAMPLE = "backing render demos/quarry-hill.chart -o quarry-hill.mp3 --midi"


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
            help="MIDI file; sound: .wav .flac .mp3 .ogg; or a folder; - is output. [CHART.mid]",
        ),
    ] = None,
    style: options.Style = None,
    tempo: options.Tempo = None,
    key: options.Key = None,
    transpose: Annotated[
        str, typer.Option(metavar="N", help="Play N semitones higher, or lower for -N.")
    ] = "0",
    choruses: Annotated[
        str, typer.Option("--choruses", "-n", metavar="N", help="Times round the form.")
    ] = "3",
    seed: options.Seed = options.SEED,
    count_in: options.CountIn = None,
    looseness: options.Looseness = options.LOOSENESS,
    only: Annotated[
        str | None, typer.Option(metavar="PLAYERS", help="Who plays, such as bass,drums.")
    ] = None,
    without: options.Without = None,
    called: options.With = None,
    lead: options.Lead = options.LEAD,
    lead_octave: options.LeadOctave = False,
    instrument: options.Instrument = None,
    level: options.Level = None,
    reach: options.Reach = options.REACH,
    strings: options.Strings = None,
    frets: options.Frets = None,
    capo: options.Capo = options.CAPO,
    no_barre: options.NoBarre = False,
    sound_font: options.SoundFont = None,
    stems: Annotated[
        str | None, typer.Option(metavar="DIR", help="A sound file of each player, too.")
    ] = None,
    midi: Annotated[
        bool, typer.Option("--midi", help="Write the MIDI file beside a recording, too.")
    ] = False,
    mono: options.Mono = False,
    fade: options.Fade = options.FADE,
    ending: Annotated[
        str | None,
        typer.Option("--format", metavar="NAME", help="mid, wav, flac, mp3, ogg, in folders."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that are there.")] = False,
) -> None:
    """Render charts to MIDI or sound files: bass, chop, drums, and the melody if any."""
    from backing.cli.jobs import Job, render_all
    from backing.cli.numbers import whole_number
    from backing.cli.targets import targets
    from backing.errors import SettingsError

    semitones = whole_number("--transpose", transpose)
    if key and semitones:
        raise SettingsError("--key and --transpose exclude each other: choose one")
    settings = options.settings(
        style=style,
        choruses=choruses,
        seed=seed,
        count_in=count_in,
        looseness=looseness,
        only=only,
        without=without,
        called=called,
        lead=lead,
        lead_octave=lead_octave,
        fretted=options.fretting(
            instrument=instrument,
            level=level,
            reach=reach,
            strings=strings,
            frets=frets,
            capo=capo,
            no_barre=no_barre,
        ),
    )
    at_tempo = options.tempo_of(tempo)
    wish = options.sound(sound_font, stems=stems, mono=mono, fade=fade, midi=midi)
    render_all(
        [
            Job(source, target, settings, key, semitones, at_tempo, force=force, sound=wish)
            for source, target in targets(charts, output, ending)
        ]
    )
