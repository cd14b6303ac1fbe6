"""Makes a command of the command line from its module."""

from __future__ import annotations

import sys
from functools import wraps
from importlib import import_module
from typing import TYPE_CHECKING, Any

import typer
from typer.core import TyperArgument, TyperCommand, TyperOption

from backing.cli.app import NO_HELP
from backing.cli.options import ALIASES

if TYPE_CHECKING:
    from collections.abc import Callable


def _as_typed(convert: Callable[[Any, Any], Any], param: Any, ctx: Any, value: Any) -> Any:
    """Return a text, a flag or a list as typed; use typer's slow converter only for its errors."""
    if param.required and not value:
        return convert(ctx, value)
    return list(value) if isinstance(value, tuple) else value


class _Argument(TyperArgument):
    """An argument whose help has its name and what it is, and nothing else."""

    def process_value(self, ctx: Any, value: Any) -> Any:
        """Return the value as typed."""
        return _as_typed(super().process_value, self, ctx, value)

    def get_usage_pieces(self, ctx: Any) -> list[str]:
        """Return the name for the line of usage."""
        name = self.metavar or self.name or ""
        return [name if self.required else f"[{name}]"]

    def get_help_record(self, ctx: Any) -> tuple[str, str]:
        """Return the name and what it is."""
        return self.metavar or self.name or "", self.help or ""


class _Option(TyperOption):
    """An option that also works by its former name, which is not in the help."""

    def process_value(self, ctx: Any, value: Any) -> Any:
        """Return the value as typed."""
        return _as_typed(super().process_value, self, ctx, value)

    def add_to_parser(self, parser: Any, ctx: Any) -> None:
        """Add the option with all its names to the parser."""
        shown = self.opts
        self.opts = [*shown, *(ALIASES[name] for name in shown if name in ALIASES)]
        super().add_to_parser(parser, ctx)
        self.opts = shown


class _Command(TyperCommand):
    """A command with arguments and options of these two classes."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        for param in self.params:
            if type(param) is TyperArgument:
                param.__class__ = _Argument
            elif type(param) is TyperOption:
                param.__class__ = _Option


def command(name: str) -> Any:
    """Return the command of a module in this folder, with its docstring and example as help."""
    module = import_module(f"backing.cli.{name}")
    alone = typer.Typer(add_completion=False, rich_markup_mode=None)
    declare = alone.command(
        name, cls=_Command, epilog=f"Example: {module.EXAMPLE}", context_settings=dict(NO_HELP)
    )
    declare(_stoppable(module.run))
    return typer.main.get_command(alone)


def _stoppable(run: Callable[..., None]) -> Callable[..., None]:
    """Return a function that runs a command and exits with 130 on Ctrl-C."""

    @wraps(run)
    def stoppable(**given: Any) -> None:
        try:
            run(**given)
        except KeyboardInterrupt:
            sys.exit(130)

    return stoppable
