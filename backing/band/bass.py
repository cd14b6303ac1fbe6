"""The bass player: makes a line for each phrase and follows the directions of the chart.

A phrase is four bars of a part, or what is left of it. Its line is drawn as a whole and leads into
the first note of the next phrase. That note depends only on its own address, so each phrase can be
made by itself.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.chord_context import ChordContext
from backing.band.context import Stroke
from backing.band.lines import LINES
from backing.band.path import FREE, NEVER, Onset, draw_line, weights_ahead
from backing.band.roles import register
from backing.style.model import FIRM, LIGHT, PLAIN
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    import random

    from backing.band.context import BarContext, PerformanceView, SoundingChord
    from backing.harmony.chord import Chord
    from backing.style.model import BassStyle

PHRASE_BARS = 4
"""Bars of a phrase; the last phrase of a part may be shorter."""

LINES_KNOWN = 8
"""Choruses after which the bass lines repeat, with other ornaments."""

_KEPT_PHRASES, _KEPT_LINES = 3, 512
_ENOUGH_TO_SKIP = 3
_DEAD_NOTE_TICKS = EIGHTH // 3
_SOUNDING_SHARE, _OCTAVE_SHARE = 0.4, 0.3
"""Share of skips that sound, and share of those that lie an octave below."""

OCTAVE = 12
_MIDDLE = 40
_LAST_CENTRE = 6


@dataclass(frozen=True, slots=True)
class _Manner:
    """How one of `BASS_LINES` is played.

    Attributes:
        gap: share of each note that is silent before the next note.
        firm: tick of the firm notes in every two quarters; 0 means beats 1 and 3.
        centre: lowest and highest centre of a phrase, as shares of the bass's range.
        reach: usual distance from the centre, in semitones.
    """

    gap: float
    firm: int
    centre: tuple[float, float]
    reach: float


_MANNERS = {
    "walking": _Manner(gap=0.06, firm=TICKS_PER_QUARTER, centre=(0.25, 0.55), reach=6.0),
    "two-beat": _Manner(gap=0.2, firm=0, centre=(0.15, 0.4), reach=6.0),
    "riding": _Manner(gap=0.15, firm=0, centre=(0.2, 0.5), reach=14.0),
    "figure": _Manner(gap=0.1, firm=0, centre=(0.2, 0.45), reach=9.0),
}


def _manner(context: BarContext) -> _Manner:
    return _MANNERS[context.style.bass.line(context.variation)]


class _Line(NamedTuple):
    """The line of a phrase.

    Attributes:
        first: number of the phrase's first bar when it was drawn.
        onsets: where its notes begin.
        line: their MIDI keys.
        next_entry: tick of the first onset in the bar after the phrase, or None without one.
    """

    first: int
    onsets: tuple[Onset, ...]
    line: tuple[int, ...]
    next_entry: int | None


def _line_index(context: BarContext) -> int:
    """Return the number, below `LINES_KNOWN`, of the line that a chorus has."""
    return context.chorus % LINES_KNOWN


class Bass:
    """The bass player of one performance."""

    def __init__(self, view: PerformanceView) -> None:
        self._view = view
        self._opening = lru_cache(2)(self._make_opening)
        self._onsets = lru_cache(4)(self._make_onsets)
        self._phrases: OrderedDict[int, dict[int, list[Stroke]]] = OrderedDict()
        self._lines: OrderedDict[tuple[object, ...], _Line] = OrderedDict()

    def play(self, context: BarContext) -> list[Stroke]:
        """Return the strokes of one bar."""
        first = _phrase_start(context)
        if first not in self._phrases:
            self._phrases[first] = self._phrase(first)
            if len(self._phrases) > _KEPT_PHRASES:
                self._phrases.popitem(last=False)
        return self._phrases[first].get(context.number, [])

    def _phrase(self, first: int) -> dict[int, list[Stroke]]:
        """Return the strokes of a phrase by the numbers of its bars."""
        contexts = self._phrase_contexts(first)
        key = self._surroundings(contexts)
        drawn = self._lines.get(key)
        if drawn is None:
            drawn = self._lines[key] = self._draw_line(contexts)
            if len(self._lines) > _KEPT_LINES:
                self._lines.popitem(last=False)
        return self._strokes(contexts, drawn)

    def _surroundings(self, contexts: list[BarContext]) -> tuple[object, ...]:
        """Return everything that the line of a phrase depends on, as a cache key."""
        first, last = contexts[0], contexts[-1]
        before = self._view.context(first.number - 1)
        after = [self._view.context(last.number + ahead) for ahead in (1, 2)]
        return (
            _line_index(first),
            first.step,
            (first.sequenced.part, first.sequenced.index, first.sequenced.length),
            before.harmony[-1:] if before else None,
            *((each.variation, each.harmony, each.is_end) for each in contexts),
            *((each.variation, each.harmony, each.is_end) for each in after if each),
        )

    def _draw_line(self, contexts: list[BarContext]) -> _Line:
        first, next_first = contexts[0].number, contexts[-1].number + 1
        last = next((each.number for each in contexts if each.is_end), next_first)
        here, there = self._centre(first), self._centre(last)
        onsets = [
            onset
            for index, context in enumerate(contexts)
            for onset in self._onsets(
                context.number, here + (there - here) * index // len(contexts)
            )
        ]
        if not onsets:
            return _Line(first, (), (), None)
        opening, landing = self._opening(first), self._opening(next_first)
        aimed = [*onsets, landing] if landing else list(onsets)
        if opening and (opening.bar, opening.tick) == (onsets[0].bar, onsets[0].tick):
            aimed[0] = opening
        if (
            len(onsets) > 1
        ):  # the opening is not repeated: it may be the second of its pitch already
            aimed[1] = aimed[1]._replace(steps=(NEVER, *aimed[1].steps[1:]))
        source = chance.source(self._view.seed, "bass", _line_index(contexts[0]), contexts[0].step)
        line = draw_line(aimed, source)[: len(onsets)]
        entry = self._onsets(next_first, self._centre(next_first))
        return _Line(first, tuple(onsets), tuple(line), entry[0].tick if entry else None)

    def _strokes(self, contexts: list[BarContext], drawn: _Line) -> dict[int, list[Stroke]]:
        found: dict[int, list[Stroke]] = {context.number: [] for context in contexts}
        if not drawn.onsets:
            return found
        bars = [contexts[onset.bar - drawn.first] for onset in drawn.onsets]
        starts = [
            context.start + onset.tick for context, onset in zip(bars, drawn.onsets, strict=True)
        ]
        last = starts[-1] + drawn.onsets[-1].ticks
        if drawn.next_entry is not None:
            last = min(last, contexts[-1].start + contexts[-1].ticks + drawn.next_entry)
        ends = [*starts[1:], last]
        for context, onset, pitch, start, end in zip(
            bars, drawn.onsets, drawn.line, starts, ends, strict=True
        ):
            style, manner = context.style.bass, _manner(context)
            ticks = min(onset.ticks, end - start)
            gap = manner.gap if style.gap is None else style.gap
            ticks -= round(min(ticks, 2 * TICKS_PER_QUARTER) * gap)
            weight = _weight(style, manner, onset.tick)
            found[context.number].append(
                Stroke(onset.tick, max(ticks, 1), pitch, style.velocity[weight])
            )
        return {
            context.number: _ornamented(context, found[context.number], self._view.seed)
            for context in contexts
        }

    def _phrase_contexts(self, first: int) -> list[BarContext]:
        contexts: list[BarContext] = []
        while (context := self._view.context(first + len(contexts))) and _phrase_start(
            context
        ) == first:
            contexts.append(context)
        return contexts

    def _make_onsets(self, number: int, centre: int) -> tuple[Onset, ...]:
        """Return the onsets of one bar in a line that moves around a MIDI key."""
        context = self._view.context(number)
        if context is None:
            return ()
        style = context.style.bass
        where = register(*style.range, centre, _manner(context).reach)
        before, after = (
            self._view.context(context.number - 1),
            self._view.context(context.number + 1),
        )
        ends_phrase = after is None or _phrase_start(after) == after.number
        last = before.harmony[-1] if before and before.harmony else None
        onsets: list[Onset] = []
        for index, sounding in enumerate(context.harmony):
            is_last = index == len(context.harmony) - 1
            next_chord = (
                _first_chord(after.harmony if after else ())
                if is_last
                else (_first_chord(context.harmony[index + 1 :]))
            )
            if sounding.chord is not None and not sounding.is_silent:
                chord_context = ChordContext(
                    bar_context=context,
                    sounding=sounding,
                    is_new=last is None or sounding.chord != last.chord,
                    is_return=last is None or last.chord is None or not last.flows,
                    next_chord=next_chord,
                    is_last=is_last,
                    ends_phrase=ends_phrase,
                    register=where,
                    seed=self._view.seed,
                    line_index=_line_index(context),
                )
                onsets += _onsets_of(chord_context, after)
            last = sounding
        return tuple(onsets)

    def _make_opening(self, first: int) -> Onset | None:
        """Return the first onset of a phrase, with a single pitch.

        None if the first bar has no notes, or its first note must be left by step.
        """
        context = self._view.context(first)
        onsets = self._onsets(first, self._centre(first))
        if not context or not onsets:
            return None
        ahead = weights_ahead(onsets)[0]  # a low note where the bar goes up from it
        weighed = tuple(
            (pitch, weight * onward)
            for (pitch, weight, left), onward in zip(onsets[0].choices, ahead, strict=True)
            if left == FREE
        )
        if not weighed:
            return None
        source = chance.source(self._view.seed, "bass opening", _line_index(context), context.step)
        return onsets[0]._replace(choices=((chance.pick(source, weighed), 1.0, FREE),))

    def _centre(self, first: int) -> int:
        """Return the MIDI key around which a phrase begins."""
        context = self._view.context(first)
        if context is None:
            return _MIDDLE
        low, high = context.style.bass.range
        if context.is_end:  # the last note lies low, and the line goes down to it
            return low + _LAST_CENTRE
        height = chance.unit(self._view.seed, "bass centre", _line_index(context), context.step)
        lowest, highest = _manner(context).centre
        return round(low + (high - low) * (lowest + (highest - lowest) * height))


def _phrase_start(context: BarContext) -> int:
    return (
        context.number
        if context.sequenced.bar.pickup
        else context.number - context.sequenced.index % PHRASE_BARS
    )


def _first_chord(harmony: tuple[SoundingChord, ...]) -> Chord | None:
    """Return the first chord, or None if there is silence first."""
    first = harmony[0] if harmony else None
    return first.chord if first and not first.is_silent else None


def _onsets_of(chord_context: ChordContext, after: BarContext | None) -> list[Onset]:
    """Return the onsets of one chord, with the stops, holds and pushes of the chart."""
    sounding = chord_context.sounding
    if sounding.hit is not None:
        onset = chord_context.hit_onset()
        onset = onset if sounding.hit.rings else onset._replace(ticks=EIGHTH)
        return [] if sounding.held_over else [onset]
    onsets = LINES[chord_context.bar_context.style.bass.line(chord_context.bar_context.variation)](
        chord_context
    )
    first = after.harmony[0] if after and after.harmony else None
    if (
        onsets and chord_context.is_last and first and first.held_over
    ):  # a push rings over the bar line
        onsets[-1] = onsets[-1]._replace(ticks=onsets[-1].ticks + first.ticks)
    return onsets


def _weight(style: BassStyle, manner: _Manner, tick: int) -> int:
    """Return the weight of a note at a tick: LIGHT, PLAIN or FIRM."""
    if style.accents:
        return next((each for _, each in style.accents.within(tick, tick + 1)), PLAIN)
    return FIRM if tick % (2 * TICKS_PER_QUARTER) == manner.firm else PLAIN


def _ornamented(context: BarContext, strokes: list[Stroke], seed: int) -> list[Stroke]:
    """Return the bar's strokes with a skip, by chance, and with the kick if the style says so."""
    share = context.style.bass.skips * min(120.0 / context.bpm, 1.0)
    if share and chance.unit(seed, "skips", context.chorus, context.step) < share:
        source = chance.source(seed, "skip", context.chorus, context.step)
        strokes = _with_skip(context, strokes, source)
    return _with_kick(context, strokes) if context.style.bass.with_kick else strokes


