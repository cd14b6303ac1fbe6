"""The bars of a chart in performance order, once round.

Conventions: parts called Intro are played the first time round only, parts called Tag, Outro or
Coda at the end of the form the last time only. A pickup is a bar of its own before the first bar.
Later it lies inside the bar before its part, every time the part comes or its first repeat begins
again (`pickups`); only a bar that lacks just the pickup's length is followed by it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

from backing.chart.model import Bar
from backing.chart.pickups import fills, with_pickup

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.chart.model import Chart, Part
    from backing.harmony.key import Key
    from backing.timing import Meter, Tempo

_FIRST_TIME = {"intro"}
_LAST_TIME = {"tag", "outro", "coda"}

BarName = tuple[str, int, int]
"""A bar as a player names it: its part, which one of that name in the form, the bar in it."""

ChordPlace = tuple[str, int, int]
"""A chord of the chart: its part, its bar as written, its number in the bar, both from 0."""


@dataclass(frozen=True, slots=True)
class Origin:
    """The bar of the form that a bar comes from.

    Attributes:
        part: the name of its part.
        form_index: which part of the form that is, from 0.
        occurrence: which part of that name in the form it is, from 0.
        index: its place in the part as played, from 0; -1 for the pickup.
        written: its place in the part as written (`Part.written`), from 0, the pickup counted.

    """

    part: str
    form_index: int
    occurrence: int
    index: int
    written: int


@dataclass(frozen=True, slots=True)
class Joined:
    """How a bar came to the pickup in its end.

    Attributes:
        before: the bar as written, without it.
        pickup: the pickup as a bar of its own.
        own: how many of the bar's chords are its own; those behind are the pickup's last ones.

    """

    before: Bar
    pickup: SequencedBar
    own: int


@dataclass(frozen=True, slots=True)
class SequencedBar:
    """A bar in performance order.

    Attributes:
        bar: the bar as it is played: as written, or with the pickup of what follows in its end.
        part: the name of its part.
        form_index: which part of the form it is in, from 0; below 0 before the form, beyond the
            last part behind it.
        index: its place in the part as played, from 0; a loop counts from where it enters the part.
        length: bars of the part as played.
        key: the key that holds in it.
        meter: the meter of its part; the bar's own may differ.
        tempo: its part's own tempo, or None.
        style: its part's own style, or None.
        origin: the bar of the form that it comes from, in intros and tags too; None without one.
        pickup: the pickup that leads to it, as a bar of its own, or None.
        joined: how the bar came to its pickup, or None without one in its end.

    """

    bar: Bar
    part: str
    form_index: int
    index: int
    length: int
    key: Key
    meter: Meter
    tempo: Tempo | None
    style: str | None
    origin: Origin | None = None
    pickup: SequencedBar | None = None
    joined: Joined | None = None

    @property
    def is_intro(self) -> bool:
        """Whether it lies before the form, in no part of the chart."""
        return self.form_index < 0

    @property
    def home(self) -> Origin | None:
        """Its origin where it is played as that very bar; None in an intro, a tag, an ending."""
        own = self.origin is not None and self.origin.form_index == self.form_index
        return self.origin if own else None

    @property
    def name(self) -> BarName:
        """What a player calls it; in a loop it has the name that it has in the form."""
        if (home := self.home) is None:
            return self.part, 0, self.index
        return home.part, home.occurrence, max(home.index, 0)

    @property
    def is_part_start(self) -> bool:
        """Whether a part begins here."""
        return self.index == 0 and not self.bar.pickup

    @property
    def is_part_end(self) -> bool:
        """Whether a part ends here."""
        return self.index == self.length - 1 and not self.bar.pickup

    @property
    def alone(self) -> SequencedBar:
        """The bar as written, without the pickup in its end."""
        return replace(self, bar=self.joined.before, joined=None) if self.joined else self

    def source(self, span: int) -> tuple[SequencedBar, int]:
        """Return the bar as written from which a chord comes, and which chord of it that is.

        Args:
            span: which chord of this bar, from 0.

        """
        if self.joined is None:
            return self, span
        if span < self.joined.own:
            return self.alone, span
        pickup = self.joined.pickup
        return pickup, span - len(self.bar.chords) + len(pickup.bar.chords)

    def chord_place(self, span: int) -> ChordPlace | None:
        """Return where in the chart a chord of this bar is written; None in no part of it.

        Args:
            span: which chord of this bar, from 0.

        """
        bar, number = self.source(span)
        return (bar.origin.part, bar.origin.written, number) if bar.origin else None

    def led_into(self, pickup: SequencedBar | None) -> SequencedBar:
        """Return the bar with a pickup in its end, where there is one and it can be.

        Args:
            pickup: the pickup of what follows, as a bar of its own.

        """
        if pickup is None:
            return self
        before = self.alone.bar
        found = with_pickup(before, self.meter, pickup.bar)
        if found is None:
            return self
        bar, own = found
        return replace(self, bar=bar, joined=Joined(before, pickup, own))

    def lacks(self, pickup: SequencedBar) -> bool:
        """Whether it is short by just the length of a pickup in the meter of its part."""
        return fills(self.alone.bar, self.meter, pickup.bar)


def once_round(chart: Chart, *, first: bool = True, last: bool = True) -> tuple[SequencedBar, ...]:
    """Return the bars of one chorus in performance order.

    Args:
        chart: the chart.
        first: whether it is the first chorus; then it begins with the pickup, if there is one.
        last: whether it is the last chorus; the bar before another one ends with its pickup.

    """
    every = every_time(chart)
    sequence = [] if first else _part_of_form(chart, every.stop - 1)[-1:]
    for form_index in range(0 if first else every.start, len(chart.order) if last else every.stop):
        for each in _part_of_form(chart, form_index):
            if each.pickup:
                _lead_into(sequence, each.pickup, begins=each.index == 0)
            sequence.append(each)
    if not last:
        pickup = _part_of_form(chart, every.start)[0].pickup
        if pickup and not sequence[-1].lacks(pickup):
            sequence[-1] = sequence[-1].led_into(pickup)
    return tuple(sequence[0 if first else 1 :])


def _lead_into(sequence: list[SequencedBar], pickup: SequencedBar, *, begins: bool) -> None:
    """Put a pickup before the bar that comes: a bar of its own, or the end of the last one."""
    if not sequence or (begins and sequence[-1].lacks(pickup)):
        sequence.append(pickup)
    else:
        sequence[-1] = sequence[-1].led_into(pickup)


def _part_of_form(chart: Chart, form_index: int) -> list[SequencedBar]:
    """Return a part of the form as played; its pickup is that of the bars to which it leads.

    They are its first bar, and that of every time round of a repeat at its start.
    """
    part = chart.part(chart.order[form_index])
    occurrence = chart.order[:form_index].count(part.name)
    bars, played = list(part.written()), list(unrolled(part))

    def sequenced(index: int, written: int) -> SequencedBar:
        return SequencedBar(
            bar=bars[written],
            part=part.name,
            form_index=form_index,
            index=max(index, 0),
            length=len(played),
            key=part.key or chart.key,
            meter=part.meter or chart.meter,
            tempo=part.tempo,
            style=part.style,
            origin=Origin(part.name, form_index, occurrence, index, written),
        )

    found = [sequenced(index, written) for index, written in enumerate(played)]
    if part.pickup is None:
        return found
    pickup, first = sequenced(-1, 0), played[0]
    return [
        replace(each, pickup=pickup) if written == first else each
        for each, written in zip(found, played, strict=True)
    ]


def unrolled(part: Part) -> Iterator[int]:
    """Yield each bar of a part as played, repeats and endings carried out, without the pickup.

    A bar is its place in the part as written (`Part.written`), from 0, the pickup counted.
    """
    start = 0
    for section in part.sections:
        if isinstance(section, Bar):
            if not section.pickup:
                yield start
            start += 1
            continue
        first_ending = start + len(section.bars)
        for time in range(1, section.times + 1):
            yield from range(start, first_ending)
            at = first_ending
            for ending in section.endings:
                if time in ending.times:
                    yield from range(at, at + len(ending.bars))
                at += len(ending.bars)
        start = first_ending + sum(len(ending.bars) for ending in section.endings)


def played_bars(part: Part) -> list[Bar]:
    """Return every bar of a part as played, repeats and endings carried out, without the pickup."""
    written = list(part.written())
    return [written[each] for each in unrolled(part)]


def without_pickups(sequence: Sequence[SequencedBar]) -> list[SequencedBar]:
    """Return a sequence whose pickups lie in the bars before them; one without is left out."""
    found: list[SequencedBar] = []
    for each in sequence:
        if not each.bar.pickup:
            found.append(each)
        elif found:
            found[-1] = found[-1].led_into(each)
    return found


def loop_of(
    chart: Chart, first: int, last: int, *, again: bool = False
) -> tuple[SequencedBar, ...]:
    """Return some bars of the whole form, to go round by themselves.

    A part that is cut begins anew: its bars are counted from where the loop enters it.

    Args:
        chart: the chart.
        first: the first bar, from 0 through the whole form without its pickup.
        last: the last bar, itself in the loop; beyond the end it is the end.
        again: whether the loop comes once more behind its last bar.

    """
    whole = without_pickups(once_round(chart))
    bars = whole[max(first, 0) : last + 1] or whole
    bars[-1] = bars[-1].alone.led_into(bars[0].pickup if again else None)
    parts = [list(group) for _, group in groupby(bars, key=lambda each: each.form_index)]
    return tuple(
        replace(each, index=index, length=len(part))
        for part in parts
        for index, each in enumerate(part)
    )


def length_in_bars(chart: Chart) -> int:
    """Return the bars of the whole form, every part in it once round, without pickups."""
    return sum(chart.part(name).length() for name in chart.order)


def opens(name: str) -> bool:
    """Whether a part of this name is played the first time round only."""
    return name.lower() in _FIRST_TIME


def every_time(chart: Chart) -> range:
    """Return which parts of the form, from 0, are played every time round."""
    names = chart.order
    start, end = 0, len(names)
    while start < end and opens(names[start]):
        start += 1
    while end > start and names[end - 1].lower() in _LAST_TIME:
        end -= 1
    # nothing but intros and tags: play them all
    return range(len(names)) if start == end else range(start, end)


def part_label(name: str, occurrence: int) -> str:
    """Return what players call a part that comes several times: A, then A 2 for the second A.

    Args:
        name: its name.
        occurrence: which part of that name in the form it is, from 0.

    """
    return f"{name} {occurrence + 1}" if occurrence else name


def has_closing_part(chart: Chart) -> bool:
    """Whether the form ends with a part that is played the last time only."""
    return every_time(chart).stop < len(chart.order)
