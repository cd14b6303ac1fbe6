"""Short bars that stand alone between double bar lines, repeats and labels.

Conventions (our choice, no source): a lone short bar is the pickup of the next section. Where that
section has a pickup of its own, the bar stays a bar and is lengthened so that the pickup fits into
its silent end; two short bars that make up one bar are joined. A lone bar with a label is a part of
its own where the next bar has a label too, lengthened likewise where that bar is a pickup.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from backing.scores.normalise import fits_next, joined, meter_for
from backing.scores.sections import Section

if TYPE_CHECKING:
    from collections.abc import Sequence


def with_pickups(sections: Sequence[Section]) -> list[Section]:
    """Return the sections, each lone short bar joined, lengthened or made a pickup."""
    found: list[Section] = []
    for section in sections:
        before = found[-1] if found else None
        if before and _is_lone(before) and not (before.label and section.label):
            found[-1:] = _together(before, section)
        else:
            found.append(section)
    for index, (lone, section) in enumerate(pairwise(found)):
        if _is_lone(lone):
            found[index : index + 2] = _with_room(lone, section)
    return found


def _is_lone(section: Section) -> bool:
    """Whether a section is one short bar, played once."""
    alone = section.times == 1 and not section.endings and len(section.body) == 1
    return alone and section.body[0].is_short


def _together(lone: Section, section: Section) -> list[Section]:
    """Return the sections that a lone bar and the section after it become."""
    bar, first = lone.body[0], next(section.bars())
    label = section.label or lone.label
    full = bar.meter.bar_ticks
    if _is_lone(section) and bar.meter == first.meter and bar.ticks + first.ticks <= full:
        return [Section(label, [joined(bar, first)])]
    is_split = fits_next(section.body) and bar.ticks + first.ticks != full
    if section.body and (not first.is_short or is_split):
        return [replace(section, label=label, body=[bar, *section.body])]
    return _with_room(lone, section)


def _with_room(lone: Section, section: Section) -> list[Section]:
    """Return both, the lone bar lengthened so that the section's pickup fits into its end."""
    bar, first = lone.body[0], next(section.bars())
    is_pickup = first.is_short and not fits_next(section.body) and not _is_lone(section)
    ticks = bar.ticks + first.ticks
    meter = meter_for(ticks, bar.meter)
    if not is_pickup or meter is None:
        return [lone, section]
    return [replace(lone, body=[replace(bar, ticks=ticks, meter=meter)]), section]
