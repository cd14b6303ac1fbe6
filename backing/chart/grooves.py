"""Checks that the styles of a chart exist and play its meters."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, TypeAlias

from backing.chart.diagnostics import quoted
from backing.chart.model import COMMON_TIME
from backing.nearest import did_you_mean, nearest
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.diagnostics import Diagnostics
    from backing.chart.fields import Field, Fields
    from backing.chart.model import Part
    from backing.chart.outline import Outline

Styles: TypeAlias = Mapping[str, frozenset[Meter]]
"""The meters that each style plays, by its name; empty if they are not known."""

DEFAULT_STYLE = "two-beat"

_USUAL = {
    Meter(2, 2): "reel",
    Meter(2, 4): "polka",
    Meter(3, 4): "waltz",
    Meter(6, 8): "jig",
    Meter(9, 8): "slip-jig",
    Meter(12, 8): "slow-blues",
}


def usual_style(meter: Meter) -> str:
    """Return the style of a chart without one, by its meter."""
    return _USUAL.get(meter, DEFAULT_STYLE)


def check_styles(
    outline: Outline,
    parts: Sequence[Part],
    form: Sequence[str],
    styles: Styles,
    faults: Diagnostics,
) -> None:
    """Report every unknown style, and every meter that its style does not play.

    Args:
        outline: the text of the chart, its headers read.
        parts: its parts.
        form: the names of the parts that are played; empty for all.
        styles: the known styles.
        faults: collects the faults.

    """
    for fields in (outline.fields, *(text.fields for text in outline.parts)):
        style = fields.get("style")
        if style and not fields.broken("style") and style.value not in styles:
            faults.add(
                style.place,
                f"{quoted(style.value)} is not a style",
                f"choose from {', '.join(sorted(styles))}"
                + did_you_mean(nearest(style.value, styles)),
            )
    if outline.fields.broken("form"):
        return
    checked: set[Field | None] = set()
    for text, part in zip(outline.parts, parts, strict=True):
        if form and part.name not in form:
            continue
        place = text.fields.get("meter") or text.fields.get("style")
        named = f"part {part.name}" if place else "the chart"
        place = place or outline.fields.get("meter") or outline.fields.get("style")
        fault = _unplayed(outline.fields, text.fields, named, styles)
        if fault and place not in checked:
            faults.add(place.place if place else (0, 0), *fault)
        checked.add(place)


def _unplayed(chart: Fields, part: Fields, named: str, styles: Styles) -> tuple[str, str] | None:
    """Return the fault of a meter that the part's style does not play.

    Return None if it does, or if either has a fault.
    """
    meter_owner = part if part.get("meter") or part.broken("meter") else chart
    style_owner = part if part.get("style") or part.broken("style") else chart
    if meter_owner.broken("meter") or style_owner.broken("style"):
        return None
    written, chosen = meter_owner.get("meter"), style_owner.get("style")
    meter = Meter.parse(written.value) if written else COMMON_TIME
    style = chosen.value if chosen else usual_style(meter)
    plays = styles.get(style, frozenset())
    if not plays or meter in plays:
        return None
    fits = sorted(name for name, meters in styles.items() if meter in meters)
    either = " or ".join(map(str, sorted(plays, key=lambda each: (each.unit, each.count))))
    found = f"the style {style} is played in {either}, {named} is in {meter}"
    if not chosen:
        found = f"{named} is in {meter} and names no style"
    return found, f"choose from {', '.join(fits)}" if fits else f"no style plays {meter}"
