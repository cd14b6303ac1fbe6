"""Reads a chart, or reports all its faults at once."""

from __future__ import annotations

import re
import sys
from contextlib import suppress
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from backing.chart.common_mistakes import read_meter
from backing.chart.diagnostics import Diagnostics, TooManyFaultsError, quoted, shown
from backing.chart.fields import (
    comment_after,
    read_count_in,
    read_ending,
    read_intro,
    read_melody_name,
    read_style,
)
from backing.chart.grooves import check_styles
from backing.chart.model import COMMON_TIME, MOST_BARS, Chart, Counted, Part
from backing.chart.outline import Outline, split_lines
from backing.chart.parts import PLACEHOLDER_KEY, PartReader
from backing.errors import ChartError, SymbolError, reason_of
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName
from backing.reading import UnreadableError, read_file, refuse_utf16
from backing.timing import Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.chart.diagnostics import Place
    from backing.chart.grooves import Styles

_MOST_NAMES = 5
"""The most unknown names of a form that one fault quotes."""


def assemble(
    lines: Sequence[str], title: str, faults: Diagnostics, styles: Styles | None = None
) -> Chart:
    """Return the chart; after faults, only what could be read.

    Args:
        lines: the lines of the text without line ends.
        title: the title of a chart without one.
        faults: collects every fault.
        styles: the known styles; None accepts any name.

    """
    outline = Outline(lines, faults)
    fields = outline.fields
    key = fields.read("key", Key.parse)
    meter = fields.read("meter", read_meter) or _meter_of_parts(outline)
    tempo = fields.read("tempo", lambda text: Tempo.parse(text, meter.beat))
    counted = Counted(meter, tempo.unit if tempo else meter.beat)
    parts = _parts(outline, key, counted, faults)
    form = _form(outline, parts, faults)
    style = fields.read("style", read_style)
    if styles is not None:
        check_styles(outline, parts, form, styles, faults)
    return Chart(
        title=fields.text("title") or title,
        key=key or _home(parts),
        parts=parts,
        form=form,
        meter=meter,
        tempo=tempo,
        style=style,
        by=fields.text("by"),
        count_in=fields.read("count-in", read_count_in),
        intro=fields.read("intro", read_intro),
        ending=fields.read("ending", read_ending),
        melody_file=fields.read("melody", read_melody_name) or "",
        notes=tuple(fields.notes),
    )


def _parts(
    outline: Outline, key: Key | None, counted: Counted, faults: Diagnostics
) -> tuple[Part, ...]:
    """Read the parts; avoid follow-on errors from an invalid key or meter."""
    if outline.fields.broken("key"):
        key = PLACEHOLDER_KEY
    meter = None if outline.fields.broken("meter") else counted.meter
    reader = PartReader(faults, key, meter, counted)
    if not outline.parts and outline.valid:
        faults.add(
            (0, 0),
            "the chart has no bars",
            "write a part such as [A], and below it bars between bar lines, such as | C | G7 |",
        )
    return tuple(reader.read(part) for part in outline.parts)


def _meter_of_parts(outline: Outline) -> Meter:
    """Return the meter of a chart without one: the first part's if every part has its own."""
    found = [part.fields.get("meter") for part in outline.parts]
    if outline.fields.get("meter") or not found or None in found:
        return COMMON_TIME
    with suppress(SymbolError):
        return next(read_meter(each.value) for each in found if each)
    return COMMON_TIME


def _home(parts: Sequence[Part]) -> Key:
    """Return the key of a chart without one: the first part's, or that of the first chord."""
    if parts and parts[0].key:
        return parts[0].key
    spans = chain.from_iterable(bar.chords for part in parts for bar in part.written())
    first = next((span.chord for span in spans if span.chord), None)
    if not first:
        return Key(NoteName(0))
    return Key(first.root, "minor" if first.quality.is_minor else "major").plain()


def _form(outline: Outline, parts: Sequence[Part], faults: Diagnostics) -> tuple[str, ...]:
    """Return the names in the form, empty without a form; report unknown parts."""
    field = outline.fields.get("form")
    if not field:
        lines = ((part.line, 0) for part in outline.parts)
        _check_length(lines, [part.length() for part in parts], faults)
        return ()
    lengths = {part.name: part.length() for part in parts}
    comment = comment_after(field.value)
    if comment:
        faults.add_symbol(field.place, comment)
    line, column = field.place
    value = field.value[: comment.column] if comment else field.value
    names = list(re.finditer(r"[^\s,]+", value))
    if not names:
        faults.add(
            field.place,
            "the form names no part",
            "write the names of parts in playing order, such as 'form: A A B'",
        )
    unknown = [match for match in names if match[0] not in lengths]
    if unknown and "" not in lengths:
        place = line, column + unknown[0].start()
        _refuse_parts(outline, [match[0] for match in unknown], place, faults)
    places = ((line, column + match.start()) for match in names)
    _check_length(places, [lengths.get(match[0], 0) for match in names], faults)
    return tuple(match[0] for match in names)


def _refuse_parts(
    outline: Outline, names: Sequence[str], place: Place, faults: Diagnostics
) -> None:
    """Report the names in a form that are not parts, in one fault at the first of them."""
    different = list(dict.fromkeys(names))
    few = ", ".join(map(quoted, different[:_MOST_NAMES]))
    more = ", ..." if len(different) > _MOST_NAMES else ""
    are = "are not parts" if len(different) > 1 else "is not a part"
    faults.add(
        place,
        f"{few}{more} {are} of this chart",
        lambda: f"choose from {outline.some_names()}" + outline.suggestion(names[0]),
    )


def _check_length(places: Iterator[Place], lengths: Sequence[int], faults: Diagnostics) -> None:
    """Report a form of more than `MOST_BARS` bars, at the first part over the limit."""
    total = 0
    for place, length in zip(places, lengths, strict=True):
        total += length
        if total > MOST_BARS >= length:
            faults.add(
                place,
                f"the form has more than {MOST_BARS} bars",
                f"write at most {MOST_BARS} bars once round",
            )
            return


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
            faults.add((number, found.start() + 1), _not_text(ord(found[0])), _SAVE)
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
    return ChartError.of(
        source,
        f"it is larger than {LIMIT // 1024} KiB",
        "a chart is a short text of chords; check that this is one",
    )
