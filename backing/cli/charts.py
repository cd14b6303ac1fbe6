"""The charts that a command is given: files, folders of charts, and sets."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from typer import Argument

from backing.errors import BackingError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

Charts = Annotated[
    list[str],
    Argument(
        metavar="CHART...", help="Chart files, folders of charts, or sets; - for standard input."
    ),
]

SUFFIX = ".chart"
STANDARD_INPUT = "-"


def charts_of(named: Sequence[str], suffixes: tuple[str, ...] = (SUFFIX,)) -> list[str]:
    """Return the charts of all arguments, each once.

    Args:
        named: files; folders, whose charts come in the order of their names; and sets, whose
            charts come in the set's order. "-" is standard input.
        suffixes: the endings of the names of charts in folders.

    Raises:
        BackingError: for a folder or a set without charts, or a set that cannot be read.
    """
    return list(dict.fromkeys(chart for name in named for chart in _charts_in(name, suffixes)))


def _charts_in(name: str, suffixes: tuple[str, ...]) -> list[str]:
    from backing.chart.sets import load_set

    if is_folder(name):
        paths = (path for path in sorted(Path(name).iterdir()) if path.suffix in suffixes)
        if not (found := [str(path) for path in paths]):
            raise SettingsError(
                f"no charts in the folder {name}: their names end in {' or '.join(suffixes)}"
            )
        return found
    return load_set(name) if is_set(name) else [name]


def is_folder(name: str) -> bool:
    """Return whether an argument is a folder."""
    from backing import reading

    return name != STANDARD_INPUT and reading.is_folder(name)


def is_set(name: str) -> bool:
    """Return whether an argument is a set."""
    from backing.chart.sets import SET

    return name.lower().endswith(SET)


def are_several(named: Sequence[str]) -> bool:
    """Return whether the arguments may name several charts: two of them, a folder or a set."""
    return len(named) > 1 or is_folder(named[0]) or is_set(named[0])


def title_of(named: Sequence[str], default: str) -> str:
    """Return the name of the only folder, set or chart; the default title for several arguments."""
    if len(named) > 1:
        return default
    return Path(named[0]).resolve().name if is_folder(named[0]) else Path(named[0]).stem


def for_each(
    charts: Sequence[str], work: Callable[[str], None], then: Callable[[], None] = lambda: None
) -> None:
    """Call a function for each chart, report errors, and exit with 2 at the end if there were any.

    Args:
        charts: the charts.
        work: the function for each chart.
        then: called after the last chart, before the exit.
    """
    from backing.cli.report import named, print_error

    succeeded = True
    for chart in charts:
        try:
            work(chart)
        except BackingError as error:
            succeeded = False
            print_error(named(chart, error))
    then()
    if not succeeded:
        sys.exit(2)
