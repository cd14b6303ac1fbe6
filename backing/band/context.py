"""Where the band is: what players may see of a bar and of what comes.

Conventions: ticks inside a bar count from its bar line and are as notated; swing, push of the hand
and looseness come later, in `feel`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, Protocol

from backing.band.hits import asked_hit
from backing.timing import EIGHTH

if TYPE_CHECKING:
    from backing.band.hits import Hit
    from backing.band.voicing import Voicings
    from backing.chart.model import Bar
    from backing.chart.sequence import SequencedBar
    from backing.harmony.chord import Chord
    from backing.style.model import DrumGroove, Style


class Stroke(NamedTuple):
    """One note as a player means it; a named tuple, as Note is.

    Attributes:
        tick: from the bar line, as notated; a pushed chord of the next bar is below the bar's end.
        ticks: notated length, at least 1.
        pitch: MIDI key.
        velocity: before the band's level, 1 to 127.
        late_ms: how much later than its place it is played at looseness 1, in milliseconds.
    """

    tick: int
    ticks: int
    pitch: int
    velocity: int
    late_ms: float = 0.0

    @property
    def end(self) -> int:
        """Where it ends, in notated ticks from the bar line."""
        return self.tick + self.ticks


@dataclass(frozen=True, slots=True)
class Sounding:
    """A chord as the band sounds it in one bar, pushes carried out.

    Attributes:
        tick: where it begins in this bar.
        ticks: how long it lasts in this bar.
        chord: the chord, or None for no chord.
        words: the directions at it, such as push and walk.
        hit: what the band does together, or None where the groove goes on.
        held_over: whether it was struck in the bar before, by a push.
        span: which chord it is of its bar as played, from 0; -1 for the last chord of an ending.
        is_coming: whether its bar is not this one but the next, whose first chord is pushed.
    """

    tick: int
    ticks: int
    chord: Chord | None
    words: frozenset[str] = frozenset()
    hit: Hit | None = None
    held_over: bool = False
    span: int = -1
    is_coming: bool = False

    @property
    def end(self) -> int:
        """Where it ends, in ticks from the bar line."""
        return self.tick + self.ticks

    @property
    def tones(self) -> frozenset[int]:
        """The pitch classes of its chord with the slash bass."""
        chord = self.chord
        return chord.pitch_classes | {chord.lowest.pitch_class} if chord else frozenset()

    @property
    def flows(self) -> bool:
        """Whether the groove goes on through it."""
        return self.hit is None

    @property
    def is_silent(self) -> bool:
        """Whether the band lays out."""
        return self.hit is not None and not self.hit.is_struck

    @property
    def is_hit(self) -> bool:
        """Whether the whole band hits it, here and not by a push in the bar before."""
        return self.hit is not None and self.hit.is_struck and not self.held_over

    @property
    def is_together(self) -> bool:
        """Whether the whole band strikes it at one time: a hit, or a push."""
        return not self.is_silent and (self.hit is not None or "push" in self.words)


@dataclass(frozen=True, slots=True)
class BarContext:
    """A bar of the performance.

    Attributes:
        number: bars from the start of the tune, from 0.
        start: its bar line, in ticks from the start of the performance.
        chorus: from 1.
        step: its place in the chorus, from 0.
        sequenced: the bar in the sequence.
        style: the groove that holds in it.
        bpm: quarter notes a minute.
        harmony: what sounds in it, in order; empty when the band is to be silent.
        levels: loudness, as pairs of (tick, factor on velocity), in steps.
        variation: which of the style's ways to play holds in it.
        groove: what the drums keep time with.
        fill: what the drums fill with, or None.
        is_top: whether a chorus begins here.
        is_end: whether the last chord of all is struck here.
        accents: where the whole band hits, as pairs of (tick, factor on velocity).
    """

    number: int
    start: int
    chorus: int
    step: int
    sequenced: SequencedBar
    style: Style
    bpm: float
    harmony: tuple[Sounding, ...]
    levels: tuple[tuple[int, float], ...]
    variation: str
    groove: DrumGroove
    fill: DrumGroove | None = None
    is_top: bool = False
    is_end: bool = False
    accents: tuple[tuple[int, float], ...] = ()

    @property
    def ticks(self) -> int:
        """Length of the bar in ticks."""
        return self.sequenced.bar.ticks

    @property
    def phase(self) -> int:
        """Where the bar line is in grids of several bars, in ticks from the start of the part."""
        return self.sequenced.index * self.sequenced.meter.bar_ticks

    def level(self, tick: int) -> float:
        """Return the factor on velocity at a tick of the bar."""
        return level_at(self.levels, tick)

    def at(self, tick: int) -> Sounding | None:
        """Return what sounds at a tick of the bar."""
        return next((each for each in self.harmony if each.tick <= tick < each.end), None)


class PerformanceView(Protocol):
    """What players may look at."""

    @property
    def seed(self) -> int:
        """The seed of the performance."""
        ...

    @property
    def voicings(self) -> Voicings:
        """The shapes of the chart's chords."""
        ...

    def place(self, number: int) -> BarContext | None:
        """Return any bar of the performance, or None before the start and after the end."""
        ...


class BandMember(Protocol):
    """A player of the band."""

    def play(self, place: BarContext) -> list[Stroke]:
        """Return the strokes of one bar."""
        ...


def level_at(levels: tuple[tuple[int, float], ...], tick: int) -> float:
    """Return the factor on velocity at a tick, of pairs of (tick, factor) in order."""
    found = 1.0
    for start, factor in levels:
        if start > tick:
            break
        found = factor
    return found


def harmony_of(before: Bar | None, bar: Bar, following: Bar | None) -> tuple[Sounding, ...]:
    """Return what sounds in a bar, given the bars around it in the sequence.

    A pushed chord begins early (`early_ticks`); when it is the first of the next bar, it begins in
    this one.
    """
    early = [early_ticks(before, bar, index) for index in range(len(bar.chords))]
    starts = [max(span.tick - ticks, 0) for span, ticks in zip(bar.chords, early, strict=True)]
    end = bar.ticks - (early_ticks(bar, following, 0) if following else 0)
    sounding = [
        Sounding(
            tick=start,
            ticks=stop - start,
            chord=span.chord,
            words=words - (frozenset() if ticks else {"push"}),
            hit=asked_hit(words),
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
        hit = asked_hit(words)
        sounding.append(Sounding(end, ticks, first.chord, words, hit, span=0, is_coming=True))
    return tuple(sounding)


def early_ticks(before: Bar | None, bar: Bar, index: int) -> int:
    """Return how much earlier than it is written a chord begins: an eighth where it is pushed.

    A push leaves something of the chord before: where that is no longer than an eighth, or nothing
    is before it, the chord comes when it is written.

    Args:
        before: the bar before, or None.
        bar: the bar of the chord.
        index: which chord of it, from 0.

    """
    tick = bar.chords[index].tick
    if not any(each.word == "push" and each.tick == tick for each in bar.directions):
        return 0
    left = bar.chords[index - 1] if index else before.chords[-1] if before else None
    return EIGHTH if left is not None and left.ticks > EIGHTH else 0
