"""The commands by name.

Help is plain text: without typer's coloured boxes it starts sooner and reads the same everywhere.
"""

from __future__ import annotations

import sys
from functools import wraps
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperArgument, TyperCommand

from backing.cli import (
    check,
    convert,
    pack,
    pedal,
    play,
    ports,
    render,
    shapes,
    sheet,
    show,
    stand,
    styles,
    tidy,
)

if TYPE_CHECKING:
    from collections.abc import Callable

app = typer.Typer(
    help="A band for your chord charts: bass, chop and drums in the groove you name.",
    epilog=f"Example: {render.EXAMPLE}",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


class _Argument(TyperArgument):
    """An argument whose help says no more than its name and what it is."""

    def get_usage_pieces(self, ctx: Any) -> list[str]:
        """Return the name as the usage line has it."""
        name = self.metavar or self.name or ""
        return [name if self.required else f"[{name}]"]

    def get_help_record(self, ctx: Any) -> tuple[str, str]:
        """Return the name and what it is."""
        return self.metavar or self.name or "", self.help or ""


class _Command(TyperCommand):
    """A command with such arguments."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        for param in self.params:
            if type(param) is TyperArgument:
                param.__class__ = _Argument


def _stoppable(run: Callable[..., None]) -> Callable[..., None]:
    """Return the command, ended by Ctrl-C as `main` expects it, whatever typer makes of it."""

    @wraps(run)
    def told(*args: Any, **named: Any) -> None:
        try:
            run(*args, **named)
        except KeyboardInterrupt:
            sys.exit(130)

    return told


def _print_version(wished: bool) -> None:
    if wished:
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
    """Take what stands before the name of a command."""


for module in (
    *(check, show, shapes, sheet, tidy, styles),
    *(render, pack, play, stand, convert, ports, pedal),
):
    name = module.__name__.rpartition(".")[2]
    command = app.command(name, cls=_Command, epilog=f"Example: {module.EXAMPLE}")
    command(_stoppable(module.run))
