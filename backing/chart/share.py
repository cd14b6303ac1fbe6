"""Shares a bar out among its chords.

Conventions: chords share their bar evenly when that comes out in whole beats. Where a slash
stands, every chord and every slash is one beat.
"""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING

from backing.chart.model import ChordSpan
from backing.errors import SymbolError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.harmony.chord import Chord
    from backing.timing import Meter


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
    if slashes and sum(signs) != meter.beats:
        raise _miscounted(names, sum(signs), meter)
    if not slashes and meter.beats % len(chords):
        raise _uneven(names, meter)
    beats = signs if slashes else [meter.beats // len(chords)] * len(chords)
    ticks = [each * meter.beat_ticks for each in beats]
    starts = accumulate(ticks, initial=0)
    return tuple(
        ChordSpan(start, length, chord)
        for start, length, chord in zip(starts, ticks, chords, strict=False)
    )


def _miscounted(names: Sequence[str], signs: int, meter: Meter) -> SymbolError:
    example = " ".join([*names[: meter.beats], *["/"] * (meter.beats - len(names))])
    return SymbolError(
        f"a bar of {meter} has {_beats(meter)} and this one {signs} sign{'s' * (signs > 1)}",
        f"where a slash stands, every chord and every slash is one beat, such as | {example} |",
    )


def _uneven(names: Sequence[str], meter: Meter) -> SymbolError:
    found = f"{len(names)} chords do not share {_beats(meter)} of {meter} evenly"
    if len(names) > meter.beats:
        return SymbolError(found, f"a bar of {meter} takes at most one chord a beat")
    spare = meter.beats - len(names)
    return SymbolError(
        found,
        "show with slashes how long each lasts, one sign a beat, such as "
        f"| {' '.join([names[0], *['/'] * spare, *names[1:]])} |",
    )


def _beats(meter: Meter) -> str:
    return f"{meter.beats} beat{'s' * (meter.beats > 1)}"
