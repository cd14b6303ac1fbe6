"""Bass lines: walking in four, two-beat, riding a figure, or a figure with its own rhythm.

`figures` has the last two. Each function turns one sounding chord into onsets: the ticks of notes
and the weights of their pitches. `path` then chooses the pitches of a whole phrase.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.band.chord_context import prepared_fill
from backing.band.figures import FASTEST_RUN_BPM, figure, riding
from backing.band.path import BY_FIFTH, Onset
from backing.band.roles import Role, pitches_of_class, roles
from backing.band.ways import ABOVE, DOTTED, OCTAVE, OTHER, PASSES
from backing.band.weights import (
    BREAK_STEPS,
    BROKEN,
    CLOSE_STEPS,
    JUMP_STEPS,
    JUMP_STEPS_BY_WAY,
    LEAP_STEPS,
    OCTAVE_STEPS,
    OCTAVE_TONE,
    ONLY_BASS,
    OTHER_TONE,
    SAME_CHORD,
    SCALE_STEPS,
    SCALES,
    STAY_STEPS,
    STRONG,
    TWO_LIGHT,
    TWO_ONE,
    TWO_OTHER,
    TWO_THREE,
    TWO_WALK,
    WALK_STEPS,
    WALKED,
    WEAK,
)
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.chord_context import ChordContext

_ROOT_SHARE = 0.83
"""Share of new chords that begin with the root where another tone is allowed. Together with the
chords that must begin with their bass: 80 to 90 % (the target: common practice, no source)."""

_FIFTH_SHARE = 0.2
"""Share of chords that a walk enters by the fifth above, if that is a tone of the chord before."""

_OTHER_SHARE = 0.35
"""Share of light pulses of a continuing chord on which a two-beat line avoids the fifth."""

_LATE_WALK_SHARE = 0.6
"""Share of walk-ups that begin at the last pulse of their chord, not at the first."""

_HELD_SHARE = 0.24
"""Share of chords of a walk, from the second chorus on, with a beat that has no note of its own: 85
% of beats carry an onset (computed from the Jazz Trio Database v0.2, MIT)."""

_TURNS = 1e-4
"""Factor on returning to the note before in a run."""

_FASTEST_DOTTED_BPM = 260.0
"""Tempo up to which a note is repeated before the beat."""

_PASSING_WAYS = {
    (True, False): (OTHER, OCTAVE),
    (True, True): (OCTAVE, PASSES),
    (False, True): (PASSES,),
    (False, False): (),
}
"""Ways of bars whose chords lead on by a passing note, by whether the chord is short and the last
one of its bar."""

_LONGEST_WALK = 4
"""Most notes of a walk-up that may begin at the first pulse."""


@dataclass(frozen=True, slots=True)
class LinePattern:
    """The pattern of a walking bar.

    Attributes:
        share: weight of its choice.
        strong, weak: weights of the roles on strong and on weak beats.
        second, steps: weights of the intervals into the second beat and into later ones.
        encloses: whether the last two notes enclose the next chord's first one.
    """

    share: float
    strong: tuple[float, ...]
    weak: tuple[float, ...]
    second: tuple[float, ...]
    steps: tuple[float, ...]
    encloses: bool = False


LINE_PATTERNS = (
    LinePattern(5.0, STRONG, WEAK, WALK_STEPS, WALK_STEPS),
    LinePattern(1.5, BROKEN, BROKEN, BREAK_STEPS, BREAK_STEPS),
    LinePattern(2.5, STRONG, SCALES, SCALE_STEPS, SCALE_STEPS),
    LinePattern(2.0, STRONG, WEAK, WALK_STEPS, CLOSE_STEPS, encloses=True),
    LinePattern(0.6, STRONG, OCTAVE_TONE, OCTAVE_STEPS, WALK_STEPS),
)
"""Free, a broken chord, a run in the scale, an enclosure, an octave drop."""

_FREE = LINE_PATTERNS[0]
_LONG_ENOUGH = 4


def walking(context: ChordContext) -> list[Onset]:
    """Return a walking line: chord tones on strong beats, a step into the next chord.

    A chord that begins with another tone has its bass two beats later, a short one a beat later.
    From the second chorus on, a note is held over the next beat now and then; an answer runs in
    eighths.
    """
    beats = context.beats(TICKS_PER_QUARTER)
    has_other = _begins_otherwise(context, len(beats))
    pattern = _FREE if has_other else _line_pattern(context, len(beats))
    bass_at = beats[max(1, min(2, len(beats) - 2))] if has_other else -1
    ticks = _walked(context, beats, bass_at)
    onsets = []
    for index, tick in enumerate(ticks):
        steps = pattern.second if index == 1 else pattern.steps if index > 1 else WALK_STEPS
        if not index and tick == context.sounding.tick and not context.sounding.held_over:
            weights = _first_weights(context, has_other=has_other)
            onsets.append(context.onset(tick, weights, steps, is_goal=weights is ONLY_BASS))
        elif tick == bass_at:
            onsets.append(context.onset(tick, ONLY_BASS, steps, is_goal=True))
        elif tick % TICKS_PER_QUARTER and tick != ticks[-1]:
            onsets.append(context.onset(tick, WALKED, SCALE_STEPS)._replace(back=_TURNS))
        elif tick == ticks[-1] and tick >= beats[-1] and _leads(context, len(beats)):
            onsets.append(_last_onset(context, tick, steps, pattern, has_other=has_other))
        else:
            weights = pattern.strong if _is_strong(context, tick) else pattern.weak
            onsets.append(context.onset(tick, weights, steps))
            if len(ticks) > len(beats):  # a run does not turn
                onsets[-1] = onsets[-1]._replace(back=_TURNS)
    return onsets


def _leads(context: ChordContext, beats: int) -> bool:
    return beats > 1 and (context.changes or context.next_chord is None)


def _walked(context: ChordContext, beats: list[int], bass_at: int) -> list[int]:
    """Return the ticks of a walk's notes, given the beats of its chord and the tick of its bass."""
    if context.answers and beats[-1] - beats[0] >= TICKS_PER_QUARTER:
        return _run(context, beats)
    if context.bar_context.chorus == 1 or context.draw("held") >= _HELD_SHARE:
        return beats
    leads = _leads(context, len(beats))
    free = [tick for tick in beats[1 : -1 if leads else None] if tick != bass_at]
    held = free[int(context.draw("which") * len(free))] if free else None
    return [tick for tick in beats if tick != held]


