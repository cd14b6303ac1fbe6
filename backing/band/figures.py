"""Bass lines over figures of degrees: riding on every step, or in the figure's own rhythm."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from backing import chance
from backing.band.chord_context import prepared_fill
from backing.band.path import WIDEST, Onset
from backing.band.roles import Role, pitches_of_class, roles
from backing.band.ways import ABOVE, BELOW, DOTTED, OCTAVE, OTHER, PASSES
from backing.band.weights import ONLY_BASS, RIDE_STEPS, SCALE_STEPS, WALKED, downwards, upwards
from backing.harmony.pitch import Degree
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from backing.band.chord_context import ChordContext
    from backing.style.model import Figure

_ASIDE = 0.02
"""Weight of other steps than a figure's own, so that it keeps its shape if possible."""

_FOURTH = 5
_MINOR_THIRD = Degree(3, -1)

_OTHER_DEGREES = {3: Degree(5, 0), 5: Degree(3, 0), 8: Degree(5, 0)}
_ENOUGH, _DROP_SHARE = 2, 0.5
"""A figure of more notes than this may drop one: the last or the second."""

FASTEST_RUN_BPM = 220.0
"""Tempo up to which a run is in eighths."""

_LONG_ENOUGH = 4


def riding(context: ChordContext) -> list[Onset]:
    """Return a figure of degrees on every step, restarted at each chord, with turnarounds."""
    chosen, sounding = _figure(context), context.sounding
    degrees, step = chosen.degrees, chosen.step_ticks
    offset = (
        0 if context.is_new else context.bar_context.sequenced.index % 2 * context.bar_context.ticks
    )
    beats = context.beats(step)
    lead = _turnaround(context, beats)
    ticks = [tick for tick in _ridden(context, beats) if lead is None or tick <= lead]
    onsets: list[Onset] = []
    for tick in ticks:
        is_struck = tick == sounding.tick and not sounding.held_over
        if tick == lead:
            onsets.append(context.leading_onset(tick))
        elif is_struck and (context.is_new or context.needs_bass()):
            onsets.append(context.onset(tick, ONLY_BASS, RIDE_STEPS))
        else:
            index, between = divmod(tick - sounding.tick + offset, step)
            degree = _nth(context, degrees, index)
            before = degree if between else _nth(context, degrees, index - 1)
            onsets.append(_degree_onset(context, tick, degree, before, is_last=tick == ticks[-1]))
    return onsets


def _nth(context: ChordContext, degrees: tuple[Degree, ...], index: int) -> Degree:
    """Return a degree of a figure as the way of the bar has it: backwards, or the first twice."""
    if context.way == OCTAVE:
        index = -index
    elif context.way == PASSES and index % len(degrees) == 1:
        index -= 1
    return degrees[index % len(degrees)]


def _turnaround(context: ChordContext, ticks: list[int]) -> int | None:
    """Return the tick of the note that leads into the next chord, or None."""
    first = max(context.sounding.end - TICKS_PER_QUARTER, context.sounding.tick + 1)
    late = (tick for tick in ticks if tick >= first)
    return next(late, None) if _has_turnaround(context) else None


def _ridden(context: ChordContext, beats: list[int]) -> list[int]:
    """Return the ticks of a riding line: with the bar's way."""
    if len(beats) < _LONG_ENOUGH or beats[1] - beats[0] <= EIGHTH:
        return beats
    if context.answers:
        return sorted({*beats, beats[-2] + EIGHTH})
    if context.way == DOTTED and not context.leaves_room:
        return sorted({*beats, beats[1] + EIGHTH})
    return beats


def figure(context: ChordContext) -> list[Onset]:
    """Return a figure with its own rhythm, with turnarounds."""
    chosen, sounding = _figure(context), context.sounding
    assert chosen.grid is not None  # the loader checks this
    hits = dict(chosen.grid.places(sounding.tick, sounding.end, context.bar_context.phase))
    needs_bass = (context.is_new or context.needs_bass()) and not sounding.held_over
    ticks = sorted({*hits, sounding.tick}) if needs_bass else sorted(hits)
    if sounding.held_over:
        ticks = [tick for tick in ticks if tick >= sounding.tick + EIGHTH]
    elif "push" in sounding.words:
        ticks = [tick for tick in ticks if not 0 < tick - sounding.tick <= EIGHTH]
    ticks = _figured(context, ticks)
    turns = _has_turnaround(context)
    onsets: list[Onset] = []
    degree = chosen.degrees[0]
    for tick in ticks:
        before = degree
        if tick in hits:
            degree = chosen.degrees[-hits[tick] if context.way == OCTAVE else hits[tick]]
        if tick == sounding.tick and needs_bass:
            onsets.append(context.onset(tick, ONLY_BASS, RIDE_STEPS))
        elif turns and tick == ticks[-1] and sounding.end - tick <= TICKS_PER_QUARTER:
            onsets.append(context.leading_onset(tick))
        elif tick not in hits and context.answers:
            onsets.append(context.onset(tick, WALKED, SCALE_STEPS))
        else:
            is_last = tick == ticks[-1]
            onsets.append(_degree_onset(context, tick, degree, before, is_last=is_last))
    return onsets


