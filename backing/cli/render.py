"""`backing render`: write charts as MIDI or sound files."""

from __future__ import annotations

from typing import Annotated

import typer

from backing.cli import options
from backing.cli.charts import Charts
from backing.cli.fretting import Fretting
from backing.cli.groups import spread
from backing.cli.recordings import Recordings

EXAMPLE = "backing render demos/quarry-hill.chart -o quarry-hill.mp3 --midi"


@spread
def run(
    charts: Charts,
    *,
    output: Annotated[
        str | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="File: .mid, .wav, .flac, .mp3, .ogg; or a folder; or - for a pipe. [CHART.mid]",
        ),
    ] = None,
    tempo_and_key: options.TempoAndKey,
    take: options.Take,
    fretting: Fretting,
    sound: Recordings,
    ending: Annotated[
        str | None,
        typer.Option(
            "--format", metavar="NAME", help="Files in a folder: mid, wav, flac, mp3 or ogg."
        ),
    ] = None,
    force: options.Force = False,
) -> None:
    """Render charts to MIDI or sound files: bass, chop, drums, and the melody of a tune."""
    from backing.cli.jobs import Job, render_all
    from backing.cli.targets import targets

    settings = take.settings(fretting.request())
    render_all(
        [
            Job(source, target, settings, tempo_and_key, sound, force=force)
            for source, target in targets(charts, output, ending)
        ]
    )