def _begins_otherwise(context: ChordContext, beats: int) -> bool:
    """Whether a new chord begins with another tone than its bass; never in a single beat."""
    if not context.is_new or context.needs_bass() or beats < 2 or context.sounding.held_over:
        return False
    return context.draw_evenly("root") >= _ROOT_SHARE


def _first_weights(context: ChordContext, *, has_other: bool) -> tuple[float, ...]:
    if has_other:
        return OTHER_TONE
    return ONLY_BASS if context.is_new or context.needs_bass() else SAME_CHORD


def _last_onset(
    context: ChordContext,
    tick: int,
    steps: tuple[float, ...],
    pattern: LinePattern,
    *,
    has_other: bool,
) -> Onset:
    """Return the onset of the last beat before another chord: a step from it, or its fifth."""
    fifth = _fifth_into(context)
    is_long = context.sounding.ticks > 2 * TICKS_PER_QUARTER and not has_other
    if fifth is None or pattern.encloses or not is_long or context.draw("by fifth") >= _FIFTH_SHARE:
        return context.leading_onset(tick, steps)._replace(encloses=pattern.encloses)
    choices = pitches_of_class(fifth, context.register, BY_FIFTH)
    return context.onset(tick, ONLY_BASS, LEAP_STEPS)._replace(choices=choices)


def _fifth_into(context: ChordContext) -> int | None:
    """Return the pitch class a fifth above the next bass, if it is a tone of this chord."""
    if context.next_chord is None:
        return None
    fifth = (context.next_chord.lowest.pitch_class + 7) % 12
    tones = roles(context.chord, context.bar_context.sequenced.key)
    return fifth if tones[fifth] <= Role.TENSION else None


def _line_pattern(context: ChordContext, beats: int) -> LinePattern:
    """Return the pattern of a chord; a short chord is always free."""
    if beats < _LONG_ENOUGH:
        return _FREE
    rest = context.draw("idea") * sum(pattern.share for pattern in LINE_PATTERNS)
    for pattern in LINE_PATTERNS:
        rest -= pattern.share
        if rest < 0 and (context.changes or not pattern.encloses):
            return pattern
    return _FREE


def _is_strong(context: ChordContext, tick: int) -> bool:
    """Whether a beat is strong: every second one of an even bar, the first of an odd one."""
    if context.bar_context.ticks % (2 * TICKS_PER_QUARTER):
        return tick == 0
    return tick % (2 * TICKS_PER_QUARTER) == 0


def two_beat(context: ChordContext) -> list[Onset]:
    """Return a two-beat line: root and fifth alternate, with walk-ups into the next chord."""
    if context.is_last and _walks(context):
        return _walk_up(context)
    pulses = context.beats(context.bar_context.style.bass.pulse_ticks)
    onsets = [_pulse(context, tick) for tick in pulses]
    return sorted([*onsets, *_between(context, pulses)], key=_tick)


def _tick(onset: Onset) -> int:
    return onset.tick


def _pulse(context: ChordContext, tick: int) -> Onset:
    """Return a main note.

    The way of the bar says from where it is reached if it is the second one, and also if the bar
    has only one.
    """
    weights = _pulse_weights(context, tick)
    steps = JUMP_STEPS_BY_WAY.get(context.way, JUMP_STEPS)
    if weights is ONLY_BASS or weights is TWO_ONE:
        is_first = not context.sounding.tick and not _fills(context)
        steps = JUMP_STEPS if is_first else steps
        return context.onset(tick, weights, steps, is_goal=steps is JUMP_STEPS)
    if context.way == OCTAVE and not context.is_short:
        return context.onset(tick, OCTAVE_TONE, OCTAVE_STEPS)
    return context.onset(tick, weights, steps)