def _figured(context: ChordContext, ticks: list[int]) -> list[int]:
    """Return the ticks of a figure: with the bar's way."""
    if not ticks or context.sounding.held_over:
        return ticks
    end = context.sounding.end
    if context.answers and context.bar_context.bpm <= FASTEST_RUN_BPM:
        first = max(end - 2 * TICKS_PER_QUARTER, ticks[0] + EIGHTH)
        return sorted({*ticks, *range(first, end, EIGHTH)})
    pickup = end - EIGHTH
    if (
        context.way == PASSES
        and context.is_last
        and not context.leaves_room
        and pickup - ticks[-1] >= EIGHTH
    ):
        return [*ticks, pickup]
    if context.way == DOTTED and len(ticks) <= _ENOUGH:
        second = ticks[0] + TICKS_PER_QUARTER
        return sorted({*ticks, second}) if second < end else ticks
    if context.way == DOTTED and len(ticks) > _ENOUGH:
        return [*ticks[:-1]] if context.draw("drops") < _DROP_SHARE else [*ticks[:1], *ticks[2:]]
    return ticks


def _degree_onset(
    context: ChordContext, tick: int, degree: Degree, before: Degree, *, is_last: bool
) -> Onset:
    """Return the onset of a figure's degree, which prefers the figure's own step to it.

    A fifth up equals a fourth down; an octave stays an octave. If the last note is no tone of the
    chord, a leading note replaces it.
    """
    above = _semitones(context, _turned(context, degree))
    pitch_class = (context.chord.root.pitch_class + above) % 12
    if is_last and _goes_on(context) and _is_foreign(context, pitch_class):
        return context.leading_onset(tick)
    pitches = pitches_of_class(pitch_class, context.register)
    step = abs(above - _semitones(context, before))
    own = {step if step == WIDEST else min(step, WIDEST - step)}
    own |= {WIDEST - each for each in own if each == _FOURTH}
    ticks = context.sounding.end - tick
    steps = _steps_of(frozenset(own), context.way)
    return Onset(context.bar_context.number, tick, ticks, pitches, steps)


def _turned(context: ChordContext, degree: Degree) -> Degree:
    """Return a figure's degree as the way of the bar has it: third and fifth may change places."""
    return _OTHER_DEGREES.get(degree.number, degree) if context.way == OTHER else degree


@lru_cache(64)
def _steps_of(own: frozenset[int], way: int) -> tuple[float, ...]:
    """Return weights of steps that prefer some sizes, and the direction of a way."""
    steps = tuple(
        1.0 if abs(size) in own else _ASIDE * share
        for size, share in enumerate(RIDE_STEPS, start=-WIDEST)
    )
    return upwards(steps) if way == ABOVE else downwards(steps) if way == BELOW else steps


def _goes_on(context: ChordContext) -> bool:
    """Whether another chord or phrase comes next."""
    if context.next_chord is None:
        return False
    return context.changes or (context.is_last and context.ends_phrase)


def _is_foreign(context: ChordContext, pitch_class: int) -> bool:
    return roles(context.chord, context.bar_context.sequenced.key)[pitch_class] > Role.TENSION


def _figure(context: ChordContext) -> Figure:
    """Return the figure of these bars; a choice lasts two bars of a part, or a longer grid."""
    bar_context = context.bar_context
    figures = bar_context.style.bass.figures
    longest = max(each.grid.ticks if each.grid else 0 for each, _ in figures)
    bars = max(longest // bar_context.sequenced.meter.bar_ticks, 2)
    step = bar_context.step - bar_context.sequenced.index % bars
    return chance.choose(figures, context.seed, "bass figure", bar_context.chorus, step)


def _has_turnaround(context: ChordContext) -> bool:
    if (
        not context.is_last
        or context.next_chord is None
        or context.sounding.ticks <= TICKS_PER_QUARTER
    ):
        return False
    if "walk" in context.sounding.words:
        return True
    if context.answers or prepared_fill(context.bar_context):
        return True
    share = 0.9 if context.ends_phrase else 0.6 if context.changes else 0.0
    return context.draw("turn") < share


def _semitones(context: ChordContext, degree: Degree) -> int:
    """Return the semitones of a figure's degree: the chord's own degree of that number, if any.

    A chord without a third has its suspended fourth or second, or the third of the key.
    """
    quality = context.chord.quality
    own = quality.degree(degree.number)
    if own is None and degree.number == 3:
        own = quality.degree(4) or quality.degree(2) or _third_of_key(context)
    return (own or degree).semitones


def _third_of_key(context: ChordContext) -> Degree | None:
    """Return the minor third if the key has it above the root, but no major third."""
    scale = context.bar_context.sequenced.key.scale
    root = context.chord.root
    is_minor = root.up(_MINOR_THIRD.fifths) in scale and root.up(4) not in scale
    return _MINOR_THIRD if is_minor else None
