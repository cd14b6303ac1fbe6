"""Writes the parts of a chart: chords extended from sign to sign, and the melody.

Conventions: a bar without a chord sign continues the chord before it in performance order; before
the first sign there is no chord (N.C.). A part whose first bar has no sign and that follows several
different chords is written once for each. A pickup's chords are written in the pickup alone:
`chart/sequence.py` puts them in the bar before, whenever the part or its first repeat begins again.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from itertools import chain, pairwise
from typing import TYPE_CHECKING

from backing.chart.melody import MelodyPart, one_line
from backing.chart.model import COMMON_TIME, Bar, ChordSpan, Ending, Part, Repeat
from backing.chart.write import Comment
from backing.scores.sections import Section, endings_in_order
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from backing.chart.melody import MelodyNote
    from backing.harmony.chord import Chord
    from backing.scores.normalise import Group
    from backing.scores.tune import Remark, Remarks, Tune, TuneBar

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
    passes = [section.pass_of(section.times) for section in group.sections]
    signs = [sign for bar in (group.first_bar, *chain(*passes)) for sign in bar.chords]
    return signs[-1].chord if signs else before


def _copy(group: Group, taken: set[str]) -> Group:
    """Return a copy of a part under a name that is not taken; the name is added to `taken`."""
    number = 2
    while f"{group.name}{number}".lower() in taken:
        number += 1
    taken.add(f"{group.name}{number}".lower())
    return replace(group, name=f"{group.name[:20]}{number}")


_OTHER_TEMPO = "a tempo change inside a part is left out: a part has one tempo"
_OTHER_CHORD = (
    "it has no chord sign and follows another chord the next time: the repeat is written out"
)


def host_meter(meter: Meter, meters: frozenset[Meter] | None) -> Meter:
    """Return the meter for the head of a chart or part; bars in another meter name their own.

    Args:
        meter: the meter of the music.
        meters: the meters that styles play, or None to allow any.
    """
    if meters is None or meter in meters:
        return meter
    return Meter(3, 4) if meter.count == 3 else COMMON_TIME


class PartWriter:
    """Writes the parts of a chart and their melodies.

    Attributes:
        melodies: the melody of each part written so far.

    """

    def __init__(self, tune: Tune, meters: frozenset[Meter] | None, remarks: Remarks) -> None:
        self.melodies: list[MelodyPart] = []
        self._tune = tune
        self._meters = meters
        self._remarks = remarks
        self._chord: Chord | None = None
        self._places: dict[int, tuple[str, int]] = {}
        self._meter = host_meter(tune.meter, meters)

    def parts(self, groups: list[Group], entries: dict[str, Chord | None]) -> tuple[Part, ...]:
        """Return the chart's parts.

        Args:
            groups: the parts in written order.
            entries: the chord before each played part, by its name.

        """
        written = []
        for group in groups:
            self._chord = entries.get(group.name, self._chord)
            written.append(self._part(group))
        return tuple(written)

    def _part(self, group: Group) -> Part:
        sections: list[Bar | Repeat] = []
        melody: list[tuple[MelodyNote, ...]] = []
        first = group.sections[0]
        opening = _first_bar(group)
        meter = host_meter(opening.meter, self._meters)
        if first.pickup:
            sections.append(self._pickup(first.pickup, meter))
            melody.append(self._line(first.pickup, group.name, len(melody)))
        for section in group.sections:
            for piece in self._pieces(section):
                sections = _followed_by(sections, self._section(piece))
                for bar in piece.bars():
                    melody.append(self._line(bar, group.name, len(melody)))
        self.melodies.append(MelodyPart(group.name, tuple(melody)))
        tempo, others = group.tempi()
        for bar in others:
            self._remarks.at(bar, _OTHER_TEMPO)
        return Part(
            name=group.name,
            sections=tuple(sections),
            key=opening.key if opening.key != self._tune.key else None,
            meter=meter if meter != self._meter else None,
            tempo=tempo,
        )

    def _line(self, bar: TuneBar, part: str, index: int) -> tuple[MelodyNote, ...]:
        """Return the melody of a bar, and remember where in the chart the bar is."""
        self._places.setdefault(bar.number, (part, index))
        return one_line(bar.notes)

    def comments(self, remarks: Iterable[Remark]) -> Iterator[Comment]:
        """Yield the remarks as comments on bars of the chart.

        A remark whose bar is not in the chart goes to the bar before it in the source.
        """
        numbers = sorted(self._places)
        for remark in remarks:
            if remark.number is None:
                text = f"{remark.place}: {remark.text}" if remark.place else remark.text
                yield Comment(text)
            else:
                before = max(bisect_right(numbers, remark.number) - 1, 0)
                yield Comment(remark.text, *self._places[numbers[before]], remark.place)

    def _pieces(self, section: Section) -> Iterator[Section]:
        """Yield a section, its first pass written out where it begins with another chord.

        It does where its first bar has no sign, and the chord before the repeat is not the one
        before the later passes. More passes are written out until a chart can hold the endings.
        """
        is_apart = False
        while section.times > 1:
            once = section.pass_of(1)
            first = once[0]
            goes_on = not first.chords or first.chords[0].tick > 0
            is_other = goes_on and self._before_later_times(section) != {self._chord}
            if not is_other and not (is_apart and section.pickup) and endings_in_order(section):
                break
            if not is_apart:
                self._remarks.at(first, _OTHER_CHORD)
            is_apart = True
            yield Section(section.label, section.with_pickup_behind(once))
            section = section.without_first_pass()
        yield section

    def _before_later_times(self, section: Section) -> set[Chord | None]:
        """Return the chords that precede the later passes of a repeat."""
        if section.pickup and any(sign.chord for sign in section.pickup.chords):
            return {section.pickup.chords[-1].chord}
        signs = [
            [sign.chord for bar in section.pass_of(time) for sign in bar.chords]
            for time in range(1, section.times)
        ]
        return {chords[-1] if chords else self._chord for chords in signs}

    def _section(self, section: Section) -> list[Bar] | list[Repeat]:
        body = [self._bar(bar) for bar in section.body]
        if section.times < 2 or (not body and not section.endings):
            return body
        behind = self._chord
        endings = []
        for times, bars in section.endings:
            self._chord = behind
            endings.append(Ending(times, tuple(self._bar(bar) for bar in bars)))
        return [Repeat(tuple(body), section.times, tuple(endings))]

    def _pickup(self, bar: TuneBar, meter: Meter) -> Bar:
        """Return a pickup; without a chord sign it is silent (N.C.)."""
        if bar.meter.bar_ticks >= meter.bar_ticks:  # as long as a bar of the part
            return self._bar(bar)
        before, self._chord = self._chord, None
        spans = self._spans(bar)
        self._chord = self._chord if bar.chords else before
        return Bar(bar.meter, spans, pickup=True)

    def _bar(self, bar: TuneBar) -> Bar:
        return Bar(bar.meter, self._spans(bar))

    def _spans(self, bar: TuneBar) -> tuple[ChordSpan, ...]:
        """Return the chords of a bar, each lasting to the next sign."""
        found = {0: self._chord}
        for sign in bar.chords:
            if sign.chord or not sign.tick or found[max(found)]:  # one N.C. is enough
                found[sign.tick] = sign.chord
        starts = sorted(found)
        spans = tuple(
            ChordSpan(start, end - start, found[start])
            for start, end in pairwise([*starts, bar.meter.bar_ticks])
        )
        self._chord = spans[-1].chord
        return spans


def _followed_by(
    sections: list[Bar | Repeat], piece: list[Bar] | list[Repeat]
) -> list[Bar | Repeat]:
    """Return sections with a piece: plain bars or a repeat.

    Bars after the last ending are added to it, for a chart has no sign between the two.
    """
    last = sections[-1] if sections else None
    bars = [each for each in piece if isinstance(each, Bar)]
    if not bars or not isinstance(last, Repeat) or not last.endings:
        return [*sections, *piece]
    *others, ending = last.endings
    longer = replace(ending, bars=(*ending.bars, *bars))
    return [*sections[:-1], replace(last, endings=(*others, longer))]
