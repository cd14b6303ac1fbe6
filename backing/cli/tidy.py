"""`backing tidy`: align the bars of a chart."""

from __future__ import annotations

from typing import Annotated

import typer

EXAMPLE = "backing tidy demos/quarry-hill.chart"


def run(
    chart: Annotated[
        str,
        typer.Argument(
            metavar="CHART", help="Chart file; - reads standard input and writes standard output."
        ),
    ],
) -> None:
    """Align the bars of a chart, change nothing else.

    The file is written again only when something changes and the chart is sound.
    """
    import sys
    from pathlib import Path

    from backing.chart.read import load_text, read_chart
    from backing.chart.tidy import tidy_text
    from backing.out.files import write_file

    text = load_text(chart)
    read_chart(text, chart)
    tidied = tidy_text(text)
    if chart == "-":
        sys.stdout.buffer.write(tidied.encode("utf-8"))
    elif tidied == text:
        print(f"{chart}: tidy already")
    else:
        write_file(Path(chart), tidied.encode("utf-8"), force=True)
        print(f"{chart}: tidied")
