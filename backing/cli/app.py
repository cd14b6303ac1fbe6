"""The list of commands; the module of a command is imported when it is called.

Help is plain text: typer's coloured boxes would slow its start and differ between terminals.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

if TYPE_CHECKING:
    from collections.abc import Mapping

COMMANDS: Mapping[str, str] = {
    "check": "Check charts: every fault; form, bars and length.",
    "show": "Show charts, in any key, in letters or numbers, with the shapes of their chords.",
    "shapes": "Show shapes that a hand can play, for chords or whole charts.",
    "sheet": "Write a chart as a sheet to read from, or several as a songbook.",
    "tidy": "Align the bars of charts; change nothing else.",
    "styles": "List the groove styles, their meters and tempi.",
    "render": "Render charts to MIDI or sound files: bass, chop, drums, and the melody of a tune.",
    "pack": "Make a practice pack: sheet, MIDI, recordings at several tempi, loops, a page.",
    "play": "Play charts live and follow your commands.",
    "stand": "Serve a page for the music stand: your charts, and the band in the browser.",
    "convert": "Convert tunes between ABC, MusicXML and charts, with their melody.",
    "ports": "List the MIDI ports.",
    "pedal": "Show what the buttons of a pedal do, or assign them.",
}
"""Each command with the first sentence of its help, in the order of `backing --help`."""

NO_HELP = {"default_map": {"help": False}}
"""The settings that make `--help` a flag: typer's converter of other values is slow to import."""


class _Commands(TyperGroup):
    """The group of all commands; it lists their names without importing them."""

    def __init__(self, **named: Any) -> None:
        super().__init__(**named)
        names: dict[str, Any] = dict.fromkeys(COMMANDS)
        self.commands = names

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Import and return a command, or return None for an unknown name."""
        from backing.cli.command import command

        return command(cmd_name) if cmd_name in COMMANDS else None

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the list of commands into the help."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


app = typer.Typer(
    cls=_Commands,
    help="A band for your chord charts: bass, chop and drums in the groove you name.",
    epilog="Example: backing render demos/quarry-hill.chart -o quarry-hill.mp3 --midi",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], **NO_HELP},
)


def _print_version(requested: bool) -> None:
    if requested:
        from importlib.metadata import version

        print(f"backing {version('backing')}")
        raise typer.Exit


@app.callback()
def _options(
    _version: Annotated[
        bool,
        typer.Option("--version", callback=_print_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Read the options before the name of the command."""
