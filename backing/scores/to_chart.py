"""From a tune to a chart and its melody.

Conventions: a part begins at a label, a repeat, a double bar line or another key or meter; parts
without a label are called A, B, C. A bar without a sign goes on with the chord before; before the
first sign there is none (N.C.).
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from backing.chart.grooves import usual_style
from backing.chart.melody import Melody, MelodyPart, one_line
from backing.chart.model import (
    COMMON_TIME,
    MOST_BARS,
    Bar,
    Chart,
    ChordSpan,
    Ending,
    Part,
    Repeat,
)  # fmt: skip
from backing.chart.write import Comment
from backing.errors import BackingError
from backing.scores.entries import with_entries
from backing.scores.order import ordered
from backing.scores.pickups import with_pickups
from backing.scores.remarks import numbered, told
from backing.scores.scale import scaled
from backing.scores.sections import Section, carried_out, sections_of, tell_jumps, unreached
from backing.scores.tune import TuneChord
from backing.scores.whole import Group, WholeSection, meter_of_most, whole_section
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from backing.chart.grooves import Styles
    from backing.chart.melody import MelodyNote
    from backing.harmony.chord import Chord
    from backing.scores.remarks import Remarks
    from backing.scores.tune import Remark, Tune, TuneBar
    from backing.timing import Tempo

_RHYTHMS = {
    "reel": "reel", "jig": "jig", "double jig": "jig", "slip jig": "slip-jig",
    "hornpipe": "hornpipe", "polka": "polka", "march": "march", "waltz": "waltz", "rag": "rag",
    "swing": "swing", "shuffle": "shuffle", "ballad": "ballad", "slow air": "ballad",
    "air": "ballad", "bossa nova": "bossa-nova", "rumba": "rumba", "boogie": "boogie",
    "bluegrass": "bluegrass", "breakdown": "bluegrass", "two-step": "two-beat",
}  # fmt: skip
"""Which groove suits a kind of tune (common practice, no source)."""

_OTHER_TEMPO = "a tempo that begins inside a part: left out, for a part has one"
_OTHER_CHORD = (
    "without a sign it goes on with another chord the next time: the repeat is written out"
)
_MOST_PARTS = 200


class TuneError(BackingError):
    """A tune that no chart can hold."""


@dataclass(frozen=True, slots=True)
class Converted:
    """What a tune became.

    Attributes:
        chart: the chart.
        melody: its melody; without parts where the tune has no notes.
        remarks: what was mended, moved or written out, each with its place in the source.
        comments: the same with the bars of the chart that they are about.

    """

    chart: Chart
    melody: Melody
    remarks: tuple[str, ...]
    comments: tuple[Comment, ...]


def to_chart(tune: Tune, styles: Styles | None = None) -> Converted:
    """Return the chart of a tune and its melody.

    Args:
        tune: the tune.
        styles: the meters that each style plays; then a tune in a meter that none plays is written
            in notes twice or half as long, or bar by bar. None to leave meters as they are.

    Raises:
        TuneError: when it has more bars or parts than a chart can hold.

    """
    bars, remarks = numbered(tune)
    meters = frozenset(meter for each in styles.values() for meter in each) if styles else None
    bars = meter_of_most(bars, remarks)
    if meters is not None:
        tune, bars = scaled(tune, bars, meters, remarks)
    sections = with_pickups(_split_at_changes(sections_of(bars, remarks)))
    played = sections if tune.order else with_pickups(carried_out(sections, remarks))
    if tune.order:
        tell_jumps(bars, remarks)
    groups, order = _groups(played, unreached(sections, played, remarks), tune, remarks)
    groups, order, entries = with_entries(groups, order, remarks)
    writer = _Writer(tune, meters, remarks)
    parts = writer.parts(groups, order, entries)
    chart = writer.chart(parts, order, styles)
    melody = Melody(tuple(writer.melodies)) if any(map(_has_notes, writer.melodies)) else Melody(())
    return Converted(chart, melody, told(remarks.found), tuple(writer.comments(remarks.found)))


def _has_notes(part: MelodyPart) -> bool:
    return any(part.bars)


def _split_at_changes(sections: list[Section]) -> list[Section]:
    """Part plain sections where the key changes, or the meter for good, for a part has one.

    In a tune with labels a part ends at the next label, whatever its meters do.
    """
    labelled = any(section.label for section in sections)
    found: list[Section] = []
    for section in sections:
        if section.times > 1 or section.endings:
            found.append(section)
            continue
        start = 0
        for index, (before, bar) in enumerate(pairwise(section.body), 1):
            meter = section.body[start].meter
            other = not labelled and bar.meter != meter and _lasts(section.body[index:])
            if bar.key != before.key or other:
                found.append(_piece(section, start, index))
                start = index
        found.append(_piece(section, start, len(section.body)))
    return found


def _piece(section: Section, start: int, end: int) -> Section:
    label = "" if start else section.label
    whole = end - start == len(section.body)
    return section if whole else Section(label, section.body[start:end])


def _lasts(bars: Sequence[TuneBar]) -> bool:
    """Whether the meter of the first bar holds for at least four."""
    return len(bars) >= 4 and all(each.meter == bars[0].meter for each in bars[:4])


def _groups(
    played: list[Section], spare: list[Section], tune: Tune, remarks: Remarks
) -> tuple[list[Group], tuple[str, ...]]:
    """Return the parts, and the names of those that are played in playing order."""
    done: dict[int, Group] = {}
    groups: list[Group] = []
    form: list[Group] = []
    by_label: dict[str, list[Group]] = {}
    names = _Names([*played, *spare])
    label = ""
    for index, section in enumerate([*played, *spare]):
        label = section.label or label
        if id(section) in done:
            form.append(done[id(section)])
            continue
        whole = whole_section(section, remarks)
        if not (whole.body or whole.endings):
            _lone_pickup(whole, remarks)
            if not whole.body:
                continue
        same_part = not section.label and label and groups and form[-1:] == groups[-1:]
        same_part = same_part and form.count(groups[-1]) == 1  # what it gets is played each time
        if same_part and not whole.pickup and _joins(groups[-1], whole):
            done[id(section)] = groups[-1]
            continue
        group = Group("", [whole])
        if twin := _twin(groups, group):
            tempo, _ = _tempi(group)
            if tempo and tempo != (_tempi(twin)[0] or tune.tempo):
                bar = whole.pickup or whole.bars()[0]
                remarks.at(bar, f"part {twin.name} comes in another tempo: left out")
            group = twin
        else:
            group.name = names.name(section.label or label)
            groups.append(group)
        if len(groups) > _MOST_PARTS:
            raise TuneError(
                f"the tune has more than {_MOST_PARTS} parts: a chart has at most that many; take "
                "double bar lines away"
            )
        form += [group] * (index < len(played))
        done[id(section)] = group
        if label:
            by_label.setdefault(label, []).append(group)
    if tune.order:
        form = ordered(tune.order, by_label, form, remarks)
    return groups, tuple(group.name for group in form)


def _joins(group: Group, whole: WholeSection) -> bool:
    """Let a section join a part; False where it cannot, since its key or meter is another.

    Bars behind the last of some endings belong to it, for a chart has no sign between them.
    """
    before = group.sections[-1]
    last, first = before.bars(), whole.bars()[0]
    if last and (last[-1].key != first.key or last[-1].meter != first.meter):
        return False
    if not before.endings or whole.times > 1 or whole.endings:
        group.sections.append(whole)
        return True
    times, bars = before.endings[-1]
    bars += whole.body if len(times) == 1 else []
    return len(times) == 1


def _lone_pickup(whole: WholeSection, remarks: Remarks) -> None:
    """Make a bar of a pickup that nothing follows."""
    if whole.pickup:
        remarks.at(whole.pickup, "a short bar stands alone: taken as a bar")
        whole.body, whole.pickup = [whole.pickup], None


def _twin(groups: list[Group], group: Group) -> Group | None:
    """Return the part that is the very same music, if there is one."""
    mine = _essence(group)
    return next((each for each in groups if _essence(each) == mine), None)


def _essence(group: Group) -> list[object]:
    def bar(each: TuneBar) -> object:
        return (each.meter, each.key, each.ticks, each.chords, each.notes)

    return [
        (
            bar(each.pickup) if each.pickup else None,
            [bar(b) for b in each.body],
            [(times, [bar(b) for b in bars]) for times, bars in each.endings],
            each.times,
        )
        for each in group.sections
    ]


class _Names:
    """Gives parts their names, each once."""

    def __init__(self, sections: Sequence[Section]) -> None:
        self._taken = {_clean(each.label).lower() for each in sections if each.label}
        self._given: set[str] = set()
        self._letters = self._all_letters()

    @staticmethod
    def _all_letters() -> Iterator[str]:
        letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
        yield from letters
        for first in letters:
            for second in letters:
                yield first + second

    def name(self, label: str) -> str:
        """Return a name that is still free: the label itself where it is."""
        wished = _clean(label)
        if not wished:
            wished = next(each for each in self._letters if each.lower() not in self._taken)
        name, number = wished, 1
        while name.lower() in self._given:
            number += 1
            name = f"{wished[:20]}{number}"
        self._given.add(name.lower())
        return name


def _clean(label: str) -> str:
    """Return a label as the name of a part; "" where nothing is left of it."""
    plain = re.sub(r"[^A-Za-z0-9'-]+", "-", label).strip("-")
    plain = re.sub(r"^(?:part|section)-(?=.)", "", plain, flags=re.I)
    return plain[:22].strip("-") if re.match("[A-Za-z]", plain) else ""


class _Writer:
    """Writes parts with their chords spread over bars.

    Attributes:
        melodies: the melody of each part that was written.

    """

    def __init__(self, tune: Tune, meters: frozenset[Meter] | None, remarks: Remarks) -> None:
        self.melodies: list[MelodyPart] = []
        self._tune = tune
        self._meters = meters
        self._remarks = remarks
        self._chord: Chord | None = None
        self._places: dict[int, tuple[str, int]] = {}
        self._meter = self._host(tune.meter)

    def _host(self, meter: Meter) -> Meter:
        """Return the meter of the head: bars of one that no style plays say theirs."""
        if self._meters is None or meter in self._meters:
            return meter
        return Meter(3, 4) if meter.count == 3 else COMMON_TIME

    def parts(
        self, groups: list[Group], order: tuple[str, ...], entries: dict[str, Chord | None]
    ) -> tuple[Part, ...]:
        """Return the chart's parts.

        Args:
            groups: the parts in written order.
            order: the names of those that are played, in playing order.
            entries: the chord before each part that is played.

        Raises:
            TuneError: when there are too many bars or parts.

        """
        following = _followers(groups, order)
        written = []
        for group in groups:
            self._chord = entries.get(group.name, self._chord)
            written.append(self._part(group, following[group.name]))
        parts = tuple(written)
        lengths = {part.name: part.length() for part in parts}
        total = sum(lengths[name] for name in order)
        if len(parts) > _MOST_PARTS or total > MOST_BARS:
            raise TuneError(
                f"the tune has {len(parts)} parts and {total} bars as played: a chart has at most "
                f"{_MOST_PARTS} parts and {MOST_BARS} bars; leave out repeats or parts"
            )
        return parts

    def chart(
        self, parts: tuple[Part, ...], order: tuple[str, ...], styles: Styles | None
    ) -> Chart:
        """Return the chart."""
        tune = self._tune
        form = order if order != tuple(part.name for part in parts) else ()
        style = _style(tune.rhythm, self._meter, styles)
        if style and styles:
            parts = tuple(_played_in(each, styles[style]) for each in parts)
        return Chart(
            title=tune.title or "Untitled",
            key=tune.key,
            parts=parts,
            form=form,
            meter=self._meter,
            tempo=tune.tempo,
            style=style,
            by=tune.composer,
            notes=tune.notes,
        )

    def _part(self, group: Group, following: list[WholeSection]) -> Part:
        sections: list[Bar | Repeat] = []
        melody: list[tuple[MelodyNote, ...]] = []
        first = group.sections[0]
        opening = (first.body or first.endings[0][1])[0]
        meter = self._host(opening.meter)
        if first.pickup:
            sections.append(self._pickup(first.pickup, meter))
            melody.append(self._line(first.pickup, group.name, len(melody)))
        for index, section in enumerate(group.sections):
            nexts = following if section is group.sections[-1] else [group.sections[index + 1]]
            _close_with_pickups(section, nexts)
            for piece in self._pieces(section):
                sections += self._section(piece)
                for bar in piece.bars():
                    melody.append(self._line(bar, group.name, len(melody)))
        self.melodies.append(MelodyPart(group.name, tuple(melody)))
        tempo, others = _tempi(group)
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
        """Return the melody of a bar, and note where in the chart it is."""
        self._places.setdefault(bar.number, (part, index))
        return one_line(bar.notes)

    def comments(self, remarks: Iterable[Remark]) -> Iterator[Comment]:
        """Yield the remarks, each with its bar of the chart.

        What became of no bar of its own stands at the bar before it in the source.
        """
        numbers = sorted(self._places)
        for remark in remarks:
            if remark.number is None:
                text = f"{remark.place}: {remark.text}" if remark.place else remark.text
                yield Comment(text)
            else:
                before = max(bisect_right(numbers, remark.number) - 1, 0)
                yield Comment(remark.text, *self._places[numbers[before]], remark.place)

    def _pieces(self, section: WholeSection) -> Iterator[WholeSection]:
        """Yield a section, its first time apart where it begins with another chord than later.

        That is so where its first bar has no sign, and the chord before the repeat is not the one
        that leads back. More times are apart until a chart can say the endings that are left.
        """
        is_apart = False
        while section.times > 1:
            once = section.pass_of(1)
            first = once[0]
            goes_on = not first.chords or first.chords[0].tick > 0
            is_other = goes_on and self._before_later_times(section) != {self._chord}
            if not is_other and not (is_apart and section.pickup) and section.is_in_order():
                break
            if not is_apart:
                self._remarks.at(first, _OTHER_CHORD)
            is_apart = True
            yield WholeSection(section.label, None, section.with_pickup_behind(once))
            section = section.without_first_pass()
        yield section

    def _before_later_times(self, section: WholeSection) -> set[Chord | None]:
        """Return the chords that a repeat goes on from whenever it is played again."""
        signs = [
            [sign.chord for bar in section.pass_of(time) for sign in bar.chords]
            for time in range(1, section.times)
        ]
        return {chords[-1] if chords else self._chord for chords in signs}

    def _section(self, section: WholeSection) -> Iterator[Bar | Repeat]:
        body = tuple(self._bar(bar) for bar in section.body)
        if section.times < 2 or (not body and not section.endings):
            yield from body
            return
        behind = self._chord
        endings = []
        for times, bars in section.endings:
            self._chord = behind
            endings.append(Ending(times, tuple(self._bar(bar) for bar in bars)))
        yield Repeat(body, section.times, tuple(endings))

    def _pickup(self, bar: TuneBar, meter: Meter) -> Bar:
        """Return a pickup; without a sign of its own it has no chord."""
        if bar.meter.bar_ticks >= meter.bar_ticks:  # the meter that hosts it is shorter
            return self._bar(bar)
        before, self._chord = self._chord, None
        spans = self._spans(bar)
        self._chord = self._chord if bar.chords else before
        return Bar(bar.meter, spans, pickup=True)

    def _bar(self, bar: TuneBar) -> Bar:
        return Bar(bar.meter, self._spans(bar))

    def _spans(self, bar: TuneBar) -> tuple[ChordSpan, ...]:
        """Return the chords of a bar, each from its sign to the next."""
        found = {0: self._chord}
        for sign in bar.chords:
            if sign.chord or not sign.tick or found[max(found)]:  # silence is said once
                found[sign.tick] = sign.chord
        starts = sorted(found)
        spans = tuple(
            ChordSpan(start, end - start, found[start])
            for start, end in pairwise([*starts, bar.meter.bar_ticks])
        )
        self._chord = spans[-1].chord
        return spans


def _played_in(part: Part, meters: frozenset[Meter]) -> Part:
    """Return a part with a groove of its own where that of the chart does not play its meter."""
    if part.meter is None or part.meter in meters:
        return part
    return replace(part, style=usual_style(part.meter))


def _followers(groups: list[Group], order: tuple[str, ...]) -> dict[str, list[WholeSection]]:
    """Return for each part the first sections of the parts that follow it."""
    firsts = {group.name: group.sections[0] for group in groups}
    found: dict[str, list[WholeSection]] = {group.name: [] for group in groups}
    for name, following in pairwise(order):
        found[name].append(firsts[following])
    return found


def _close_with_pickups(section: WholeSection, following: list[WholeSection]) -> None:
    """Give the last bars of a section the chord of the pickups that lie in them.

    Where the pickup of the way back has another chord than that of the way on, or none, the bar
    keeps its own.
    """
    back = [section] if section.times > 1 else []
    if not section.endings:
        _lay_pickup(section.body, back + following)
    for index, (_, bars) in enumerate(section.endings):
        last = index == len(section.endings) - 1
        _lay_pickup(bars, following if last else back)


def _lay_pickup(bars: list[TuneBar], nexts: list[WholeSection]) -> None:
    pickups = [each.pickup for each in nexts]
    if not bars or not pickups:
        return
    signs = {each.chords if each else () for each in pickups}
    first = pickups[0]
    if len(signs) != 1 or first is None or not any(each.chord for each in first.chords):
        return
    bar = bars[-1]
    start = bar.meter.bar_ticks - first.ticks
    if start <= 0 or start % bar.meter.beat_ticks or any(n.end > start for n in bar.notes):
        return
    laid = tuple(TuneChord(each.tick + start, each.chord) for each in first.chords)
    kept = tuple(each for each in bar.chords if each.tick < start)
    bars[-1] = replace(bar, chords=(*kept, *laid))


def _tempi(group: Group) -> tuple[Tempo | None, list[TuneBar]]:
    """Return the tempo that a part begins in, if it says one, and the bars that want another."""
    first = group.sections[0]
    bars = [first.pickup] if first.pickup else []
    bars += [bar for section in group.sections for bar in section.bars()]
    tempo = next((bar.tempo for bar in bars[: 1 + bool(first.pickup)] if bar.tempo), None)
    return tempo, [bar for bar in bars if bar.tempo not in (None, tempo)]


def _style(rhythm: str, meter: Meter, styles: Styles | None) -> str | None:
    """Return the groove that a kind of tune names, where it plays the meter."""
    name = rhythm.strip().lower()
    style = _RHYTHMS.get(name) or _RHYTHMS.get(name.rstrip("s")) or (name if styles else None)
    if not style or styles is None or style not in styles or meter not in styles[style]:
        return None
    return style if style != usual_style(meter) else None
