"""The bass player: makes a line for each phrase and follows the directions of the chart.

A phrase is four bars of a part, or what is left of it. Its line is drawn as a whole, with a contour
(`contour`) and goals (`path`), and leads into the first note of the next phrase. That note depends
only on its own address, so each phrase can be made by itself. Every chorus has lines of its own.
"""

from __future__ import annotations

from collections import OrderedDict
from functools import lru_cache
from typing import TYPE_CHECKING

from backing import chance
from backing.band.chord_context import ChordContext, prepared_fill
from backing.band.contour import centre_of, centres_of
from backing.band.lines import LINES
from backing.band.path import FREE, Onset, draw_line, moved, weights_ahead
from backing.band.plan import PHRASE_BARS
from backing.band.roles import register
from backing.band.thin import thin
from backing.band.touch import Note, manner_of, ornamented, touched
from backing.band.ways import way_of
from backing.timing import EIGHTH

if TYPE_CHECKING:
    from backing.band.context import BarContext, PerformanceView, SoundingChord, Stroke
    from backing.harmony.chord import Chord

_KEPT_PHRASES = 3
_MIDDLE = 40


class Bass:
    """The bass player of one performance."""

    def __init__(self, view: PerformanceView) -> None:
        self._view = view
        self._centre = lru_cache(4)(self._make_centre)
        self._opening = lru_cache(2)(self._make_opening)
        self._onsets = lru_cache(4)(self._make_onsets)
        self._phrases: OrderedDict[int, dict[int, list[Stroke]]] = OrderedDict()

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
        onsets = self._phrase_onsets(contexts)
        if not onsets:
            return {}
        last = contexts[-1]
        line = self._draw_line(contexts, onsets)
        bars = {context.number: context for context in contexts}
        notes = [
            Note(bars[bar], tick, ticks, pitch, bars[bar].start + tick)
            for (bar, tick, ticks, *_), pitch in zip(onsets, line, strict=True)
        ]
        end = notes[-1].start + notes[-1].most
        following = self._onsets(last.number + 1, self._centre(last.number + 1))
        if following:
            end = min(end, last.start + last.ticks + following[0].tick)
        before = self._view.context(first - 1)
        source = chance.source(self._view.seed, "touch", contexts[0].chorus, contexts[0].step)
        strokes = touched(notes, end, lands=bool(before and prepared_fill(before)), source=source)
        return {
            number: ornamented(bars[number], found, source) for number, found in strokes.items()
        }

    def _phrase_onsets(self, contexts: list[BarContext]) -> list[Onset]:
        """Return the onsets of a phrase."""
        first, after = contexts[0].number, contexts[-1].number + 1
        last = next((each.number for each in contexts if each.is_end), after)
        centres = centres_of(contexts, self._view.seed, self._centre(first), self._centre(last))
        return [
            onset
            for context, centre in zip(contexts, centres, strict=True)
            for onset in self._onsets(context.number, centre)
        ]

    def _draw_line(self, contexts: list[BarContext], onsets: list[Onset]) -> list[int]:
        """Return the keys of a phrase's line, between its opening and that of the next phrase."""
        opening = self._opening(contexts[0].number)
        landing = self._opening(contexts[-1].number + 1)
        aimed = [*onsets, landing] if landing else list(onsets)
        if opening and (opening.bar, opening.tick) == (onsets[0].bar, onsets[0].tick):
            aimed[0] = opening
        if len(onsets) > 1:  # the opening is not repeated: it may be the second of its pitch
            aimed[1] = aimed[1]._replace(steps=moved(aimed[1].steps))
        source = chance.source(self._view.seed, "bass", contexts[0].chorus, contexts[0].step)
        return draw_line(aimed, source)[: len(onsets)]

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
        where = register(*style.range, centre, manner_of(context).reach)
        before, after = self._view.context(number - 1), self._view.context(number + 1)
        ends_phrase = after is None or _phrase_start(after) == after.number
        way = way_of(self._view.seed, context.chorus, context.step)
        last = before.harmony[-1] if before and before.harmony else None
        onsets: list[Onset] = []
        for index, sounding in enumerate(context.harmony):
            is_last = index == len(context.harmony) - 1
            following = context.harmony[index + 1 :]
            if is_last:
                following = after.harmony if after else ()
            if sounding.chord is not None and not sounding.is_silent:
                chord_context = ChordContext(
                    bar_context=context,
                    sounding=sounding,
                    is_new=last is None or sounding.chord != last.chord,
                    is_return=last is None or last.chord is None or not last.flows,
                    next_chord=_first_chord(following),
                    is_last=is_last,
                    ends_phrase=ends_phrase,
                    register=where,
                    seed=self._view.seed,
                    way=way,
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
        choices = onsets[0].choices
        ahead = [1.0] * len(choices)
        if not onsets[0].is_goal:  # a low note where a figure goes up from it
            ahead = weights_ahead(onsets)[0][1]
        weighed = tuple(
            (pitch, weight * onward)
            for (pitch, weight, left), onward in zip(choices, ahead, strict=True)
            if left == FREE
        )
        if not weighed:
            return None
        source = chance.source(self._view.seed, "bass opening", context.chorus, context.step)
        return onsets[0]._replace(choices=((chance.pick(source, weighed), 1.0, FREE),))

    def _make_centre(self, first: int) -> int:
        """Return the MIDI key around which a phrase begins."""
        context = self._view.context(first)
        if context is None:
            return _MIDDLE
        return centre_of(context, self._view.seed, manner_of(context).centre)


@lru_cache(64)
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
    context = chord_context.bar_context
    is_thin = context.plan.is_thin and "walk" not in sounding.words
    line = thin if is_thin else LINES[context.style.bass.line(context.variation)]
    onsets = line(chord_context)
    first = after.harmony[0] if after and after.harmony else None
    if onsets and chord_context.is_last and first and first.held_over:
        onsets[-1] = onsets[-1]._replace(ticks=onsets[-1].ticks + first.ticks)  # it rings on
    return onsets
