"""Normalises bars: joins split ones, separates pickups, corrects lengths.

Conventions (our choice, no source): a short bar at the start of a section is its pickup, one at its
end is filled up with silence. Any other bar that lasts whole beats gets a meter of its own; a bar
of any other wrong length is filled up or cut. A short bar that is a section alone is the pickup of
the next section. Where that section has a pickup of its own, the bar stays a bar and is lengthened
so that the pickup fits into its silent end; two short bars that make up one bar are joined. A lone
bar with a label is a part of its own where the next bar has a label too, lengthened likewise where
that bar is a pickup.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from backing.chart.melody import MelodyNote
from backing.scores.sections import Section
from backing.scores.tune import TuneBar, TuneChord
from backing.timing import TICKS_PER_QUARTER, Meter

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.scores.sections import Ending
    from backing.scores.tune import Remarks
    from backing.timing import Tempo

_MOST_IN_ONE = 8


@dataclass(frozen=True, eq=False, slots=True)
class Group:
    """The sections of one part.

    Attributes:
        name: the part's name.
        sections: its sections; only the first has a pickup.

    """

    name: str
    sections: tuple[Section, ...]

    @property
    def first_bar(self) -> TuneBar:
        """Its first bar, the pickup if it has one."""
        return self.sections[0].pickup or self.sections[0].bars()[0]

    def tempi(self) -> tuple[Tempo | None, list[TuneBar]]:
        """Return the tempo written at its start, or None, and the bars with another tempo."""
        first = self.sections[0]
        bars = [first.pickup] if first.pickup else []
        bars += [bar for section in self.sections for bar in section.bars()]
        tempo = next((bar.tempo for bar in bars[: 1 + bool(first.pickup)] if bar.tempo), None)
        return tempo, [bar for bar in bars if bar.tempo not in (None, tempo)]


def meter_of_most(bars: Sequence[TuneBar], remarks: Remarks) -> tuple[TuneBar, ...]:
    """Return the bars in the meter that most of them fill, where another one is written."""
    found: list[TuneBar] = []
    for meter, group in groupby(bars, key=lambda bar: bar.meter):
        run = list(group)
        ticks, often = Counter(bar.ticks for bar in run).most_common(1)[0]
        inside = [
            bar.ticks
            for each, bar, behind in zip(run, run[1:], run[2:], strict=False)
            if _is_whole(each, bar, behind)
        ]
        real = meter_for(ticks, meter) if ticks != meter.bar_ticks else None
        most = often > 0.6 * len(run) and inside.count(ticks) >= 0.6 * len(inside)
        if len(run) > 3 and most and real:
            remarks.at(run[0], f"most bars last {real}, not {meter}: read as {real}")
            run = [replace(bar, meter=real) for bar in run]
        found += run
    return tuple(found)


def _is_whole(before: TuneBar, bar: TuneBar, behind: TuneBar) -> bool:
    """Whether plain bar lines surround a bar, so that it is no piece of a split bar."""
    starts = bar.opens or bar.ending or bar.part or before.closes or before.double
    ends = bar.closes or bar.double or behind.opens or behind.ending or behind.part
    return not starts and not ends


def meter_for(ticks: int, like: Meter) -> Meter | None:
    """Return a meter of some ticks, in the unit of another if possible; None if there is none."""
    return Meter.lasting(ticks, like.unit, 4, 8, 16)


def normalised_section(section: Section, remarks: Remarks) -> Section:
    """Return a section in bars that each fill their meter; corrections go into the remarks."""
    body, endings = _with_split_bar_in_endings(section)
    pickup = None
    if len(body) == 1 and endings and body[0].is_short:
        body = [_as_pickup(body[0])]  # all that precedes the endings, so no pickup
    elif body and body[0].is_short and not fits_next(body):
        pickup, body = _as_pickup(body[0]), body[1:]
    return replace(
        section,
        body=_normalised_bars(body, remarks),
        endings=[(times, _normalised_bars(bars, remarks)) for times, bars in endings],
        pickup=pickup,
    )


def _with_split_bar_in_endings(section: Section) -> tuple[list[TuneBar], list[Ending]]:
    """Return body and endings, a piece of a bar at the end of the body moved into every ending.

    It stays in the body where an ending has no room for it.
    """
    body, endings = section.body, section.endings
    if not endings or len(body) < 2 or not body[-1].is_short:
        return body, endings
    piece = body[-1]
    if any(piece.ticks + bars[0].ticks > piece.meter.bar_ticks for _, bars in endings):
        return body, endings
    return body[:-1], [(times, [joined(piece, bars[0]), *bars[1:]]) for times, bars in endings]


def fits_next(bars: Sequence[TuneBar]) -> bool:
    """Whether the first two bars are the pieces of one bar."""
    return (
        len(bars) > 1
        and bars[1].is_short
        and bars[0].meter == bars[1].meter
        and bars[0].ticks + bars[1].ticks == bars[0].meter.bar_ticks
    )


def joined(first: TuneBar, second: TuneBar) -> TuneBar:
    """Return two pieces of a bar as one."""
    chords = (replace(each, tick=each.tick + first.ticks) for each in second.chords)
    return replace(
        first,
        ticks=first.ticks + second.ticks,
        notes=_joined_notes(first, second),
        chords=(*first.chords, *chords),
        jumps=(*first.jumps, *second.jumps),
    )


def _joined_notes(first: TuneBar, second: TuneBar) -> tuple[MelodyNote, ...]:
    """Return the notes of two pieces of a bar, tied ones joined."""
    ends = [n for n, each in enumerate(first.notes) if each.tied and each.end == first.ticks]
    tied = {first.notes[n].pitch.key: n for n in reversed(ends)}
    notes = list(first.notes)
    for note in second.notes:
        at = None if note.tick else tied.pop(note.pitch.key, None)
        if at is None:
            notes.append(replace(note, tick=note.tick + first.ticks))
        else:
            notes[at] = replace(notes[at], ticks=notes[at].ticks + note.ticks, tied=note.tied)
    return tuple(notes)


def _normalised_bars(pieces: list[TuneBar], remarks: Remarks) -> list[TuneBar]:
    bars: list[TuneBar] = []
    index = 0
    while index < len(pieces):
        bar = pieces[index]
        if bar.is_short and fits_next(pieces[index : index + 2]):
            bars.append(joined(bar, pieces[index + 1]))
            index += 2
            continue
        last = index == len(pieces) - 1
        bars += _of_right_length(bar, remarks, last=last)
        index += 1
    return bars


def _of_right_length(bar: TuneBar, remarks: Remarks, *, last: bool) -> list[TuneBar]:
    """Return the bars of correct length that a bar becomes."""
    full = bar.meter.bar_ticks
    if bar.ticks == full:
        return [bar]
    if last and bar.is_short:
        return [replace(bar, ticks=full)]
    times, rest = divmod(bar.ticks, full)
    if not rest and times <= _MOST_IN_ONE:
        remarks.at(bar, f"a bar line is missing: split into {times} bars")
        return [cut(bar, n * full, (n + 1) * full) for n in range(times)]
    real = meter_for(bar.ticks, bar.meter)
    if bar.ticks % bar.meter.beat_ticks == 0 and real:
        return [replace(bar, meter=real)]
    what = "short: filled up" if bar.is_short else "long: cut"
    remarks.at(bar, f"a bar of {bar.meter} is too {what}")
    return [cut(bar, 0, full)]


def cut(bar: TuneBar, start: int, end: int) -> TuneBar:
    """Return the piece of a bar between two ticks."""
    notes = []
    for note in bar.notes:
        low, high = max(note.tick, start), min(note.end, end)
        if low < high:
            notes.append(
                MelodyNote(
                    low - start,
                    high - low,
                    note.pitch,
                    tied=note.end > end or (note.tied and high == note.end),
                    graces=note.graces if low == note.tick else (),
                )
            )
    chords = tuple(
        TuneChord(each.tick - start, each.chord) for each in bar.chords if start <= each.tick < end
    )
    return replace(bar, ticks=end - start, notes=tuple(notes), chords=chords)


def _as_pickup(bar: TuneBar) -> TuneBar:
    """Return a short bar as a pickup whose meter is its length, rounded up to sixteenths."""
    meter = meter_for(bar.ticks, bar.meter)
    if meter:
        return replace(bar, meter=meter)
    sixteenth = TICKS_PER_QUARTER // 4
    count = -(-bar.ticks // sixteenth)
    shift = count * sixteenth - bar.ticks
    return replace(
        bar,
        meter=Meter(min(count, 32), 16),
        ticks=count * sixteenth,
        notes=tuple(replace(note, tick=note.tick + shift) for note in bar.notes),
        chords=tuple(replace(each, tick=each.tick + shift) for each in bar.chords),
    )


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
    bar, first = lone.body[0], section.bars()[0]
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
    bar, first = lone.body[0], section.bars()[0]
    is_pickup = first.is_short and not fits_next(section.body) and not _is_lone(section)
    ticks = bar.ticks + first.ticks
    meter = meter_for(ticks, bar.meter)
    if not is_pickup or meter is None:
        return [lone, section]
    return [replace(lone, body=[replace(bar, ticks=ticks, meter=meter)]), section]
