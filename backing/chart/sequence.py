"""The bars of a chart in performance order, once round.

Conventions: parts called Intro at the start of the form are played only the first time round; parts
called Tag, Outro or Coda at its end only the last time. A pickup is a bar of its own before the
first bar, and after a bar that is short by exactly its length. Elsewhere it is inside the bar
before its part, each time the part or a repeat at its start begins (see `pickups`).
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
"""A bar as players name it: its part, the occurrence of the part, the bar in it, from 0."""

ChordPlace = tuple[str, int, int]
"""A chord of the chart: its part, its bar as written, its index in the bar, from 0."""


@dataclass(frozen=True, slots=True)
class Origin:
    """The bar of the form that a bar comes from.

    Attributes:
        part: the name of its part.
        form_index: the index of the part in the form, from 0.
        occurrence: how many parts of that name come before it in the form.
        index: its index in the part as played, from 0; -1 for the pickup.
        written: its index in the part as written (`Part.written`), from 0, including the pickup.

    """

    part: str
    form_index: int
    occurrence: int
    index: int
    written: int


@dataclass(frozen=True, slots=True)
class Joined:
    """The parts of a bar with a pickup in its end.

    Attributes:
        before: the bar as written, without the pickup.
        pickup: the pickup as a bar of its own.
        own: how many of the bar's chords are its own; the others are the last of the pickup.

    """

    before: Bar
    pickup: SequencedBar
    own: int


@dataclass(frozen=True, slots=True)
class SequencedBar:
    """A bar in performance order.

    Attributes:
        bar: the bar as played: as written, or with the next pickup in its end.
        part: the name of its part.
        form_index: the index of its part in the form, from 0; negative before the form, and higher
            than the last part's after it.
        index: its index in the part as played, from 0; a loop counts from where it enters the part.
        length: the length of the part as played, in bars.
        key: the key in this bar.
        meter: the meter of its part; the bar's own may differ.
        tempo: its part's own tempo, or None.
        style: its part's own style, or None.
        origin: the bar of the form that it comes from, also in intros and tags, or None.
        pickup: the pickup before it, as a bar of its own, or None.
        joined: the bar and the pickup in its end, or None without one.

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
        """Whether it is before the form."""
        return self.form_index < 0

    @property
    def home(self) -> Origin | None:
        """Its origin if it is played in its place in the form; None in an intro, tag or ending."""
        own = self.origin is not None and self.origin.form_index == self.form_index
        return self.origin if own else None

    @property
    def name(self) -> BarName:
        """Its name for players; in a loop, its name in the form."""
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
        """Return the written bar of a chord, and the index of the chord in it.

        Args:
            span: the index of a chord in this bar, from 0.

        """
        if self.joined is None:
            return self, span
        if span < self.joined.own:
            return self.alone, span
        pickup = self.joined.pickup
        return pickup, span - len(self.bar.chords) + len(pickup.bar.chords)

    def chord_place(self, span: int) -> ChordPlace | None:
        """Return where in the chart a chord of this bar is written, or None without an origin.

        Args:
            span: the index of a chord in this bar, from 0.

        """
        bar, number = self.source(span)
        return (bar.origin.part, bar.origin.written, number) if bar.origin else None

    def led_into(self, pickup: SequencedBar | None) -> SequencedBar:
        """Return the bar with a pickup in its end, or unchanged if that is impossible.

        Args:
            pickup: the next pickup, as a bar of its own, or None.

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
        """Whether it is short by exactly the length of a pickup in the meter of its part."""
        return fills(self.alone.bar, self.meter, pickup.bar)


def once_round(chart: Chart, *, first: bool = True, last: bool = True) -> tuple[SequencedBar, ...]:
    """Return the bars of one chorus in performance order.

    Args:
        chart: the chart.
        first: whether it is the first chorus, which begins with the pickup.
        last: whether it is the last chorus; any other ends with the pickup of the next.

    """
    every = every_time(chart)
    sequence = [] if first else _part_of_form(chart, every.stop - 1)[-1:]
    for form_index in range(0 if first else every.start, len(chart.order) if last else every.stop):
        for each in _part_of_form(chart, form_index):
            pickup = each.pickup
            if pickup and (not sequence or (each.index == 0 and sequence[-1].lacks(pickup))):
                sequence.append(pickup)
            elif pickup:
                sequence[-1] = sequence[-1].led_into(pickup)
            sequence.append(each)
    if not last:
        pickup = _part_of_form(chart, every.start)[0].pickup
        if pickup and not sequence[-1].lacks(pickup):
            sequence[-1] = sequence[-1].led_into(pickup)
    return tuple(sequence[0 if first else 1 :])


def _part_of_form(chart: Chart, form_index: int) -> list[SequencedBar]:
    """Return the bars of a part of the form as played.

    Its pickup is that of its first bar, each time a repeat at its start plays this bar.
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
    """Yield the bars of a part as played, with repeats and endings, without the pickup.

    Each is its index in the part as written (`Part.written`), from 0, including the pickup.
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
    """Return the bars of a part as played, with repeats and endings, without the pickup."""
    written = list(part.written())
    return [written[each] for each in unrolled(part)]


def without_pickups(sequence: Sequence[SequencedBar]) -> list[SequencedBar]:
    """Return a sequence with pickups inside the bars before them; drop a pickup at the start."""
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
    """Return a loop of bars of the whole form.

    The bars of a part are counted from where the loop enters it.

    Args:
        chart: the chart.
        first: the first bar, from 0 through the whole form without pickups.
        last: the last bar, inclusive, at most the end of the form.
        again: whether the loop is repeated after its last bar.

    """
    form = without_pickups(once_round(chart))
    bars = form[max(first, 0) : last + 1] or form
    bars[-1] = bars[-1].alone.led_into(bars[0].pickup if again else None)
    parts = [list(group) for _, group in groupby(bars, key=lambda each: each.form_index)]
    return tuple(
        replace(each, index=index, length=len(part))
        for part in parts
        for index, each in enumerate(part)
    )


def length_in_bars(chart: Chart) -> int:
    """Return the number of bars of the whole form once round, without pickups."""
    return sum(chart.part(name).length() for name in chart.order)


def opens(name: str) -> bool:
    """Whether a part of this name is played only the first time round."""
    return name.lower() in _FIRST_TIME


def every_time(chart: Chart) -> range:
    """Return the indices of the parts of the form that are played every time round."""
    names = chart.order
    start, end = 0, len(names)
    while start < end and opens(names[start]):
        start += 1
    while end > start and names[end - 1].lower() in _LAST_TIME:
        end -= 1
    # a form of intros and tags only is played whole
    return range(len(names)) if start == end else range(start, end)


def part_label(name: str, occurrence: int) -> str:
    """Return the label of a part for players: A, then A 2 for the second A.

    Args:
        name: its name.
        occurrence: how many parts of that name come before it in the form.

    """
    return f"{name} {occurrence + 1}" if occurrence else name


def has_closing_part(chart: Chart) -> bool:
    """Whether the form ends with a part that is played only the last time."""
    return every_time(chart).stop < len(chart.order)
