"""Places the notes of a melody in the bars of a sequence.

Conventions: the notes of a pickup are played at the end of the bar before the part, each time the
part or a repeat at its start begins, unless other notes sound there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.chart.melody import Melody, MelodyNote
    from backing.chart.sequence import SequencedBar


def along(
    melody: Melody, sequence: Sequence[SequencedBar], *, loops: bool = False
) -> tuple[tuple[MelodyNote, ...], ...]:
    """Return the sounding notes of each bar of a sequence, none of them `tied`.

    Pickups are in the bars before them. Tied notes are one note, in its first bar, longer than the
    bar. A bar without an origin is silent.

    Args:
        melody: the melody of the chart.
        sequence: bars in performance order, such as `sequence.once_round` gives.
        loops: whether the first bar follows the last.

    """
    from backing.chart.melody import in_silence  # most charts name no melody

    parts = {part.name: part.bars for part in melody.parts}

    def written(bar: SequencedBar) -> tuple[MelodyNote, ...]:
        bars = parts.get(bar.origin.part, ()) if bar.origin else ()
        return bars[bar.origin.written] if bar.origin and bar.origin.written < len(bars) else ()

    bars = [list(written(each)) for each in sequence]
    for index, each in enumerate(sequence):
        before = index - 1
        if each.pickup and each.origin and (index or loops) and not sequence[before].bar.pickup:
            pickup, ticks = written(each.pickup), each.pickup.bar.ticks
            bars[before] += in_silence(bars[before], sequence[before].bar.ticks, pickup, ticks)
    return tuple(_tied_on(bars, [each.bar.ticks for each in sequence]))


def _tied_on(bars: list[list[MelodyNote]], lengths: list[int]) -> Iterator[tuple[MelodyNote, ...]]:
    """Yield the bars with tied notes joined; a tie without a second note is ignored."""
    joined: set[tuple[int, int]] = set()
    for at, notes in enumerate(bars):
        sounding = []
        for index, note in enumerate(notes):
            if (at, index) in joined:
                continue
            ticks, last, here = note.ticks, note, at
            while last.tied and last.end == lengths[here] and here + 1 < len(bars):
                here += 1
                first = (n for n, each in enumerate(bars[here]) if not each.tick)
                same = (n for n in first if bars[here][n].pitch.key == note.pitch.key)
                if (found := next(same, None)) is None:
                    break
                last = bars[here][found]
                joined.add((here, found))
                ticks += last.ticks
            sounding.append(replace(note, ticks=ticks, tied=False))
        yield tuple(sounding)
