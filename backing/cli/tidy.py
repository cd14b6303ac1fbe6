"""`backing tidy`: align the bars of charts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from backing.cli.charts import STANDARD_INPUT, Charts, charts_of, for_each
from backing.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Iterator

EXAMPLE = "backing tidy demos/quarry-hill.chart"

NOT_TIDY = 1
"""The exit code of --check for charts that are not tidy."""


def run(
    charts: Charts,
    check: Annotated[
        bool, typer.Option("--check", help="Write nothing; exit with 1 if a chart is not tidy.")
    ] = False,
    diff: Annotated[
        bool, typer.Option("--diff", help="Write nothing; show what would change.")
    ] = False,
) -> None:
    """Align the bars of charts; change nothing else.

    A chart with faults is not changed, nor is a file with hard links. A file that is changed keeps
    its owner, its mode and its extended attributes.
    """
    import sys

    sources = charts_of(charts)
    if STANDARD_INPUT in sources and len(sources) > 1:
        raise SettingsError("use - alone: standard input is not tidied together with other charts")
    found: list[bool] = []
    for_each(sources, lambda source: found.append(_tidy(source, check=check, diff=diff)))
    if check and not all(found):
        sys.exit(NOT_TIDY)


def _tidy(source: str, *, check: bool, diff: bool) -> bool:
    """Tidy a chart, or print whether it would change; return whether it was tidy before.

    Raises:
        BackingError: when the chart has faults, or cannot be read or written.
    """
    from pathlib import Path

    from backing.chart.read import load_text, read_chart
    from backing.chart.tidy import tidy_text
    from backing.out.files import edit_file, write_output
    from backing.style.library import style_meters

    name = "<stdin>" if source == STANDARD_INPUT else source
    text = load_text(source)
    read_chart(text, name, style_meters())
    tidied = tidy_text(text)
    if diff:
        write_output("".join(_diff(text, tidied, name)).encode("utf-8"))
    if check:
        print(f"{name}: {_changes(text, tidied, 'not tidy')}")
    elif source == STANDARD_INPUT and not diff:
        write_output(tidied.encode("utf-8"), inputs=[Path(source)])
    elif not diff:
        if tidied != text:
            edit_file(Path(source), tidied.encode("utf-8"))
        print(f"{name}: {_changes(text, tidied, 'tidied')}")
    return tidied == text


def _changes(text: str, tidied: str, what: str) -> str:
    """Return a phrase with the number of lines that change, or "tidy already"."""
    from backing.chart.outline import split_lines
    from backing.cli.text import counted

    pairs = zip(split_lines(text), split_lines(tidied), strict=True)
    number = sum(old != new for old, new in pairs)
    return f"{what}, {counted(number, 'line')}" if number else "tidy already"


def _diff(text: str, tidied: str, name: str) -> Iterator[str]:
    """Yield the lines of a unified diff; keep the line ends of the chart."""
    import difflib
    import re

    old, new = (re.findall(r"[^\n]*\n|[^\n]+", each) for each in (text, tidied))
    for line in difflib.unified_diff(old, new, name, name):
        yield line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n"
