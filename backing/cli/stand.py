"""`backing stand`: serve the page on the music stand."""

from __future__ import annotations

from typing import Annotated

import typer

EXAMPLE = "backing stand demos"


def run(
    folder: Annotated[
        str, typer.Argument(metavar="FOLDER", help="Folder with your charts. [the current one]")
    ] = ".",
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the address; open no browser.")
    ] = False,
    http_port: Annotated[
        str | None, typer.Option(metavar="N", help="Port of the server; 0 for any free one. [8484]")
    ] = None,
    share: Annotated[
        bool, typer.Option("--share", help="Print a link for a tablet on the same network.")
    ] = False,
    share_on: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Share on this address of the computer."),
    ] = None,
    sound_font: Annotated[
        str | None,
        typer.Option(metavar="FILE", help="SoundFont 2 file to play with. [the installed one]"),
    ] = None,
) -> None:
    """Serve a page for the music stand: your charts, and the band in the browser."""
    from pathlib import Path

    from backing.cli.values import whole_number
    from backing.errors import SettingsError
    from backing.out.renderer import usual_sound_font
    from backing.stand.serve import Options, serve

    port = None if http_port is None else whole_number("--http-port", http_port)
    if port is not None and not 0 <= port <= 65535:
        raise SettingsError(f"--http-port {port}: a port is 0 to 65535")
    font = Path(sound_font) if sound_font else usual_sound_font()
    options = Options(port, not no_browser, share or share_on is not None, share_on)
    serve(Path(folder), font, options)
