"""`backing show`: the chart on the terminal."""

from __future__ import annotations

from typing import Annotated

import typer

EXAMPLE = "backing show demos/quarry-hill.chart --key G --numbers"


def run(
    chart: Annotated[str, typer.Argument(metavar="CHART", help="Chart file; - is standard input.")],
    key: Annotated[
        str | None, typer.Option("--key", "-k", metavar="KEY", help="Show it in this key.")
    ] = None,
    numbers: Annotated[
        bool, typer.Option("--numbers", help="Chords as numbers of the key: 1 4 57.")
    ] = False,
    roman: Annotated[
        bool, typer.Option("--roman", help="Chords as Roman numerals: I IV V7.")
    ] = False,
) -> None:
    """Show a chart, in any key, in letters or numbers."""
    import shutil

    from backing.chart.read import load_chart
    from backing.chart.transpose import in_key
    from backing.chart.write import chart_lines
    from backing.errors import SettingsError
    from backing.harmony.numbers import letter_text, number_text, roman_text

    if numbers and roman:
        raise SettingsError("--numbers and --roman exclude each other: choose one")
    shown = load_chart(chart)
    if key:
        shown = in_key(shown, key).plain()
    spell = number_text if numbers else roman_text if roman else letter_text
    width = shutil.get_terminal_size().columns
    print(*chart_lines(shown, spell=spell, width=width), sep="\n")
