"""The melody of a chart, bar by bar as the chart is written.

Conventions: a part of the melody has a bar for each bar of the chart's part as written, its pickup
and its endings too. Where a note is tied over the bar line it is there twice, the first of them
`tied`: which bar comes next depends on the time round. The notes of a pickup are played each time
the part begins, and each time a repeat at its start begins again, in the end of the bar before,
where nothing else sounds there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.chart.model import Repeat
from backing.chart.sequence import starts_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from backing.chart.model import Chart, Part
    from backing.chart.sequence import SequencedBar
    from backing.harmony.pitch import Pitch

_FARTHEST_OCTAVES = 4


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """A note of the melody in its bar.

    Attributes:
        tick: where it starts, in ticks from the bar line.
        ticks: how long it lasts, in ticks, at least 1; never beyond the end of its bar.
        pitch: its name and height.
        tied: whether it goes on in the next bar, if that begins with the same key.
        graces: the grace notes before it, in playing order.

    """

    tick: int
    ticks: int
    pitch: Pitch
    tied: bool = False
    graces: tuple[Pitch, ...] = ()

    @property
    def end(self) -> int:
        """Where it ends, in ticks from the bar line."""
        return self.tick + self.ticks


@dataclass(frozen=True, slots=True)
class MelodyPart:
    """The melody of a part.

    Attributes:
        name: the name of the chart's part.
        bars: the notes of each bar as the part is written (`Part.written`), the pickup too; notes
            in the order of their ticks, those that sound together from the lowest up. Notes that
            begin together end together, before the next begin or as they do.

    """

    name: str
    bars: tuple[tuple[MelodyNote, ...], ...]


@dataclass(frozen=True, slots=True)
class Melody:
    """The melody of a chart.

    Attributes:
        parts: in the order of the chart's; a part without melody may be missing.

    """

    parts: tuple[MelodyPart, ...]

    def up(self, fifths: int, semitones: int | None = None) -> Melody:
        """Return the melody transposed with its chart.

        Args:
            fifths: as for `Chart.up`.
            semitones: how much higher it sounds; None for the nearest way, at most six.

        """
        shift = (fifths * 7 + 5) % 12 - 5 if semitones is None else semitones

        def note(each: MelodyNote) -> MelodyNote:
            graces = tuple(grace.up(fifths, shift).plain() for grace in each.graces)
            return replace(each, pitch=each.pitch.up(fifths, shift).plain(), graces=graces)

        return self._with_notes(note)

    def pitches(self) -> list[Pitch]:
        """Return the pitch of every note as written, graces left out."""
        return [note.pitch for part in self.parts for bar in part.bars for note in bar]

    def within(self, lowest: int, highest: int) -> Melody:
        """Return the melody folded into a range of MIDI keys.

        First the whole of it is moved by the octaves that bring most notes inside, the fewest if
        several do; then what is still outside goes by itself, where the range is an octave or more.
        """
        keys = [pitch.key for pitch in self.pitches()]

        def outside(octaves: int) -> tuple[int, int]:
            shift = 12 * octaves
            return sum(not lowest <= key + shift <= highest for key in keys), abs(octaves)

        shift = 12 * min(range(-_FARTHEST_OCTAVES, _FARTHEST_OCTAVES + 1), key=outside)

        def note(each: MelodyNote) -> MelodyNote:
            graces = tuple(_inside(grace.up(0, shift), lowest, highest) for grace in each.graces)
            pitch = _inside(each.pitch.up(0, shift), lowest, highest)
            return replace(each, pitch=pitch, graces=graces)

        return self._with_notes(note)

    def _with_notes(self, change: Callable[[MelodyNote], MelodyNote]) -> Melody:
        return Melody(
            tuple(
                replace(part, bars=tuple(tuple(map(change, bar)) for bar in part.bars))
                for part in self.parts
            )
        )


def _inside(pitch: Pitch, lowest: int, highest: int) -> Pitch:
    """Return a pitch moved by octaves into a range, as far as that goes."""
    while pitch.key < lowest:
        pitch = pitch.up(0, 12)
    while pitch.key > highest and pitch.key - 12 >= lowest:
        pitch = pitch.up(0, -12)
    return pitch


def written_index(part: Part, bar: SequencedBar) -> int:
    """Return which of the part's bars as written a bar of the sequence is, from 0."""
    return 0 if bar.bar.pickup else _written_indices(part)[bar.index]


