"""Harmonises a melody with the chords of its key that fit best, by dynamic programming.

Conventions: a bar takes one chord, or two where it has two or four beats and at least three
quarters. The chords are the key's one, four and five and their relatives. A chord's cost grows with
melody notes outside it, with an unusual step to it, and with a section that does not end on the
tonic. The weights are common practice turned into numbers, no source; how often they find the
chords of tunes whose chords are known is measured in tests/scores/test_harmonise.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.harmony.numbers import read_symbol
from backing.scores.tune import TuneChord

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.scores.tune import Tune, TuneBar

#              number of the key and cost of each chord; the tonic first
_CHORDS = {
    "major": "1 0, 4 0.2, 5 0.1, 6m 0.8, 2m 0.9, 57 0.6",
    "minor": "1m 0, 4m 0.4, 5m 1.1, 57 0.5, b7 0.3, b3 0.6, b6 0.8",
    "dorian": "1m 0, b7 0.1, 4 0.5, 5m 0.6, b3 0.7, 2m 1.2",
    "mixolydian": "1 0, b7 0.2, 4 0.3, 5 0.8, 5m 0.8, 2m 1.1",
    "lydian": "1 0, 2 0.3, 5 0.3, 6m 0.8",
    "phrygian": "1m 0, b2 0.3, b7m 0.5, 4m 0.6, b3 0.8",
    "locrian": "1dim 0, b2 0.3, b3m 0.5, b7m 0.5",
}
_AGAINST, _SEVENTH = 1.0, 0.35
"""The cost of a quarter note that is no chord tone, or is the seventh above the root."""

_STRONG = 2.0
"""The weight of a note that begins on a beat; others have 1."""

_CHANGE, _CHANGE_INSIDE = 0.35, 0.75
"""The cost of a chord change at the bar line and inside the bar."""

_TO_HOME = 0.25
"""The discount for five to one, four to one, flat seven to one and two to five."""

_START, _END = 0.8, 1.6
"""The cost of a chord other than the tonic at the start and at the end of a section."""


@dataclass(frozen=True, slots=True)
class _Choice:
    """A possible chord, the semitones of its root above the tonic, and its cost."""

    chord: Chord
    above: int
    cost: float

    def costs_of(self, weights: Sequence[float]) -> float:
        """Return the cost of a melody over this chord, given its weights by pitch class."""
        tones = self.chord.pitch_classes
        seventh = (self.chord.root.pitch_class + 10) % 12
        return sum(
            weight * (_SEVENTH if pitch_class == seventh else _AGAINST)
            for pitch_class, weight in enumerate(weights)
            if weight and pitch_class not in tones
        )


@dataclass(frozen=True, slots=True)
class _Span:
    """A span of melody that takes one chord.

    Attributes:
        bar: the index of its bar.
        tick: its start in the bar.
        weights: the weighted quarter notes of each pitch class in it.
        starts, ends: whether it is the first or last of a section.

    """

    bar: int
    tick: int
    weights: tuple[float, ...]
    starts: bool
    ends: bool


def harmonised(tune: Tune) -> Tune:
    """Return a tune with a simple harmony; a tune that has chords, as it is."""
    spans = _spans(tune.bars)
    if not spans or any(sign.chord for bar in tune.bars for sign in bar.chords):
        return tune
    signs: dict[int, list[TuneChord]] = {}
    before: Chord | None = None
    for span, chord in zip(spans, _best(spans, tune.bars), strict=True):
        if chord != before or span.starts:
            signs.setdefault(span.bar, []).append(TuneChord(span.tick, chord))
        before = chord
    bars = tuple(
        replace(bar, chords=tuple(signs.get(index, ()))) for index, bar in enumerate(tune.bars)
    )
    remark = "its chords are a plain harmony made from the melody"
    return replace(tune, bars=bars, remarks=(*tune.remarks, remark))


def _spans(bars: Sequence[TuneBar]) -> list[_Span]:
    spans: list[_Span] = []
    fresh = True
    for index, bar in enumerate(bars):
        ends = bool(bar.closes or bar.double or index == len(bars) - 1)
        fresh = fresh or bar.opens or bool(bar.part) or bool(bar.ending)
        if fresh and bar.is_short and not ends:
            continue  # a pickup has no chord
        half = bar.meter.bar_ticks // 2
        in_two = bar.meter.beats in (2, 4) and bar.meter.bar_ticks >= 3 * 960
        starts = [0, half] if in_two and bar.ticks > half else [0]
        for tick, end in zip(starts, [*starts[1:], bar.ticks], strict=True):
            spans.append(
                _Span(
                    bar=index,
                    tick=tick,
                    weights=_weights(bar, tick, end),
                    starts=fresh and not tick,
                    ends=ends and end == bar.ticks,
                )
            )
        fresh = ends
    return spans


def _weights(bar: TuneBar, start: int, end: int) -> tuple[float, ...]:
    """Return the weighted quarter notes of each pitch class between two ticks."""
    weights = [0.0] * 12
    for note in bar.notes:
        low, high = max(note.tick, start), min(note.end, end)
        if low < high:
            strong = _STRONG if note.tick % bar.meter.beat_ticks == 0 else 1.0
            weights[note.pitch.key % 12] += strong * (high - low) / 960
    return tuple(weights)


def _best(spans: Sequence[_Span], bars: Sequence[TuneBar]) -> list[Chord]:
    """Return the chords, one a span, whose total cost is lowest."""
    costs: list[float] = []
    paths: list[list[int]] = []
    choices: list[_Choice] = []
    by_key: dict[Key, list[_Choice]] = {}
    rows: list[list[_Choice]] = []
    for span in spans:
        key = bars[span.bar].key
        before, choices = choices, by_key.setdefault(key, _choices(key))
        rows.append(choices)
        own = [_own_cost(span, each) for each in choices]
        if not costs:
            costs, paths = own, [[0] * len(choices)]
            continue
        steps = [
            min(
                (costs[n] + _step(old, new, inside=span.tick > 0, starts=span.starts), n)
                for n, old in enumerate(before)
            )
            for new in choices
        ]
        paths.append([n for _, n in steps])
        costs = [cost + step for cost, (step, _) in zip(own, steps, strict=True)]
    at = min(range(len(costs)), key=costs.__getitem__)
    found = []
    for row, path in zip(reversed(rows), reversed(paths), strict=True):
        found.append(row[at].chord)
        at = path[at]
    return found[::-1]


def _choices(key: Key) -> list[_Choice]:
    found = []
    for text in _CHORDS[key.mode].split(", "):
        name, cost = text.split(" ")
        chord = read_symbol(name, key).plain()
        above = (chord.root.pitch_class - key.tonic.pitch_class) % 12
        found.append(_Choice(chord, above, float(cost)))
    return found


def _own_cost(span: _Span, choice: _Choice) -> float:
    cost = choice.cost + choice.costs_of(span.weights)
    if span.starts and choice.above:
        cost += _START
    if span.ends and choice.above:
        cost += _END
    return cost


def _step(old: _Choice, new: _Choice, *, inside: bool, starts: bool) -> float:
    """Return the cost of a change from one chord to another."""
    if old.chord == new.chord or starts:
        return 0.0
    cost = _CHANGE_INSIDE if inside else _CHANGE
    usual = (new.above == 0 and old.above in (5, 7, 10)) or (old.above, new.above) == (2, 7)
    return cost - (_TO_HOME if usual else 0.0)
