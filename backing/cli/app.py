"""The commands by name.

Help is plain text: without typer's coloured boxes it starts sooner and reads the same everywhere.
"""

from __future__ import annotations

import typer

from backing.cli import check, pedal, play, ports, render, show, styles, tidy

app = typer.Typer(
    help="A band for your chord charts: bass, chop and drums in the groove you name.",
    epilog=f"Example: {render.EXAMPLE}",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

for module in (check, show, tidy, styles, render, play, ports, pedal):
    name = module.__name__.rpartition(".")[2]
    app.command(name, epilog=f"Example: {module.EXAMPLE}")(module.run)
