"""The melody of a chart, bar by bar as the chart is written.

Conventions: a part of the melody has one bar for each bar of the chart's part as written, including
its pickup and its endings. A note tied over the bar line is two notes, the first of them `tied`,
because the next bar depends on the time round.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from backing.harmony.pitch import Pitch

_FARTHEST_OCTAVES = 4


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """A note of the melody in its bar.

    Attributes:
        tick: its start, in ticks from the bar line.
        ticks: its length in ticks, at least 1; it ends with its bar at the latest.
        pitch: its name and octave.
        tied: whether it continues in the next bar, if that begins with the same pitch.
        graces: the grace notes before it, in playing order.

    """

    tick: int
    ticks: int
    pitch: Pitch
    tied: bool = False
    graces: tuple[Pitch, ...] = ()

    @property
    def end(self) -> int:
        """Its end, in ticks from the bar line."""
        return self.tick + self.ticks


@dataclass(frozen=True, slots=True)
class MelodyPart:
    """The melody of a part.

    Attributes:
        name: the name of the chart's part.
        bars: the notes of each bar as written (`Part.written`), including the pickup; in the order
            of ticks, notes of one tick from low to high. Notes that begin together end together,
            at the latest when the next ones begin.

    """

    name: str
    bars: tuple[tuple[MelodyNote, ...], ...]


@dataclass(frozen=True, slots=True)
class Melody:
    """The melody of a chart.

    Attributes:
        parts: in the order of the chart's parts; a part without melody may be missing.

    """

    parts: tuple[MelodyPart, ...]

    def up(self, fifths: int, semitones: int | None = None) -> Melody:
        """Return the melody transposed with its chart.

        Args:
            fifths: as for `Chart.up`.
            semitones: how far up it moves; None for the nearest, at most six up or down.

        """
        shift = (fifths * 7 + 5) % 12 - 5 if semitones is None else semitones

        def note(each: MelodyNote) -> MelodyNote:
            graces = tuple(grace.up(fifths, shift).plain() for grace in each.graces)
            return replace(each, pitch=each.pitch.up(fifths, shift).plain(), graces=graces)

        return self._with_notes(note)

    def pitches(self) -> list[Pitch]:
        """Return the pitch of every note as written, without grace notes."""
        return [note.pitch for part in self.parts for bar in part.bars for note in bar]

    def within(self, lowest: int, highest: int) -> Melody:
        """Return the melody folded into a range of MIDI keys.

        First the whole melody moves by the fewest octaves that bring most notes inside. Then each
        note that is still outside moves alone, if the range is an octave or more.
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
    """Return a pitch moved by octaves into a range, as far as possible."""
    while pitch.key < lowest:
        pitch = pitch.up(0, 12)
    while pitch.key > highest and pitch.key - 12 >= lowest:
        pitch = pitch.up(0, -12)
    return pitch


def one_line(notes: Sequence[MelodyNote]) -> tuple[MelodyNote, ...]:
    """Make the notes of a bar one line: notes that begin together end together.

    Where notes overlap, the earlier ends when the later begins. Each pitch sounds once at a time.
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


def in_silence(
    notes: Sequence[MelodyNote], bar_ticks: int, pickup: Sequence[MelodyNote], ticks: int
) -> list[MelodyNote]:
    """Return the notes of a pickup moved to the end of a bar; none if notes sound there."""
    start = bar_ticks - ticks
    if start < 0 or any(note.end > start for note in notes):
        return []
    return [replace(note, tick=note.tick + start) for note in pickup]


def overlap(notes: Sequence[MelodyNote]) -> bool:
    """Whether notes of a bar overlap, so that `one_line` changes them."""
    return list(map(_shape, one_line(notes))) != list(map(_shape, notes))


def _shape(note: MelodyNote) -> tuple[int, int, int]:
    return note.tick, note.ticks, note.pitch.key
