"""Reads a chart, or reports all its faults at once."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from backing.chart.assemble import assemble
from backing.chart.diagnostics import Diagnostics, TooManyFaultsError, shown
from backing.chart.outline import split_lines
from backing.errors import ChartError, Diagnostic, reason_of
from backing.reading import UnreadableError, read_file, refuse_utf16

if TYPE_CHECKING:
    from backing.chart.grooves import Styles
    from backing.chart.model import Chart

LIMIT = 256 * 1024
"""The largest chart, in bytes."""

STANDARD_INPUT = "<stdin>"
"""The name of standard input in faults."""

_NO_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff]")
_SAVE = "save the chart as plain text in UTF-8"
_PIPES = "name a file, or - to read standard input, which may be a pipe"


def load_chart(source: str, styles: Styles | None = None, *, links: bool = True) -> Chart:
    """Read the chart file `source`, or standard input for `-`.

    Args:
        source: the file.
        styles: as for `read_chart`.
        links: whether to follow symbolic links.

    Raises:
        ChartError: if it cannot be opened, is not text, is larger than `LIMIT`, or has faults.

    """
    return read_chart_bytes(_load(source, links=links), _name_of(source), styles)


def load_text(source: str) -> str:
    """Return the unchanged text of the file `source`, or of standard input for `-`.

    Bytes that are not UTF-8 become surrogates (`surrogateescape`), which `read_chart` reports.

    Raises:
        ChartError: if it cannot be opened, is in UTF-16, or is larger than `LIMIT`.

    """
    return _decoded(_load(source), _name_of(source))


def read_chart_bytes(data: bytes, source: str, styles: Styles | None = None) -> Chart:
    """Read a chart from the bytes of a file.

    Args:
        data: UTF-8, with or without a byte order mark.
        source: the file's name for faults; its stem is the title of a chart without one.
        styles: as for `read_chart`.

    Raises:
        ChartError: with every fault.

    """
    return read_chart(_decoded(data, source), source, styles)


def read_chart(text: str, source: str = "chart", styles: Styles | None = None) -> Chart:
    """Read a chart from its text.

    Args:
        text: the chart; a byte order mark at its start is dropped.
        source: the file's name for faults; its stem is the title of a chart without one.
        styles: the meters of each style; an unknown style, and a meter that a style does not play,
            are faults. None checks no styles.

    Raises:
        ChartError: with the faults in the order of the text, at most fifty in full.

    """
    if len(text) > LIMIT:
        raise _too_large(source)
    lines = split_lines(text.removeprefix("\ufeff"))
    faults = Diagnostics(source, lines)
    try:
        _check_signs(lines, faults)
        chart = assemble(lines, _title_of(source), faults, styles)
    except TooManyFaultsError:
        raise faults.error() from None
    if faults:
        raise faults.error()
    return chart


def _check_signs(lines: list[str], faults: Diagnostics) -> None:
    """Report the first character of each line that is not text.

    Raises:
        TooManyFaultsError: if there are NULs, since the file is then not a text.

    """
    for number, line in enumerate(lines, 1):
        if found := _NO_TEXT.search(line):
            faults.add(number, found.start() + 1, _not_text(ord(found[0])), _SAVE)
            faults.silence(number)
    if any("\0" in line for line in lines):
        raise TooManyFaultsError


def _not_text(code: int) -> str:
    if 0xDC80 <= code <= 0xDCFF:
        return f"the byte 0x{code - 0xDC00:02X} is not UTF-8"
    return f"this is a control character (U+{code:04X})"


def _title_of(source: str) -> str:
    """Return the title of a chart without one."""
    stem = shown(Path(source).stem).strip()
    return stem if stem and source not in ("-", STANDARD_INPUT) else "Untitled"


def _name_of(source: str) -> str:
    return STANDARD_INPUT if source == "-" else source


def _load(source: str, *, links: bool = True) -> bytes:
    """Return the bytes of a file, at most one more than `LIMIT`."""
    try:
        if source == "-":
            return _standard_input()
        return read_file(Path(source), LIMIT + 1, _PIPES, links=links)
    except UnreadableError as error:
        raise error.of(ChartError, _name_of(source)) from None


def _decoded(data: bytes, source: str) -> str:
    try:
        refuse_utf16(data, _SAVE)
    except UnreadableError as error:
        raise error.of(ChartError, source) from None
    if len(data) > LIMIT:
        raise _too_large(source)
    return data.decode("utf-8", "surrogateescape")


def _standard_input() -> bytes:
    if sys.stdin is None:
        raise UnreadableError("there is no standard input", "name a file")
    try:
        return sys.stdin.buffer.read(LIMIT + 1)
    except (OSError, ValueError) as error:
        raise UnreadableError(f"it cannot be read ({reason_of(error)})", "name a file") from None


def _too_large(source: str) -> ChartError:
    return _file_error(
        source,
        f"it is larger than {LIMIT // 1024} KiB",
        "a chart is a short text of chords; check that this is one",
    )


def _file_error(source: str, found: str, allowed: str) -> ChartError:
    """Return the error for a whole file."""
    return ChartError(source, (Diagnostic(0, 0, found, allowed),))
