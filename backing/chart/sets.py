"""Reads sets: text files that list charts in playing order, in the folder of the charts.

Conventions: each line is the name of a chart file; a line that begins with # is a comment.
"""

from __future__ import annotations

from pathlib import Path

from backing.errors import ChartError
from backing.reading import UnreadableError, read_file, text_of

SET = ".set"
"""The suffix of set files."""

_LIMIT = 256 * 1024


def tunes_of(data: bytes) -> list[str]:
    """Return the names listed in a set; bytes that are not UTF-8 are replaced."""
    return _names(data.decode("utf-8", "replace"))


def load_set(source: str) -> list[str]:
    """Return the paths of the charts in a set, in its order.

    Raises:
        ChartError: if it cannot be read, is not text in UTF-8, or lists no chart.
    """
    path = Path(source)
    try:
        text = text_of(read_file(path, _LIMIT), "save the set as plain text in UTF-8")
    except UnreadableError as error:
        raise error.of(ChartError, source) from None
    if not (names := _names(text)):
        allowed = "write the name of one chart file on each line"
        raise ChartError.of(source, "it lists no charts", allowed)
    return [str(path.parent / name) for name in names]


def _names(text: str) -> list[str]:
    lines = (line.strip() for line in text.splitlines())
    return [line for line in lines if line and not line.startswith("#")]
