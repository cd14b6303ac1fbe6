"""The file that is rendered from each chart."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from backing.cli.charts import charts_of
from backing.cli.text import counted
from backing.errors import OutputError, SettingsError
from backing.out.files import make_folder
from backing.out.formats import FORMATS, MIDI_ENDINGS
from backing.reading import is_folder

STANDARD_OUTPUT = "-"

_ENDINGS = {*MIDI_ENDINGS, *FORMATS}


def targets(
    charts: list[str], output: str | None, ending: str | None = None
) -> list[tuple[str, Path | None]]:
    """Return pairs of (chart, file to write); None for standard output.

    Args:
        charts: files, folders and sets.
        output: a file, a folder, "-" or None.
        ending: the ending of files in a folder, without its dot; None for MIDI files.

    Raises:
        OutputError: when a file has no name, or two charts have the same file.
        SettingsError: when a folder or a set has no charts.

    """
    sources = charts_of(charts)
    _check_ending(ending)
    suffix = ending or MIDI_ENDINGS[0]
    if output == STANDARD_OUTPUT:
        return [(_only_one(sources), None)]
    if sources == charts and len(charts) == 1 and not (output and _names_folder(output)):
        if charts == ["-"] and not output:
            raise OutputError(
                "a chart from standard input needs a name for its file: add -o NAME.mid"
            )
        return [(charts[0], Path(output or f"{Path(charts[0]).stem}.{suffix}"))]
    if "-" in sources:
        raise OutputError("use - alone: standard input is not rendered together with other charts")
    folder = Path(output or ".")
    if folder.suffix.lower().lstrip(".") in _ENDINGS and not _names_folder(str(output)):
        raise OutputError(
            f"{folder} is the name of one file, and {_there(len(sources))} to render: name "
            f"a folder, such as -o {folder.with_suffix('')}/"
        )
    pairs = [(source, folder / f"{Path(source).stem}.{suffix}") for source in sources]
    _refuse_twins(pairs)
    make_folder(folder)
    return [*pairs]


def _check_ending(ending: str | None) -> None:
    if ending is not None and ending not in _ENDINGS:
        allowed = ", ".join((MIDI_ENDINGS[0], *FORMATS))
        raise SettingsError(f"--format {ending}: choose from {allowed}")


def _refuse_twins(pairs: list[tuple[str, Path]]) -> None:
    seen: dict[Path, str] = {}
    for source, target in pairs:
        if target in seen:
            raise OutputError(
                f"{seen[target]} and {source} would both be written to {target}: rename one"
            )
        seen[target] = source


def _only_one(sources: list[str]) -> str:
    """Return the only chart, for standard output."""
    if len(sources) > 1:
        raise OutputError(
            f"standard output takes one file, and {_there(len(sources))} to render: name a "
            "folder, such as -o out/"
        )
    if sys.stdout.isatty():
        raise OutputError(
            "a terminal cannot show a MIDI file: name a file, such as -o take.mid, or send the "
            "output to a program"
        )
    return sources[0]


def _there(number: int) -> str:
    return f"there {'is' if number == 1 else 'are'} {counted(number, 'chart')}"


def _names_folder(output: str) -> bool:
    return output.endswith(("/", os.sep)) or is_folder(output)
