"""The notes of a melody along the bars of a sequence.

Conventions: the notes of a pickup are played each time the part begins, and each time a repeat at
its start begins again, in the end of the bar before, where nothing else sounds there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.melody import Melody, MelodyNote
    from backing.chart.sequence import SequencedBar


def along(
    melody: Melody, sequence: Sequence[SequencedBar], *, loops: bool = False
) -> tuple[tuple[MelodyNote, ...], ...]:
    """Return the notes of each bar of a sequence as they sound, without `tied`.

    Pickups lie in the bars before them, and a note that is tied on is one note, in its first bar,
    longer than the bar. A bar without an origin is silent.

    Args:
        melody: the melody of the chart.
        sequence: bars in performance order, such as `sequence.once_round` gives.
        loops: whether the first bar follows the last.

    """
    parts = {part.name: part.bars for part in melody.parts}

    def written(bar: SequencedBar) -> tuple[MelodyNote, ...]:
        bars = parts.get(bar.origin.part, ()) if bar.origin else ()
        return bars[bar.origin.written] if bar.origin and bar.origin.written < len(bars) else ()

    bars = [list(written(each)) for each in sequence]
    for index, each in enumerate(sequence):
        before = index - 1
        if each.pickup and each.origin and (index or loops) and not sequence[before].bar.pickup:
            pickup, ticks = written(each.pickup), each.pickup.bar.ticks
            bars[before] += _in_silence(bars[before], sequence[before].bar.ticks, pickup, ticks)
    return tuple(_tied_on(bars, [each.bar.ticks for each in sequence]))


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