def _octave_below(pitch: int, following: int, lowest: int) -> int:
    """Return the pitch an octave lower if the next one is at most an octave away, else itself."""
    below = pitch - OCTAVE
    return below if below >= lowest and following - below <= OCTAVE else pitch


def _with_kick(context: BarContext, strokes: list[Stroke]) -> list[Stroke]:
    """Return the strokes with the kick's off-beats doubled: each repeats the note before it."""
    until = context.ticks - context.fill.ticks if context.fill else context.ticks
    kicks = {
        tick: weight
        for lane, grid in context.groove.lanes
        if lane == "kick"
        for tick, weight in grid.within(0, until, context.phase)
        if tick % TICKS_PER_QUARTER
    }
    found: list[Stroke] = []
    ends = [*(each.tick for each in strokes[1:]), context.ticks]
    for stroke, end in zip(strokes, ends, strict=False):
        sounding = context.at(stroke.tick)
        inside = sorted(tick for tick in kicks if stroke.tick < tick < end)
        if not inside or not sounding or not sounding.flows or inside[0] >= sounding.end:
            found.append(stroke)
            continue
        if stroke.pitch % 12 not in sounding.tones:  # a passing note is not repeated
            found.append(stroke)
            continue
        tick = inside[0]
        ticks = max(min(end, sounding.end) - tick - _DEAD_NOTE_TICKS, 1)
        found.append(stroke._replace(ticks=min(stroke.ticks, tick - stroke.tick)))
        velocity = context.style.bass.velocity[kicks[tick]]
        found.append(Stroke(tick, min(ticks, EIGHTH), stroke.pitch, velocity))
    return found


