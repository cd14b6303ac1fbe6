"""Lengths of chords and notes as fractions of a whole note, and the division of bars by chords.

Conventions: chords divide their bar evenly if that gives whole beats. In a bar with a slash, every
chord and every slash is one beat. In a bar with a length, a chord without one is as long as the
chord before it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from typing import TYPE_CHECKING

from backing.chart.diagnostics import quoted
from backing.chart.model import ChordSpan
from backing.errors import SymbolError
from backing.timing import TICKS_PER_QUARTER, Meter

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from backing.chart.model import Bar
    from backing.harmony.chord import Chord

WHOLE_TICKS = 4 * TICKS_PER_QUARTER

_LONGEST = 64
_LENGTH = re.compile(r"([0-9]{1,5})(?:/([0-9]{1,5}))?")


def read_length(text: str) -> Fraction:
    """Return a length in whole notes, above 0 and at most 64.

    Raises:
        SymbolError: if it is not a length.

    """
    match = _LENGTH.fullmatch(text)
    above, below = (int(match[1]), int(match[2] or 1)) if match else (0, 0)
    if not above or not below or above > _LONGEST * below:
        raise SymbolError(
            f"{quoted(text)} is not a length",
            "write a fraction of a whole note, such as 1/8, 3/8 or 1",
        )
    return Fraction(above, below)


def read_ticks(text: str) -> int:
    """Return a length in ticks.

    Raises:
        SymbolError: if it is not a length or not a whole number of ticks.

    """
    ticks = read_length(text) * WHOLE_TICKS
    if ticks.denominator > 1:
        raise SymbolError(
            f"{quoted(text)} of a whole note is not a whole number of ticks",
            f"a whole note has {WHOLE_TICKS} ticks; write a length such as 1/8, 1/12 or 3/16",
        )
    return ticks.numerator


def changes_between_beats(bar: Bar) -> bool:
    """Whether a chord begins between beats, so that the bar must be written with lengths."""
    return any(span.ticks % bar.meter.beat_ticks for span in bar.chords)


def length_text(ticks: int) -> str:
    """Return a length in ticks as a fraction of a whole note."""
    return str(Fraction(ticks, WHOLE_TICKS))


def length_suffixes(lengths: Iterable[int]) -> Iterator[str]:
    """Yield the text after each name in a row: a colon and its length, "" if it is unchanged."""
    before = 0
    for ticks in lengths:
        yield "" if ticks == before else f":{length_text(ticks)}"
        before = ticks


MOST_COUNT = 32
"""The highest count of a meter."""

_MOST_IN_EXAMPLE = 8


@dataclass(slots=True)
class WrittenChord:
    """A chord as it is written in a bar.

    Attributes:
        name: its text without its length.
        chord: the chord; None for no chord (N.C.).
        ticks: its written length in ticks, or None.
        slashes: the number of slashes after it.

    """

    name: str
    chord: Chord | None
    ticks: int | None = None
    slashes: int = 0


def share_bar(chords: Sequence[WrittenChord], meter: Meter) -> tuple[ChordSpan, ...]:
    """Return the spans of the chords of one bar.

    Args:
        chords: the chords, at least one.
        meter: the bar's meter.

    Raises:
        SymbolError: if the chords do not fill the bar.

    """
    if any(each.ticks for each in chords):
        lengths = _timed(chords, meter)
    else:
        lengths = [beats * meter.beat_ticks for beats in _counted(chords, meter)]
    starts = accumulate(lengths, initial=0)
    return tuple(
        ChordSpan(start, length, each.chord)
        for start, length, each in zip(starts, lengths, chords, strict=False)
    )


def _counted(chords: Sequence[WrittenChord], meter: Meter) -> list[int]:
    """Return the beats of each chord in a bar without lengths."""
    signs = [1 + each.slashes for each in chords]
    slashes = sum(signs) > len(signs)
    if len(chords) > meter.beats:
        raise _crowded(chords, meter)
    if slashes and sum(signs) != meter.beats:
        raise _miscounted(chords, signs, meter)
    if not slashes and meter.beats % len(chords):
        raise _uneven(chords, meter)
    return signs if slashes else [meter.beats // len(chords)] * len(chords)


def _timed(chords: Sequence[WrittenChord], meter: Meter) -> list[int]:
    """Return the ticks of each chord in a bar with lengths."""
    if any(each.slashes for each in chords):
        raise _mixed(chords, meter)
    lengths: list[int] = []
    for each in chords:
        if not each.ticks and not lengths:
            raise _headless(chords, meter)
        lengths.append(each.ticks or lengths[-1])
    if sum(lengths) != meter.bar_ticks:
        raise _mistimed(chords, lengths, meter)
    return lengths


def _mixed(chords: Sequence[WrittenChord], meter: Meter) -> SymbolError:
    lengths = [
        (each.ticks or meter.beat_ticks) + each.slashes * meter.beat_ticks for each in chords
    ]
    first = next(each for each in chords if each.slashes)
    beats = f"{length_text((1 + first.slashes) * meter.beat_ticks)}"
    return SymbolError(
        "this bar has slashes and lengths",
        "use one or the other; with lengths write "
        + (
            f"a bar such as {_example(chords, lengths)}"
            if sum(lengths) == meter.bar_ticks
            else f"{first.name}:{beats} for '{' '.join([first.name, *['/'] * first.slashes])}'"
        ),
    )


def _headless(chords: Sequence[WrittenChord], meter: Meter) -> SymbolError:
    """Return the error for a bar with lengths whose first chord has none."""
    number = next(n for n, each in enumerate(chords) if each.ticks)
    timed = [chords[number].ticks or 0]
    for each in chords[number + 1 :]:
        timed.append(each.ticks or timed[-1])
    first, rest = divmod(meter.bar_ticks - sum(timed), number)
    later = f"{chords[number].name}:{length_text(timed[0])}"
    return SymbolError(
        f"{quoted(chords[0].name)} has no length, but {quoted(later)} after it has one",
        "give the first chord of the bar a length, such as "
        + (
            _example(chords, [first] * number + timed)
            if first > 0 and not rest
            else f"{chords[0].name}:{length_text(meter.beat_ticks)}"
        ),
    )


def _mistimed(chords: Sequence[WrittenChord], lengths: Sequence[int], meter: Meter) -> SymbolError:
    """Return the error for lengths that do not fill the bar."""
    total, over = sum(lengths), sum(lengths) - meter.bar_ticks
    notes = Fraction(total, WHOLE_TICKS)
    long = f"{notes} whole notes" if notes.denominator == 1 < notes else f"{notes} of a whole note"
    long = "a whole note" if notes == 1 else long
    wrong = f"{length_text(abs(over))} {'less' if over < 0 else 'more'} than a bar of {meter}"
    return SymbolError(
        f"the chords of this bar last {long}, {wrong}",
        "a chord without a length lasts as long as the one before it; write "
        + _refilled(chords, lengths, over),
    )


def _refilled(chords: Sequence[WrittenChord], lengths: Sequence[int], over: int) -> str:
    """Return advice with an example: the last chord that can be changed fills the bar."""
    changed = next((n for n in reversed(range(len(lengths))) if lengths[n] > over), None)
    if changed is None:
        return "shorter ones, or move some chords to another bar"
    filled = [ticks - over * (n == changed) for n, ticks in enumerate(lengths)]
    return f"a bar such as {_example(chords, filled)}"


def _miscounted(chords: Sequence[WrittenChord], signs: Sequence[int], meter: Meter) -> SymbolError:
    total = sum(signs)
    beats = _filled(signs, meter.beats)
    example = " ".join(
        " ".join([each.name, *["/"] * (beat - 1)]) for each, beat in zip(chords, beats, strict=True)
    )
    return SymbolError(
        f"a bar of {meter} has {_beats(meter)}, but this one has {total} chords and slashes",
        f"with slashes, every chord and every slash is one beat, such as | {example} |",
    )


def _uneven(chords: Sequence[WrittenChord], meter: Meter) -> SymbolError:
    spare = meter.beats - len(chords)
    first, *others = (each.name for each in chords)
    lengths = [(1 + spare) * meter.beat_ticks, *[meter.beat_ticks] * len(others)]
    return SymbolError(
        f"{len(chords)} chords do not divide the {_beats(meter)} of {meter} evenly",
        "show how long each lasts with slashes, one for each further beat, such as "
        f"| {' '.join([first, *['/'] * spare, *others])} |, or with lengths, such as "
        + _example(chords, lengths),
    )


def _filled(signs: Sequence[int], beats: int) -> list[int]:
    """Return the beats of each chord, changed as little as possible to fill the bar.

    Missing beats go to the shortest chord, extra beats are taken from the longest, and of equal
    chords the last is changed.
    """
    filled = [min(each, beats) for each in signs]
    while sum(filled) < beats:
        filled[max(range(len(filled)), key=lambda n: (-filled[n], n))] += 1
    while sum(filled) > beats:
        filled[max(range(len(filled)), key=lambda n: (filled[n], n))] -= 1
    return filled


def _crowded(chords: Sequence[WrittenChord], meter: Meter) -> SymbolError:
    """Return the error for more chords than beats."""
    number = len(chords)
    longer = Meter(number * (meter.count // meter.beats), meter.unit)
    fits = longer.count <= MOST_COUNT and longer.beats == number
    others = "move some chords to another bar"
    half = meter.beat_ticks // 2
    whole_beats = 2 * meter.beats - number
    example = f"{chords[0].name}:{length_text(half)}"
    if whole_beats >= 0 and number <= _MOST_IN_EXAMPLE:
        halves = 2 * (number - meter.beats)
        example = _example(chords, [meter.beat_ticks] * whole_beats + [half] * halves)
    return SymbolError(
        f"{number} chords do not divide the {_beats(meter)} of {meter} evenly",
        f"without lengths a bar of {meter} takes one chord a beat; write lengths, such as "
        f"{example}, "
        + (f"{others}, or give this bar its own meter, ({longer})" if fits else f"or {others}"),
    )


def _example(chords: Sequence[WrittenChord], lengths: Sequence[int]) -> str:
    """Return the text of a bar of chords with lengths, given in ticks."""
    timed = zip(chords, length_suffixes(lengths), strict=True)
    return f"| {' '.join(f'{each.name}{suffix}' for each, suffix in timed)} |"


def _beats(meter: Meter) -> str:
    return f"{meter.beats} beat{'s' * (meter.beats > 1)}"
