"""Puts a chart together from the lines of its text."""

from __future__ import annotations

import re
from contextlib import suppress
from itertools import chain
from typing import TYPE_CHECKING

from backing.chart.diagnostics import quoted
from backing.chart.fields import (
    comment_behind,
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
from backing.chart.parts import STAND_IN, PartReader
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
"""The most names of a form that are quoted in a fault."""


def assemble(
    lines: Sequence[str], title: str, faults: Diagnostics, styles: Styles | None = None
) -> Chart:
    """Return the chart of the lines; where there were faults, with what could be read.

    Args:
        lines: the lines of the text without their ends.
        title: the title of a chart that gives none.
        faults: takes every fault.
        styles: the styles there are; None to take every name of a style for one.

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
        melody=fields.read("melody", read_melody_name) or "",
        notes=tuple(fields.notes),
    )


def _parts(
    outline: Outline, key: Key | None, counted: Counted, faults: Diagnostics
) -> tuple[Part, ...]:
    """Read the parts; a key or a meter with a fault of its own makes no more in the bars."""
    if outline.fields.broken("key"):
        key = STAND_IN
    meter = None if outline.fields.broken("meter") else counted.meter
    reader = PartReader(faults, key, meter, counted)
    if not outline.parts and outline.sound:
        faults.add(
            0,
            0,
            "the chart has no bars",
            "write a part such as [A] and under it bars between bar lines, such as | C | G7 |",
        )
    return tuple(reader.read(part) for part in outline.parts)


def _meter_of_parts(outline: Outline) -> Meter:
    """Return the meter of a chart that names none: the first part's where each has its own."""
    found = [part.fields.get("meter") for part in outline.parts]
    if outline.fields.get("meter") or not found or None in found:
        return COMMON_TIME
    with suppress(SymbolError):
        return next(read_meter(each.value) for each in found if each)
    return COMMON_TIME


def _home(parts: Sequence[Part]) -> Key:
    """Return the key of a chart that names none: the first part's own, or its first chord's."""
    if parts and parts[0].key:
        return parts[0].key
    spans = chain.from_iterable(bar.chords for part in parts for bar in part.written())
    first = next((span.chord for span in spans if span.chord), None)
    if not first:
        return Key(NoteName(0))
    return Key(first.root, "minor" if first.quality.is_minor else "major").plain()


def _form(outline: Outline, parts: Sequence[Part], faults: Diagnostics) -> tuple[str, ...]:
    field = outline.fields.get("form")
    if not field:
        lines = ((part.line, 0) for part in outline.parts)
        _check_length(lines, [part.length() for part in parts], faults)
        return ()
    lengths = {part.name: part.length() for part in parts}
    behind = comment_behind(field.value)
    if behind:
        faults.add_symbol(field.line, field.column, behind)
    value = field.value[: behind.column] if behind else field.value
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
    """Note the names in a form that are no parts, at the place of the first."""
    different = list(dict.fromkeys(names))
    few = ", ".join(map(quoted, different[:_MOST_NAMES]))
    more = ", ..." if len(different) > _MOST_NAMES else ""
    are = "are not parts" if len(different) > 1 else "is not a part"
    faults.add(
        line,
        column,
        f"{few}{more} {are} of this chart",
        lambda: f"choose from {outline.some_names()}" + outline.near_part(names[0]),
    )


def _check_length(
    places: Iterator[tuple[int, int]], lengths: Sequence[int], faults: Diagnostics
) -> None:
    """Refuse a form that is too long, at the first part that goes beyond."""
    total = 0
    for place, length in zip(places, lengths, strict=True):
        total += length
        if total > MOST_BARS >= length:
            faults.add(
                *place,
                f"the form has more than {MOST_BARS} bars",
                f"once round the form has at most {MOST_BARS} bars; shorten it",
            )
            return