def _with_skip(context: BarContext, strokes: list[Stroke], source: random.Random) -> list[Stroke]:
    """Return the bar's strokes with a skip, an off-beat note before a beat, if one fits.

    Most skips are dead notes. Some sound: at the pitch of the note before or, within one chord, an
    octave below it.
    """
    style = context.style.bass
    if len(strokes) < _ENOUGH_TO_SKIP:
        return strokes
    index = source.randrange(len(strokes) - 1)
    before, after = strokes[index], strokes[index + 1]
    if after.tick - before.tick != TICKS_PER_QUARTER or before.tick % TICKS_PER_QUARTER:
        return strokes
    sounding = context.at(before.tick)
    if sounding is None or not sounding.flows:
        return strokes
    cut = before._replace(ticks=min(before.ticks, EIGHTH - EIGHTH // 8))
    sounds = source.random() < _SOUNDING_SHARE
    pitch = before.pitch
    drops = sounds and source.random() < _OCTAVE_SHARE and after.tick < sounding.end
    if drops and pitch % 12 in sounding.tones:
        pitch = _octave_below(pitch, after.pitch, style.range[0])
    ticks = EIGHTH // 2 if sounds else _DEAD_NOTE_TICKS
    skip = Stroke(before.tick + EIGHTH, ticks, pitch, style.velocity[LIGHT])
    return [*strokes[:index], cut, skip, *strokes[index + 1 :]]