def along(
    chart: Chart, melody: Melody, sequence: Sequence[SequencedBar], *, loops: bool = False
) -> tuple[tuple[MelodyNote, ...], ...]:
    """Return the notes of each bar of the sequence as they sound, without `tied`.

    Pickups lie in the bars before them, and a note that is tied on is one note, in its first bar,
    longer than the bar.

    Args:
        chart: the chart of the sequence.
        melody: its melody.
        sequence: bars in playing order, such as `sequence.once_round` gives.
        loops: whether the first bar follows the last.

    """
    parts = {part.name: _Played(chart.part(part.name), part.bars) for part in melody.parts}
    bars = [list(parts[each.part].notes(each)) if each.part in parts else [] for each in sequence]
    for index, each in enumerate(sequence):
        before = index - 1
        if each.part not in parts or each.bar.pickup or (before < 0 and not loops):
            continue
        pickup = parts[each.part].pickup_before(each.index)
        if pickup and not sequence[before].bar.pickup:
            bars[before] += _in_silence(bars[before], sequence[before].bar.ticks, *pickup)
    return tuple(_tied_on(bars, [each.bar.ticks for each in sequence]))


class _Played:
    """A part of the melody in playing order."""

    def __init__(self, part: Part, bars: tuple[tuple[MelodyNote, ...], ...]) -> None:
        self._bars = bars
        self._pickup = part.pickup
        self._order = _written_indices(part)
        self._starts = starts_of(part)

    def notes(self, bar: SequencedBar) -> tuple[MelodyNote, ...]:
        """Return the notes of a bar of the sequence."""
        index = 0 if bar.bar.pickup else self._order[bar.index]
        return self._bars[index] if index < len(self._bars) else ()

    def pickup_before(self, index: int) -> tuple[tuple[MelodyNote, ...], int] | None:
        """Return notes and length of the pickup that leads to a bar of the part as played."""
        if self._pickup is None or index not in self._starts:
            return None
        return self._bars[0], self._pickup.ticks


def _written_indices(part: Part) -> list[int]:
    """Return for each bar as played, without the pickup, its place among those written."""
    found: list[int] = []
    at = 0
    for section in part.sections:
        if not isinstance(section, Repeat):
            found += [] if section.pickup else [at]
            at += 1
            continue
        body = range(at, at + len(section.bars))
        at = body.stop
        endings = []
        for ending in section.endings:
            endings.append((ending.times, range(at, at + len(ending.bars))))
            at += len(ending.bars)
        for time in range(1, section.times + 1):
            found += body
            found += [index for times, bars in endings if time in times for index in bars]
    return found


def _in_silence(
    notes: Sequence[MelodyNote], bar_ticks: int, pickup: tuple[MelodyNote, ...], ticks: int
) -> list[MelodyNote]:
    """Return the notes of a pickup at the end of a bar, if nothing sounds there."""
    start = bar_ticks - ticks
    if start < 0 or any(note.end > start for note in notes):
        return []
    return [replace(note, tick=note.tick + start) for note in pickup]


def _tied_on(bars: list[list[MelodyNote]], lengths: list[int]) -> list[tuple[MelodyNote, ...]]:
    """Return the bars with tied notes made one; a tie to nothing just ends."""
    gone: set[tuple[int, int]] = set()
    found: list[tuple[MelodyNote, ...]] = []
    for at, notes in enumerate(bars):
        sounding = []
        for index, note in enumerate(notes):
            if (at, index) not in gone:
                ticks = note.ticks + (_more(bars, lengths, at, note, gone) if note.tied else 0)
                sounding.append(replace(note, ticks=ticks, tied=False))
        found.append(tuple(sounding))
    return found


def _more(
    bars: list[list[MelodyNote]],
    lengths: list[int],
    at: int,
    note: MelodyNote,
    gone: set[tuple[int, int]],
) -> int:
    """Return how long a tied note goes on in the bars behind, and note what it swallows."""
    more = 0
    while note.tied and note.end == lengths[at] and at + 1 < len(bars):
        at += 1
        index = next(
            (
                n
                for n, each in enumerate(bars[at])
                if not each.tick and each.pitch.key == note.pitch.key
            ),
            None,
        )
        if index is None:
            break
        note = bars[at][index]
        gone.add((at, index))
        more += note.ticks
    return more


def one_line(notes: Sequence[MelodyNote]) -> tuple[MelodyNote, ...]:
    """Return the notes of a bar as a melody has them: those that begin together end together.

    Where notes overlap, the earlier ends when the later begins; a key sounds once at a time.
    """
    starts = sorted({note.tick for note in notes})
    found: list[MelodyNote] = []
    for index, start in enumerate(starts):
        together = {note.pitch.key: note for note in notes if note.tick == start}
        end = max(note.end for note in together.values())
        following = starts[index + 1] if index + 1 < len(starts) else end
        graces = next((note.graces for note in together.values() if note.graces), ())
        for _, note in sorted(together.items()):
            ticks = min(end, following) - start
            tied = note.tied and start + ticks == note.end
            found.append(replace(note, ticks=ticks, tied=tied, graces=graces))
            graces = ()
    return tuple(found)


def overlap(notes: Sequence[MelodyNote]) -> bool:
    """Whether the notes of a bar are more than one line, so that `one_line` changes them."""
    return list(map(_shape, one_line(notes))) != list(map(_shape, notes))


def _shape(note: MelodyNote) -> tuple[int, int, int]:
    return note.tick, note.ticks, note.pitch.key
