"""Groups the sections of a tune into parts and finds their order.

Conventions: a section without a label continues the part before it, where key and meter are the
same; sections with identical music are one part. Parts without a label are called A, B, C. A part
that `P:` names several times in a row and that is one repeat throughout is played as often as it is
named, its repeat included (v2.1, 4.10: P:A4 for a part with four endings). Where that number is no
multiple of the repeat's, the part is played with its repeat each time.
"""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import chain, groupby, product
from string import ascii_uppercase
from typing import TYPE_CHECKING

from backing.errors import BackingError
from backing.scores.normalise import Group, normalised_section

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence, Set

    from backing.scores.sections import Section
    from backing.scores.tune import Remarks, Tune, TuneBar
    from backing.timing import Tempo


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


MOST_PARTS = 200


class TuneError(BackingError):
    """A tune that is too large for a chart."""


def parts_of(
    played: Sequence[Section], spare: Sequence[Section], tune: Tune, remarks: Remarks
) -> tuple[list[Group], tuple[str, ...]]:
    """Return the parts in written order, and the names of the played ones in performance order.

    Args:
        played: the sections in performance order; one that is played again is the same object.
        spare: the sections that are never played.
        tune: the tune, for its tempo and its order of labels.
        remarks: receives what was corrected or left out.

    Raises:
        TuneError: when it has more parts than a chart can hold.
    """
    parts = _Parts(_Names([*played, *spare]), tune.tempo, remarks)
    for section in played:
        parts.take(section, is_played=True)
    for section in spare:
        parts.take(section, is_played=False)
    groups = parts.groups
    form = [groups[number] for number in parts.form]
    if tune.order:
        by_label = {label: [groups[n] for n in found] for label, found in parts.by_label.items()}
        form = ordered(tune.order, by_label, form, remarks)
    return groups, tuple(group.name for group in form)


class _Parts:
    """Collects parts section by section.

    Attributes:
        groups: the parts in written order; a part's number is its index here.
        form: the numbers of the played parts in performance order.
        by_label: the numbers of the parts that begin under each label.

    """

    def __init__(self, names: _Names, tempo: Tempo | None, remarks: Remarks) -> None:
        self.groups: list[Group] = []
        self.form: list[int] = []
        self.by_label: dict[str, list[int]] = {}
        self._names = names
        self._tempo = tempo
        self._remarks = remarks
        self._label = ""
        self._numbers: dict[int, int] = {}

    def take(self, section: Section, *, is_played: bool) -> None:
        """Add the next section in performance order, or one that is never played.

        Raises:
            TuneError: when there are more parts than a chart can hold.
        """
        self._label = section.label or self._label
        number = self._numbers.get(id(section))
        if number is None:
            number = self._first_time(section)
        if number is not None and is_played:
            self.form.append(number)

    def _first_time(self, section: Section) -> int | None:
        """Add a new section; return the number of the part it begins, or None if it begins none."""
        normalised = _with_lone_pickup(normalised_section(section, self._remarks), self._remarks)
        if not normalised.bars():
            return None
        if larger := self._joined(section, normalised):
            self.groups[-1] = larger
            self._numbers[id(section)] = len(self.groups) - 1
            return None
        number = self._number_of(normalised)
        self._numbers[id(section)] = number
        if self._label:
            self.by_label.setdefault(self._label, []).append(number)
        return number

    def _joined(self, section: Section, normalised: Section) -> Group | None:
        """Return the newest part extended by a section, or None where it is not part of it.

        A part ends where key or meter change, and with an ending for several times, for what
        follows would belong to it.
        """
        newest = len(self.groups) - 1
        is_behind = bool(self._label and self.form[-1:] == [newest]) and not section.label
        # a part that was played twice already would repeat the section each time
        if not is_behind or self.form.count(newest) != 1 or normalised.pickup:
            return None
        group = self.groups[newest]
        before, first = group.sections[-1], normalised.bars()[0]
        changes = any(
            bar.key != first.key or bar.meter != first.meter for bar in before.bars()[-1:]
        )
        if changes or (before.endings and len(before.endings[-1][0]) > 1):
            return None
        return replace(group, sections=(*group.sections, normalised))

    def _number_of(self, normalised: Section) -> int:
        """Return the number of the part with identical music, or of a new part."""
        own = _contents(normalised)
        alone = ((n, each.sections) for n, each in enumerate(self.groups))
        same = (n for n, each in alone if len(each) == 1 and _contents(each[0]) == own)
        same_part = next(same, None)
        if same_part is not None:
            self._remark_other_tempo(self.groups[same_part], normalised)
            return same_part
        self.groups.append(Group(self._names.name(self._label), (normalised,)))
        if len(self.groups) > MOST_PARTS:
            raise TuneError(
                f"the tune has more than {MOST_PARTS} parts: a chart has at most that many; remove "
                "double bar lines"
            )
        return len(self.groups) - 1

    def _remark_other_tempo(self, part: Group, normalised: Section) -> None:
        tempo, _ = Group("", (normalised,)).tempi()
        if tempo and tempo != (part.tempi()[0] or self._tempo):
            bar = normalised.pickup or normalised.bars()[0]
            self._remarks.at(
                bar, f"part {part.name} returns at another tempo: that tempo is left out"
            )


def _with_lone_pickup(normalised: Section, remarks: Remarks) -> Section:
    """Return a section; a pickup with nothing after it becomes an ordinary bar."""
    if normalised.bars() or not normalised.pickup:
        return normalised
    remarks.at(normalised.pickup, "a short bar stands alone: read as a bar")
    return replace(normalised, body=[normalised.pickup], pickup=None)


def _contents(section: Section) -> tuple[object, ...]:
    """Return the music of a section in a form that can be compared."""
    return (
        _music(section.pickup) if section.pickup else None,
        [_music(bar) for bar in section.body],
        [(times, [_music(bar) for bar in bars]) for times, bars in section.endings],
        section.times,
    )


def _music(bar: TuneBar) -> tuple[object, ...]:
    return (bar.meter, bar.key, bar.ticks, bar.chords, bar.notes)


class _Names:
    """Gives parts unique names."""

    def __init__(self, sections: Sequence[Section]) -> None:
        self._taken = {_clean(each.label).lower() for each in sections if each.label}
        self._given: set[str] = set()
        letters = (product(ascii_uppercase, repeat=length) for length in (1, 2))
        self._letters = map("".join, chain.from_iterable(letters))

    def name(self, label: str) -> str:
        """Return a name that is not taken: the label itself if possible."""
        base = _clean(label)
        if not base:
            base = next(each for each in self._letters if each.lower() not in self._taken)
        name, number = base, 1
        while name.lower() in self._given:
            number += 1
            name = f"{base[:20]}{number}"
        self._given.add(name.lower())
        return name


def _clean(label: str) -> str:
    """Return a label as a valid part name, or "" if there is none in it."""
    plain = re.sub(r"[^A-Za-z0-9'-]+", "-", label).strip("-")
    plain = re.sub(r"^(?:part|section)-(?=.)", "", plain, flags=re.I)
    return plain[:22].strip("-") if re.match("[A-Za-z]", plain) else ""
