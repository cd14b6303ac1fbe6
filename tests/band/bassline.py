"""A bass line cut into the chords that it is played over, with measurements of them."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from backing.band.bass import Bass

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from backing.band.context import BarContext
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.performance.performance import Performance

FOLK = frozenset(
    [
        "two-beat",
        "bluegrass",
        "train-beat",
        "waltz",
        "reel",
        "hornpipe",
        "jig",
        "slip-jig",
        "polka",
        "march",
    ]
)
"""The styles whose bass keeps to the scale."""

PHRASE_BARS = 4
"""Bars of a phrase: common practice, no source."""


class Span(NamedTuple):
    """A chord as it sounds, across a bar line if it is pushed, with the bass's notes in it.

    Attributes:
        start: tick from the start of the performance.
        end: the tick after it.
        chord: the chord, or None.
        in_groove: whether the band does nothing else there together.
        context: the bar in which it begins.
        notes: pairs of (tick from the start of the performance, MIDI key).
        is_new: whether another chord, or none, sounds before.
    """

    start: int
    end: int
    chord: Chord | None
    in_groove: bool
    context: BarContext
    notes: tuple[tuple[int, int], ...]
    is_new: bool

    @property
    def flows(self) -> bool:
        """Whether the groove plays this chord: it is no hit, no pickup and not the last one."""
        is_apart = self.context.sequenced.bar.pickup or self.context.is_end
        return self.chord is not None and self.in_groove and not is_apart

    @property
    def is_short(self) -> bool:
        """Whether it lasts half a bar or less."""
        return 2 * (self.end - self.start) <= self.context.ticks

    @property
    def has_root(self) -> bool:
        """Whether the chord's bass is struck during it."""
        return any(self.is_root(pitch) for _, pitch in self.notes)

    @property
    def begins_with_root(self) -> bool:
        """Whether the chord's bass is struck where it starts."""
        return (
            bool(self.notes) and self.notes[0][0] == self.start and self.is_root(self.notes[0][1])
        )

    def is_root(self, pitch: int) -> bool:
        """Return whether a key is the chord's bass."""
        return self.chord is not None and pitch % 12 == self.chord.lowest.pitch_class

    def is_tone(self, pitch: int) -> bool:
        """Return whether a key is a tone of the chord, or its bass."""
        return self.chord is not None and pitch % 12 in tones(self.chord)


def tones(chord: Chord) -> frozenset[int]:
    """Return the pitch classes of a chord with its bass."""
    return chord.pitch_classes | {chord.lowest.pitch_class}


def spans_of(contexts: Sequence[BarContext], notes: Iterable[tuple[int, int]]) -> list[Span]:
    """Cut a line into chords.

    Args:
        contexts: the bars of the performance.
        notes: pairs of (tick from the start of the performance, MIDI key), in order.

    """
    cut: list[Span] = []
    for context in contexts:
        for each in context.harmony:
            end = context.start + each.end
            if each.held_over and cut:
                cut[-1] = cut[-1]._replace(end=end, in_groove=cut[-1].in_groove and each.flows)
                continue
            is_new = not cut or cut[-1].chord != each.chord
            start = context.start + each.tick
            cut.append(Span(start, end, each.chord, each.flows, context, (), is_new))
    kept = list(notes)
    return [
        span._replace(notes=tuple(note for note in kept if span.start <= note[0] < span.end))
        for span in cut
    ]


def played(performance: Performance) -> list[Span]:
    """Return the line of a performance as notated, before swing."""
    found = (performance.context(number) for number in range(performance.length))
    contexts = [context for context in found if context]
    bass = Bass(performance.contexts)
    notes = [
        (context.start + each.tick, each.pitch)
        for context in contexts
        for each in bass.play(context)
    ]
    return spans_of(contexts, notes)


def leading(spans: Sequence[Span]) -> list[tuple[Span, Span]]:
    """Return the chords whose last note is no chord tone, with the chord that they lead to.

    What leads to a break or to no chord is not among them.
    """
    return [
        (before, after)
        for before, after in pairwise(spans)
        if before.flows and before.notes and after.notes and before.end == after.start
        if after.is_new or _begins_phrase(before, after)
        if not before.is_tone(before.notes[-1][1])
    ]


def _begins_phrase(before: Span, after: Span) -> bool:
    sequenced = after.context.sequenced
    return after.context is not before.context and sequenced.index % PHRASE_BARS == 0


def resolves(before: Span, after: Span) -> bool:
    """Return whether the last note of a chord goes by step into a tone of the next."""
    (_, last), (_, first) = before.notes[-1], after.notes[0]
    return abs(first - last) in (1, 2) and after.is_tone(first)


def scale_of(key: Key) -> frozenset[int]:
    """Return the pitch classes of a key's scale; minor includes the raised sixth and seventh."""
    found = {note.pitch_class for note in key.scale}
    if key.mode == "minor":
        found |= {(key.tonic.pitch_class + 9) % 12, (key.tonic.pitch_class + 11) % 12}
    return frozenset(found)


def outside(spans: Iterable[Span]) -> list[tuple[Span, int]]:
    """Return the notes that belong neither to the key nor to their chord."""
    return [
        (span, pitch)
        for span in spans
        for _, pitch in span.notes
        if span.chord and not span.is_tone(pitch)
        if pitch % 12 not in scale_of(span.context.sequenced.key)
    ]
