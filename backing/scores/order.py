"""The order of parts that `P:` in the head of ABC gives.

Conventions: a part named several times in a row that is one repeat throughout is played as often as
it is named, its repeat included (v2.1, 4.10: P:A4 for a part with four endings). Where that number
is no multiple of the repeat's, the part is played with its repeat each time.
"""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence, Set

    from backing.scores.normalise import Group
    from backing.scores.remarks import Remarks


def ordered(
    order: Sequence[str],
    by_label: Mapping[str, list[Group]],
    written: list[Group],
    remarks: Remarks,
) -> list[Group]:
    """Return the parts in the order of the labels.

    Args:
        order: the labels.
        by_label: the parts of each label.
        written: the parts in written order, returned where no label is known.
        remarks: receives what is left out and how repeats are counted.

    """
    unknown = sorted(set(order) - set(by_label))
    if unknown:
        remarks.add(f"P: names parts that do not exist ({', '.join(unknown)[:60]}): left out")
    found: list[Group] = []
    for label, run in groupby(order):
        groups = by_label.get(label, [])
        found += groups * _times(label, len(list(run)), groups, remarks)
    if not found:
        return written
    for group in dict.fromkeys(written):
        if group not in found:
            remarks.at(group.first_bar, f"P: does not name part {group.name}: it is not played")
    return found


def _times(label: str, named: int, groups: Sequence[Group], remarks: Remarks) -> int:
    """Return how often the parts of a label are played in a row; remark how repeats count."""
    repeats = {section.times for group in groups for section in group.sections}
    if named < 2 or max(repeats, default=1) < 2:
        return named
    times = times_played(named, repeats)
    how = "its repeat included" if times != named else "with its repeats each time"
    remarks.at(groups[0].first_bar, f"P: plays part {label} {named} times, {how}")
    return times


def times_played(named: int, repeats: Set[int]) -> int:
    """Return how often a part is played, its repeats each time.

    Args:
        named: how often it is named in a row.
        repeats: how often its sections are played each time.

    """
    return named // _counted_in(named, repeats)


def times_named(played: int, repeats: Set[int]) -> int:
    """Return how often a part is named in a row: the reverse of `times_played`."""
    return played * _counted_in(played, repeats)


def _counted_in(count: int, repeats: Set[int]) -> int:
    times = max(repeats, default=1)
    return times if count > 1 and len(repeats) == 1 and count % times == 0 else 1
