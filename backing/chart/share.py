"""Shares a bar out among its chords.

Conventions: chords share their bar evenly when that comes out in whole beats. Where a slash
stands, every chord and every slash is one beat.
"""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING

from backing.chart.model import ChordSpan
from backing.errors import SymbolError
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.harmony.chord import Chord

MOST_COUNT = 32
"""The most beats that a meter can name."""


def share_bar(
    names: Sequence[str], chords: Sequence[Chord | None], signs: Sequence[int], meter: Meter
) -> tuple[ChordSpan, ...]:
    """Return the spans of the chords of one bar.

    Args:
        names: the chords as written, for the words of an error.
        chords: the chords, None for no chord; at least one.
        signs: for each chord 1, and 1 more for each slash behind it.
        meter: the bar's meter.

    Raises:
        SymbolError: when the chords do not fill the bar.

    """
    slashes = sum(signs) > len(signs)
    if len(chords) > meter.beats:
        raise _crowded(len(chords), meter)
    if slashes and sum(signs) != meter.beats:
        raise _miscounted(names, signs, meter)
    if not slashes and meter.beats % len(chords):
        raise _uneven(names, meter)
    beats = signs if slashes else [meter.beats // len(chords)] * len(chords)
    ticks = [each * meter.beat_ticks for each in beats]
    starts = accumulate(ticks, initial=0)
    return tuple(
        ChordSpan(start, length, chord)
        for start, length, chord in zip(starts, ticks, chords, strict=False)
    )


def _miscounted(names: Sequence[str], signs: Sequence[int], meter: Meter) -> SymbolError:
    total = sum(signs)
    beats = _mended(signs, meter.beats)
    example = " ".join(
        " ".join([name, *["/"] * (each - 1)]) for name, each in zip(names, beats, strict=True)
    )
    return SymbolError(
        f"a bar of {meter} has {_beats(meter)} and this one {total} sign{'s' * (total > 1)}",
        f"where a slash stands, every chord and every slash is one beat, such as | {example} |",
    )


def _uneven(names: Sequence[str], meter: Meter) -> SymbolError:
    spare = meter.beats - len(names)
    return SymbolError(
        f"{len(names)} chords do not share {_beats(meter)} of {meter} evenly",
        "show with slashes how long each lasts, one sign a beat, such as "
        f"| {' '.join([names[0], *['/'] * spare, *names[1:]])} |",
    )


def _mended(signs: Sequence[int], beats: int) -> list[int]:
    """Return the signs so changed that they fill the bar, as near to the writer's as can be.

    What is missing goes to the shortest chord, what is too much is taken from the longest, and of
    equal ones the last is changed.
    """
    mended = [min(each, beats) for each in signs]
    while sum(mended) < beats:
        mended[max(range(len(mended)), key=lambda n: (-mended[n], n))] += 1
    while sum(mended) > beats:
        mended[max(range(len(mended)), key=lambda n: (mended[n], n))] -= 1
    return mended


def _crowded(chords: int, meter: Meter) -> SymbolError:
    """Return the error for more chords than beats."""
    longer = Meter(chords * (meter.count // meter.beats), meter.unit)
    fits = longer.count <= MOST_COUNT and longer.beats == chords
    return SymbolError(
        f"{chords} chords do not share {_beats(meter)} of {meter} evenly",
        f"a bar of {meter} takes at most one chord a beat: write the others in another bar"
        + (f", or give this one its own meter, ({longer})" if fits else ""),
    )


def _beats(meter: Meter) -> str:
    return f"{meter.beats} beat{'s' * (meter.beats > 1)}"
