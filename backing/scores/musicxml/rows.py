"""Divides a score into rows of four bars."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.scores.tune import TuneBar

_BARS_A_ROW = 4

_MOST_NOTES = 40
"""The most notes in a row of five bars; the engraver in the tests crowds more than that."""


def row_starts(bars: Sequence[TuneBar], offsets: Sequence[int]) -> set[int]:
    """Return the indices of the bars that begin a row, without the first bar.

    Every part begins a row. Pickups are not counted, and the pieces of a measure stay together. A
    last ending of one bar stays with the ending before it: as a fifth bar, or both in the next row
    where that would crowd this one.

    Args:
        bars: the bars of the score.
        offsets: the tick in its whole measure at which each begins.

    """
    found: set[int] = set()
    start = count = 0
    for index, (bar, offset) in enumerate(zip(bars, offsets, strict=True)):
        full = count >= _BARS_A_ROW and not _is_rest_of(bars[index - 1], bar)
        if full and count == _BARS_A_ROW and _is_lone(bars, index):
            crowded = sum(len(each.notes) for each in bars[start : index + 1]) > _MOST_NOTES
            begins = _first_ending(bars, index) if crowded else start
        else:
            begins = index if index and (bar.part or full) else start
        if begins > start:
            found.add(begins)
            count = sum(not each for each in offsets[begins:index])
            start = begins
        count += not offset
    return found


def _is_lone(bars: Sequence[TuneBar], index: int) -> bool:
    """Whether a bar is a later ending and the last bar of its part or repeat."""
    bar, behind = bars[index], bars[index + 1 : index + 2]
    is_later = bool(bar.ending) and bars[index - 1].ending_stops
    return is_later and (bar.double or not behind or bool(behind[0].part or behind[0].opens))


def _first_ending(bars: Sequence[TuneBar], index: int) -> int:
    """Return the index of the last bar before this one that begins an ending."""
    return max(n for n in range(index) if bars[n].ending)


def _is_rest_of(before: TuneBar, bar: TuneBar) -> bool:
    """Whether a bar is the second half of a measure."""
    full = before.is_short and before.ticks + bar.ticks == bar.meter.bar_ticks
    return full and not (before.closes or bar.opens)
