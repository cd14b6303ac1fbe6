"""Reads the lines of a chart's text into a `Chart`."""

from __future__ import annotations

import re
from contextlib import suppress
from itertools import chain
from typing import TYPE_CHECKING

from backing.chart.diagnostics import quoted
from backing.chart.fields import (
    comment_after,
    read_count_in,
    read_ending,
    read_intro,
    read_melody_name,
    read_style,
)
from backing.chart.grooves import check_styles
from backing.chart.headers import read_meter
from backing.chart.model import COMMON_TIME, MOST_BARS, Chart, Counted, Part
from backing.chart.outline import Outline
from backing.chart.parts import PLACEHOLDER_KEY, PartReader
from backing.errors import SymbolError
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName
from backing.timing import Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.chart.diagnostics import Diagnostics
    from backing.chart.grooves import Styles
    from backing.timing import Meter


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
            0,
            0,
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
        faults.add_symbol(field.line, field.column, comment)
    value = field.value[: comment.column] if comment else field.value
    names = list(re.finditer(r"[^\s,]+", value))
    if not names:
        faults.add(
            field.line,
            field.column,
            "the form names no part",
            "write the names of parts in playing order, such as 'form: A A B'",
        )
    unknown = [match for match in names if match[0] not in lengths]
    if unknown and "" not in lengths:
        column = field.column + unknown[0].start()
        _refuse_parts(outline, [match[0] for match in unknown], field.line, column, faults)
    places = ((field.line, field.column + match.start()) for match in names)
    _check_length(places, [lengths.get(match[0], 0) for match in names], faults)
    return tuple(match[0] for match in names)


def _refuse_parts(
    outline: Outline, names: Sequence[str], line: int, column: int, faults: Diagnostics
) -> None:
    """Report the names in a form that are not parts, in one fault at the first of them."""
    different = list(dict.fromkeys(names))
    few = ", ".join(map(quoted, different[:_MOST_NAMES]))
    more = ", ..." if len(different) > _MOST_NAMES else ""
    are = "are not parts" if len(different) > 1 else "is not a part"
    faults.add(
        line,
        column,
        f"{few}{more} {are} of this chart",
        lambda: f"choose from {outline.some_names()}" + outline.suggestion(names[0]),
    )


def _check_length(
    places: Iterator[tuple[int, int]], lengths: Sequence[int], faults: Diagnostics
) -> None:
    """Report a form of more than `MOST_BARS` bars, at the first part over the limit."""
    total = 0
    for place, length in zip(places, lengths, strict=True):
        total += length
        if total > MOST_BARS >= length:
            faults.add(
                *place,
                f"the form has more than {MOST_BARS} bars",
                f"write at most {MOST_BARS} bars once round",
            )
            return