def _fills(context: ChordContext) -> bool:
    """Whether a main note fills the bar."""
    return context.bar_context.style.bass.pulse_ticks >= context.bar_context.ticks


def _between(context: ChordContext, pulses: list[int]) -> list[Onset]:
    """Return the notes between main notes that the way of the bar has."""
    style, sounding = context.bar_context.style.bass, context.sounding
    walk, way = style.walk_ticks, context.way
    if context.leaves_room or not sounding.ticks > walk or sounding.tick not in pulses:
        return []
    if _fills(context) and way in (OTHER, OCTAVE):
        weights = TWO_OTHER if way == OTHER else TWO_LIGHT
        return [context.onset(sounding.end - walk, weights, LEAP_STEPS)]
    if _fills(context) and way == ABOVE:
        return [context.onset(sounding.tick + walk, TWO_LIGHT, LEAP_STEPS)]
    passing = (PASSES,) if _fills(context) else _PASSING_WAYS[context.is_short, context.is_last]
    if way in passing:
        return [context.leading_onset(sounding.end - walk)] if context.changes else []
    if way == DOTTED:
        early = min(walk, EIGHTH) if len(pulses) > 1 else walk
        tick = (pulses[1] if len(pulses) > 1 else sounding.end) - early
        if sounding.tick < tick and context.bar_context.bpm <= _FASTEST_DOTTED_BPM:
            return [context.onset(tick, TWO_ONE, STAY_STEPS)]
    return []


def _pulse_weights(context: ChordContext, tick: int) -> tuple[float, ...]:
    """Return the weights of the roles on a pulse of a two-beat line.

    The fifth is on the second of two pulses, on the last of three and, if a pulse fills the bar, in
    every second bar. While a chord continues, another tone sometimes replaces it.
    """
    bar_context, sounding = context.bar_context, context.sounding
    every = bar_context.style.bass.pulse_ticks
    pulses = max(
        min(bar_context.style.bar_ticks, bar_context.sequenced.meter.bar_ticks) // every, 1
    )
    is_struck = tick == sounding.tick and not sounding.held_over
    if is_struck and (context.is_new or context.needs_bass()):
        return ONLY_BASS
    pulse = tick // every % pulses if pulses > 1 else bar_context.sequenced.index % 2
    if not pulse:
        return TWO_ONE
    if pulses % 2 and 1 < pulses != pulse + 1:
        return TWO_LIGHT
    varies = context.way == OTHER or (not context.is_new and context.draw("other") < _OTHER_SHARE)
    return TWO_OTHER if varies else TWO_THREE


def _walks(context: ChordContext) -> bool:
    if "walk" in context.sounding.words:
        return True
    style = context.bar_context.style.bass
    needed = max(min(style.pulse_ticks, context.bar_context.ticks), 2 * style.walk_ticks)
    if context.next_chord is None or context.sounding.ticks < needed:
        return False
    if context.bar_context.sequenced.is_part_end:
        share = 0.85
    elif context.answers or prepared_fill(context.bar_context):
        share = 1.0
    elif context.leaves_room:
        share = 0.0
    elif context.ends_phrase:
        share = 0.45
    else:
        share = 0.06 if context.changes else 0.0
    return context.draw("walks") < share


def _walk_up(context: ChordContext) -> list[Onset]:
    """Return a walk-up into the next chord, from the chord's start or from its last pulse."""
    style, sounding = context.bar_context.style.bass, context.sounding
    beats = context.beats(style.walk_ticks)
    pulses = context.beats(style.pulse_ticks)
    is_late = len(beats) > _LONGEST_WALK or context.draw("walk") < _LATE_WALK_SHARE
    if len(pulses) > 1 and is_late and not context.answers:
        beats = [tick for tick in beats if tick in pulses or tick > pulses[-1]]
    if context.answers and style.walk_ticks > EIGHTH and len(beats) > 1:
        beats = _run(context, beats)
    onsets = []
    for tick in beats:
        if tick == sounding.tick and not sounding.held_over:
            onsets.append(context.onset(tick, ONLY_BASS, JUMP_STEPS, is_goal=True))
        elif tick == beats[-1]:
            onsets.append(context.leading_onset(tick))
        else:
            weights = TWO_WALK if tick in pulses else WALKED
            onsets.append(context.onset(tick, weights, WALK_STEPS))
    return onsets


def _run(context: ChordContext, beats: list[int]) -> list[int]:
    """Return beats with the last two of them in eighths, unless that is too fast."""
    if context.bar_context.bpm > FASTEST_RUN_BPM:
        return beats
    between = (tick + EIGHTH for tick in beats[-2:])
    return sorted({*beats, *(tick for tick in between if tick < context.sounding.end)})


LINES: dict[str, Callable[[ChordContext], list[Onset]]] = {
    "walking": walking,
    "two-beat": two_beat,
    "riding": riding,
    "figure": figure,
}
"""The bass lines by their names in style files."""
