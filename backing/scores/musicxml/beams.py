"""Groups the notes of a bar into tuplets and beams.

Conventions: notes shorter than a quarter are beamed by the beat. Four plain eighths that fill half
a bar of 4/4, a bar of 2/4 or a half note of 2/2 are joined. Beats of five and seven units are 3+2
and 2+2+3, of eight 3+3+2, of more than that twos and a last three. A bar of three units or fewer
has one beam. Beams end at rests and longer notes; a note of a tuplet that is longer than the beat
stays with its tuplet. All this is common practice, no source.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import accumulate, groupby, pairwise
from typing import TYPE_CHECKING

from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Sequence

    from backing.scores.musicxml.pieces import Piece
    from backing.timing import Meter

_BEAMS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4}
_BEATS = {4: (2, 2), 5: (3, 2), 7: (2, 2, 3), 8: (3, 3, 2)}
_HALF = 2 * TICKS_PER_QUARTER
_EIGHTH = TICKS_PER_QUARTER // 2
_GRACE_BEAMS = 2


def tuplets_of(pieces: Sequence[Piece]) -> list[range]:
    """Return the tuplets of a bar, each as the indices of its pieces.

    A tuplet ends where it is complete, or where notes of another ratio follow.
    """
    found: list[range] = []
    start, length, base = 0, 0, 0
    for index, piece in enumerate(pieces):
        value = piece.value
        if value.actual == 1:
            start, length, base = index + 1, 0, 0
            continue
        before = pieces[index - 1].value if index > start else value
        if (before.actual, before.normal) != (value.actual, value.normal):
            start, length, base = index, 0, 0
        length += value.ticks
        base = min(base or value.base_ticks, value.base_ticks)
        if start < index:
            found.pop()
        found.append(range(start, index + 1))
        if length % (base * value.actual) == 0:
            start, length, base = index + 1, 0, 0
    return found


def brackets_of(pieces: Sequence[Piece]) -> list[list[str]]:
    """Return for each piece whether a tuplet begins or ends there: start, stop, both or neither."""
    found: list[list[str]] = [[] for _ in pieces]
    for tuplet in tuplets_of(pieces):
        found[tuplet[0]].append("start")
        found[tuplet[-1]].append("stop")
    return found


def beams_of(pieces: Sequence[Piece], meter: Meter, offset: int) -> list[list[str]]:
    """Return the beams of each piece, from the first level to the last.

    Args:
        pieces: the pieces of a bar.
        meter: the meter of the bar.
        offset: the tick in its whole measure at which the bar begins.

    """
    found: list[list[str]] = [[] for _ in pieces]
    groups = _groups(pieces, meter, offset)
    for key, group in groupby(range(len(pieces)), key=lambda index: groups[index]):
        together = list(group)
        if key is not None and len(together) > 1:
            counts = [_beam_count(pieces[index]) for index in together]
            ticks = [offset + pieces[index].tick for index in together]
            lengths = [pieces[index].value.ticks for index in together]
            for place, index in enumerate(together):
                forward = ticks[place] % (2 * lengths[place]) == 0
                found[index] = _words(counts, place, forward=forward)
    return found


def grace_beams(count: int) -> list[list[str]]:
    """Return the beams of a number of grace notes; a single one has none."""
    counts = [_GRACE_BEAMS] * count
    if count < 2:
        return [[]] * count
    return [_words(counts, place, forward=True) for place in range(count)]


def _words(counts: Sequence[int], place: int, *, forward: bool) -> list[str]:
    """Return the `beam` values of each level for one note of a beamed group."""
    found = []
    for level in range(1, counts[place] + 1):
        before = place > 0 and counts[place - 1] >= level
        after = place + 1 < len(counts) and counts[place + 1] >= level
        if before or after:
            found.append("continue" if before and after else "end" if before else "begin")
        else:
            first, last = place == 0, place == len(counts) - 1
            found.append("forward hook" if first or (forward and not last) else "backward hook")
    return found


def _beam_count(piece: Piece) -> int:
    return _BEAMS.get(piece.value.type, 0) if piece.notes else 0


def _groups(pieces: Sequence[Piece], meter: Meter, offset: int) -> list[Hashable]:
    """Return the beam group of each piece, or None."""
    length = offset + pieces[-1].end
    beats = _edges(meter, length)
    keys: list[Hashable] = [_span_of(beats, offset + piece.tick) for piece in pieces]
    for number, tuplet in enumerate(tuplets_of(pieces)):
        first, last = pieces[tuplet[0]], pieces[tuplet[-1]]
        if _span_of(beats, offset + first.tick) != _span_of(beats, offset + last.end - 1):
            for index in tuplet:
                keys[index] = ("tuplet", number)
    joins = meter.unit == 2 or (meter.unit == 4 and meter.count in (2, 4, 8))
    for start in range(0, length, _HALF) if joins else ():
        inside = [n for n, p in enumerate(pieces) if start <= offset + p.tick < start + _HALF]
        plain = [n for n in inside if pieces[n].notes and pieces[n].value.ticks == _EIGHTH]
        if len(inside) == len(plain) == _HALF // _EIGHTH:
            for index in inside:
                keys[index] = ("half", start)
    return [key if _beam_count(piece) else None for key, piece in zip(keys, pieces, strict=True)]


@lru_cache(4096)
def _edges(meter: Meter, length: int) -> tuple[int, ...]:
    """Return the ticks at which beam groups begin, up to at least a length."""
    if meter.unit == 2:
        beats: Iterable[int] = [TICKS_PER_QUARTER] * (2 * meter.count)
    elif meter.unit == 4 or meter.beat_ticks != meter.unit_ticks:
        beats = [meter.beat_ticks] * meter.beats
    else:
        beats = [units * meter.unit_ticks for units in _beats_of(meter.count)]
    bars = -(-length // meter.bar_ticks)
    return tuple(accumulate([*beats] * bars, initial=0))


def _beats_of(count: int) -> tuple[int, ...]:
    if count <= 3:
        return (count,)
    twos, rest = divmod(count, 2)
    return _BEATS.get(count) or ((2,) * (twos - rest) + (3,) * rest)


def _span_of(edges: Sequence[int], tick: int) -> int:
    return next(start for start, end in pairwise(edges) if start <= tick < end)
