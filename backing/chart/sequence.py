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

from backing.chart.model import Repeat
from backing.chart.pickups import fills, with_pickup

if TYPE_CHECKING:
    from backing.chart.model import Bar, Chart, Part
    from backing.chart.pickups import Joined
    from backing.harmony.key import Key
    from backing.timing import Meter, Tempo

_FIRST_TIME = {"intro"}
_LAST_TIME = {"tag", "outro", "coda"}


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
        origin: where the form has it, in loops, intros and tags too: the part's index in the form,
            and the bar in that part as played, from 0, with -1 for the pickup. (-1, 0) is a bar
            that no part holds.
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
    origin: tuple[int, int] = (-1, 0)
    joined: Joined | None = None

    @property
    def is_intro(self) -> bool:
        """Whether it lies before the form, in no part of the chart."""
        return self.form_index < 0

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

    def led_into(self, pickup: SequencedBar | None, *, always: bool = False) -> SequencedBar:
        """Return the bar with a pickup in its end, where there is one and it can be.

        Args:
            pickup: the pickup of what follows, as a bar of its own.
            always: whether it sounds even where the bar has a stop, a hold or a break.

        """
        if pickup is None:
            return self
        found = with_pickup(self, pickup, always=always)
        return replace(self, bar=found[0], joined=found[1]) if found else self


def once_round(chart: Chart, *, first: bool = True, last: bool = True) -> tuple[SequencedBar, ...]:
    """Return the bars of one chorus in playing order.

    Args:
        chart: the chart.
        first: whether it is the first chorus; then it begins with the pickup, if there is one.
        last: whether it is the last chorus; the bar before another one ends with its pickup.

    """
    every = every_time(chart)
    sequence: list[SequencedBar] = [] if first else [_end_of(chart, every.stop - 1)]
    form_indices = range(0 if first else every.start, len(chart.order) if last else every.stop)
    for form_index in form_indices:
        part = chart.part(chart.order[form_index])
        pickup, starts = _pickup(chart, form_index), starts_of(part)
        for index, bar in enumerate(part.played()):
            if pickup and index in starts:
                _lead_into(sequence, pickup, begins=index == 0)
            sequence.append(_sequenced_bar(chart, part, form_index, index, bar))
    if not last:
        pickup = _pickup(chart, every.start)
        if pickup and not fills(sequence[-1], pickup):
            sequence[-1] = sequence[-1].led_into(pickup)
    return tuple(sequence[0 if first else 1 :])


def _lead_into(sequence: list[SequencedBar], pickup: SequencedBar, *, begins: bool) -> None:
    """Put a pickup before the bar that comes: a bar of its own, or the end of the last one."""
    if not sequence or (begins and fills(sequence[-1], pickup)):
        sequence.append(pickup)
    else:
        sequence[-1] = sequence[-1].led_into(pickup)


def _end_of(chart: Chart, form_index: int) -> SequencedBar:
    """Return the last bar of a part of the form."""
    part = chart.part(chart.order[form_index])
    *_, bar = part.played()
    return _sequenced_bar(chart, part, form_index, part.length() - 1, bar)


def _pickup(chart: Chart, form_index: int) -> SequencedBar | None:
    """Return the pickup of a part of the form as a bar of its own."""
    part = chart.part(chart.order[form_index])
    return _sequenced_bar(chart, part, form_index, -1, part.pickup) if part.pickup else None


def pickup_before(chart: Chart, bar: SequencedBar) -> SequencedBar | None:
    """Return the pickup that leads to a bar, wherever that is played; None without one."""
    form_index, index = bar.origin
    leads = form_index >= 0 and index in starts_of(chart.part(chart.order[form_index]))
    return _pickup(chart, form_index) if leads else None


def starts_of(part: Part) -> frozenset[int]:
    """Return the bars of a part as played, from 0, to which its pickup leads.

    They are its first bar, and that of every time round of a repeat at its start.
    """
    first = next(each for each in part.sections if isinstance(each, Repeat) or not each.pickup)
    if not isinstance(first, Repeat):
        return frozenset({0})
    starts, at = set(), 0
    for time in range(1, first.times + 1):
        starts.add(at)
        endings = (len(each.bars) for each in first.endings if time in each.times)
        at += len(first.bars) + sum(endings)
    return frozenset(starts)


def without_pickups(sequence: tuple[SequencedBar, ...]) -> list[SequencedBar]:
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
    bars[-1] = bars[-1].alone.led_into(pickup_before(chart, bars[0]) if again else None)
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


def _sequenced_bar(chart: Chart, part: Part, form_index: int, index: int, bar: Bar) -> SequencedBar:
    """Return a bar of a part of the form by its place in the part as played, -1 for its pickup."""
    return SequencedBar(
        bar=bar,
        part=part.name,
        form_index=form_index,
        index=max(index, 0),
        length=part.length(),
        key=part.key or chart.key,
        meter=part.meter or chart.meter,
        tempo=part.tempo,
        style=part.style,
        origin=(form_index, index),
    )
