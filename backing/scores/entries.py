"""Chords at the start of parts whose first bar has no chord sign.

Conventions: such a bar continues the chord before it in performance order. A part that follows
several different chords is written once for each.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.harmony.chord import Chord
    from backing.scores.normalise import Group
    from backing.scores.remarks import Remarks
    from backing.scores.tune import TuneBar

_WRITTEN_OUT = (
    "part {} begins without a chord sign, after different chords: written once for each chord"
)


def with_entries(
    groups: Sequence[Group], order: Sequence[str], remarks: Remarks
) -> tuple[list[Group], tuple[str, ...], dict[str, Chord | None]]:
    """Return the parts, their names in performance order and the chord before each by its name.

    Args:
        groups: the parts.
        order: the names of the parts in performance order.
        remarks: receives a remark for each part that is written more than once.

    """
    by_name = {group.name: group for group in groups}
    variants: dict[str, dict[Chord | None, Group]] = {name: {} for name in by_name}
    entries: dict[str, Chord | None] = {}
    taken = {name.lower() for name in by_name}
    form: list[str] = []
    chord: Chord | None = None
    for name in order:
        group, own = by_name[name], variants[name]
        if not own or (_continues(group) and chord not in own):
            own[chord] = _copy(group, taken) if own else group
            entries[own[chord].name] = chord
        form.append(own.get(chord, group).name)
        chord = _last_chord(group, chord)
    for name, own in variants.items():
        if len(own) > 1:
            remarks.at(_first_bar(by_name[name]), _WRITTEN_OUT.format(name))
    found = [each for group in groups for each in variants[group.name].values() or (group,)]
    return found, tuple(form), entries


def _first_bar(group: Group) -> TuneBar:
    """Return the first bar after the pickup."""
    return group.sections[0].bars()[0]


def _continues(group: Group) -> bool:
    """Whether a part begins by continuing the chord before it."""
    pickup, first = group.sections[0].pickup, _first_bar(group)
    signed = first.chords and not first.chords[0].tick
    return not signed and not (pickup and pickup.chords)


def _last_chord(group: Group, before: Chord | None) -> Chord | None:
    """Return the chord that sounds at the end of a part."""
    signs = [sign for bar in _as_played(group) for sign in bar.chords]
    return signs[-1].chord if signs else before


def _as_played(group: Group) -> Iterator[TuneBar]:
    for section in group.sections:
        if section.pickup:
            yield section.pickup
        yield from section.pass_of(section.times)


def _copy(group: Group, taken: set[str]) -> Group:
    """Return a copy of a part under a name that is not taken; the name is added to `taken`."""
    number = 2
    while f"{group.name}{number}".lower() in taken:
        number += 1
    taken.add(f"{group.name}{number}".lower())
    return replace(group, name=f"{group.name[:20]}{number}")
