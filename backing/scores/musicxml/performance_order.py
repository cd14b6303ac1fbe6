"""Assigns jumps to their bars, opens repeats, and keeps labels where parts begin.

Conventions: a repeat without a start sign begins after the last repeat, or with the tune (common
practice, no source). A rehearsal mark inside a repeat names no part, for a part holds whole
repeats. Of two undistinguished coda signs the first is the to-coda.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.scores.tune import Jump

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.scores.musicxml.signs import JumpSign
    from backing.scores.tune import TuneBar

_BEFORE = (Jump.SEGNO, Jump.CODA)


def with_jumps(bars: Sequence[TuneBar], signs: Sequence[Sequence[JumpSign]]) -> list[TuneBar]:
    """Return the bars with their jumps, each moved to the bar that it belongs to.

    Args:
        bars: the bars.
        signs: the jump signs in each bar.

    """
    found: list[list[Jump]] = [[] for _ in bars]
    for index, (bar, here) in enumerate(zip(bars, _distinguished(signs), strict=True)):
        for sign in here:
            at = _bar_of(sign, index, bar, len(bars))
            if sign.jump not in found[at]:
                found[at].append(sign.jump)
    return [
        replace(bar, jumps=tuple(sorted(jumps, key=lambda each: each not in _BEFORE)))
        for bar, jumps in zip(bars, found, strict=True)
    ]


def _bar_of(sign: JumpSign, index: int, bar: TuneBar, count: int) -> int:
    if sign.jump in _BEFORE:
        return index + 1 if sign.tick >= bar.ticks and index + 1 < count else index
    return index - 1 if sign.sounded and sign.tick == 0 and index else index


def _distinguished(signs: Sequence[Sequence[JumpSign]]) -> list[list[JumpSign]]:
    """Return the signs, the first of two coda signs as a to-coda if there is none yet."""
    found = [list(here) for here in signs]
    jumps = [each.jump for here in signs for each in here]
    if Jump.TO_CODA in jumps or jumps.count(Jump.CODA) < 2:
        return found
    here = next(here for here in found if any(each.jump is Jump.CODA for each in here))
    index = next(n for n, each in enumerate(here) if each.jump is Jump.CODA)
    if not here[index].sounded:
        here[index] = replace(here[index], jump=Jump.TO_CODA)
    return found


def with_repeats(bars: list[TuneBar], remarks: list[str]) -> list[TuneBar]:
    """Return the bars with every repeat opened, and no labels or double bar lines inside one."""
    bars = list(bars)
    start = 0
    while (end := _next_close(bars, start)) is not None:
        opening = _opening(bars, start, end)
        bars[opening] = replace(bars[opening], opens=True)
        end = _last_ending(bars, end)
        for index in range(opening, end + 1):
            bars[index] = _inside(bars[index], remarks, first=index == opening, last=index == end)
        start = end + 1
    return bars


def _next_close(bars: Sequence[TuneBar], start: int) -> int | None:
    return next((n for n in range(start, len(bars)) if bars[n].closes), None)


def _opening(bars: Sequence[TuneBar], start: int, end: int) -> int:
    """Return the index at which the repeat that ends at `end` begins."""
    for index in range(end, start - 1, -1):
        if bars[index].opens:
            return index
    return start


def _last_ending(bars: Sequence[TuneBar], end: int) -> int:
    """Return the index of the last bar of a repeat's endings, or of the repeat itself."""
    while end + 1 < len(bars) and bars[end + 1].ending and not bars[end + 1].opens:
        end += 1
        while not _ends(bars, end):
            end += 1
    return end


def _ends(bars: Sequence[TuneBar], index: int) -> bool:
    """Whether an ending ends with this bar."""
    bar = bars[index]
    if index + 1 == len(bars) or bar.closes or bar.ending_stops or bar.double:
        return True
    following = bars[index + 1]
    return bool(following.opens or following.ending or following.part)


def _inside(bar: TuneBar, remarks: list[str], *, first: bool, last: bool) -> TuneBar:
    if bar.part and not first:
        remarks.append(f"{bar.place}: the mark {bar.part} is inside a repeat: left out")
        bar = replace(bar, part="")
    return bar if last else replace(bar, double=False)
