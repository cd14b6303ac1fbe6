"""What the players see of a bar and of the bars around it.

Conventions: ticks inside a bar count from its bar line and are as notated; `feel` applies swing,
dynamics and looseness later.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, Protocol

from backing.band.hits import hit_of
from backing.timing import EIGHTH

if TYPE_CHECKING:
    from backing.band.fills import Fill
    from backing.band.hits import Hit
    from backing.band.plan import Plan
    from backing.band.voicing import Voicings
    from backing.chart.model import Bar
    from backing.chart.sequence import SequencedBar
    from backing.harmony.chord import Chord
    from backing.style.model import ChopPattern, Lanes, Style


class Stroke(NamedTuple):
    """One notated note of a player; a named tuple, as Note is.

    Attributes:
        tick: from the bar line, as notated.
        ticks: notated length, at least 1.
        pitch: MIDI key.
        velocity: as the style has it, before dynamics and variation, 1 to 127.
        late_ms: delay of a string behind the first one at looseness 1, in milliseconds.
    """

    tick: int
    ticks: int
    pitch: int
    velocity: int
    late_ms: float = 0.0

    @property
    def end(self) -> int:
        """Its end, in notated ticks from the bar line."""
        return self.tick + self.ticks


@dataclass(frozen=True, slots=True)
class SoundingChord:
    """A chord as the band plays it in one bar, with pushes applied.

    Attributes:
        tick: its start in this bar.
        ticks: its length in this bar.
        chord: the chord, or None for no chord.
        words: the directions at it, such as push and walk.
        hit: what the band does together, or None if the groove continues.
        held_over: whether a push struck it in the bar before.
        span: its index in its bar, from 0; -1 for the last chord of an ending.
        in_next_bar: whether it is the first chord of the next bar, pushed into this one.
    """

    tick: int
    ticks: int
    chord: Chord | None
    words: frozenset[str] = frozenset()
    hit: Hit | None = None
    held_over: bool = False
    span: int = -1
    in_next_bar: bool = False

    @property
    def end(self) -> int:
        """Its end, in ticks from the bar line."""
        return self.tick + self.ticks

    @property
    def tones(self) -> frozenset[int]:
        """The pitch classes of its chord, the slash bass included."""
        chord = self.chord
        return chord.pitch_classes | {chord.lowest.pitch_class} if chord else frozenset()

    @property
    def flows(self) -> bool:
        """Whether the groove continues under it."""
        return self.hit is None

    @property
    def is_silent(self) -> bool:
        """Whether the band lays out."""
        return self.hit is not None and not self.hit.is_struck

    @property
    def is_hit(self) -> bool:
        """Whether the whole band hits it in this bar."""
        return self.hit is not None and self.hit.is_struck and not self.held_over

    @property
    def is_together(self) -> bool:
        """Whether the whole band strikes it together: a hit or a push."""
        return not self.is_silent and (self.hit is not None or "push" in self.words)


@dataclass(frozen=True, slots=True)
class BarContext:
    """A bar of the performance as the players see it.

    Attributes:
        number: its number, from 0 after the count-in.
        start: its bar line, in ticks from the start of the performance.
        chorus: from 1.
        step: its index in the chorus, from 0.
        sequenced: the bar in the sequence.
        style: its style.
        bpm: quarter notes a minute.
        harmony: its chords in order; empty if the band is silent.
        levels: loudness in steps, as pairs of (tick, factor on velocity).
        variation: the style's variation.
        energy: how much the band gives in this chorus, from 0 to 1.
        plan: what the players agree on.
        pattern: the pattern of the chop.
        groove: the strokes of the drums, as far as hits and the fill leave room.
        fill: the drum fill at its end, or None.
        is_top: whether a chorus begins here.
        is_end: whether the last chord of the performance is struck here.
        hit_levels: where the whole band hits, as pairs of (tick, factor on velocity).
    """

    number: int
    start: int
    chorus: int
    step: int
    sequenced: SequencedBar
    style: Style
    bpm: float
    harmony: tuple[SoundingChord, ...]
    levels: tuple[tuple[int, float], ...]
    variation: str
    energy: float
    plan: Plan
    pattern: ChopPattern
    groove: Lanes
    fill: Fill | None = None
    is_top: bool = False
    is_end: bool = False
    hit_levels: tuple[tuple[int, float], ...] = ()

    @property
    def ticks(self) -> int:
        """Length of the bar in ticks."""
        return self.sequenced.bar.ticks

    @property
    def phase(self) -> int:
        """Ticks from the start of the part to the bar line, for grids of several bars."""
        return self.sequenced.index * self.sequenced.meter.bar_ticks

    def level(self, tick: int) -> float:
        """Return the factor on velocity at a tick of the bar."""
        return level_at(self.levels, tick)

    def at(self, tick: int) -> SoundingChord | None:
        """Return the chord at a tick of the bar, or None."""
        return next((each for each in self.harmony if each.tick <= tick < each.end), None)


class PerformanceView(Protocol):
    """What players see of the performance."""

    @property
    def seed(self) -> int:
        """The seed of the performance."""
        ...

    @property
    def voicings(self) -> Voicings:
        """The shapes of the chart's chords."""
        ...

    def context(self, number: int) -> BarContext | None:
        """Return a bar by its number, or None outside the performance."""
        ...


class BandMember(Protocol):
    """A player of the band."""

    def play(self, context: BarContext) -> list[Stroke]:
        """Return the strokes of one bar."""
        ...


def level_at(levels: tuple[tuple[int, float], ...], tick: int) -> float:
    """Return the factor at a tick, given pairs of (tick, factor) in order."""
    found = 1.0
    for start, factor in levels:
        if start > tick:
            break
        found = factor
    return found


def harmony_of(before: Bar | None, bar: Bar, following: Bar | None) -> tuple[SoundingChord, ...]:
    """Return the chords that sound in a bar, given the bars before and after it.

    A pushed chord begins early (`early_ticks`); the first chord of the next bar then begins in this
    one.
    """
    early = [early_ticks(before, bar, index) for index in range(len(bar.chords))]
    starts = [max(span.tick - ticks, 0) for span, ticks in zip(bar.chords, early, strict=True)]
    end = bar.ticks - (early_ticks(bar, following, 0) if following else 0)
    sounding = [
        SoundingChord(
            tick=start,
            ticks=stop - start,
            chord=span.chord,
            words=words - (frozenset() if ticks else {"push"}),
            hit=hit_of(words),
            held_over=index == 0 and ticks > 0,
            span=index,
        )
        for index, (span, ticks, start, stop) in enumerate(
            zip(bar.chords, early, starts, [*starts[1:], end], strict=True)
        )
        for words in (bar.words_at(span.tick),)
    ]
    if following is not None and end < bar.ticks:
        first = following.chords[0]
        ticks, words = bar.ticks - end, following.words_at(0)
        hit = hit_of(words)
        sounding.append(
            SoundingChord(end, ticks, first.chord, words, hit, span=0, in_next_bar=True)
        )
    return tuple(sounding)


def early_ticks(before: Bar | None, bar: Bar, index: int) -> int:
    """Return how many ticks early a chord begins: an eighth if it is pushed, else 0.

    A push has no effect if the chord before is missing or no longer than an eighth.

    Args:
        before: the bar before, or None.
        bar: the bar of the chord.
        index: the chord's index in the bar, from 0.

    """
    tick = bar.chords[index].tick
    if not any(each.word == "push" and each.tick == tick for each in bar.directions):
        return 0
    left = bar.chords[index - 1] if index else before.chords[-1] if before else None
    return EIGHTH if left is not None and left.ticks > EIGHTH else 0
