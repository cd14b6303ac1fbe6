"""Ways for a bass to move: walking in four, in two, riding a figure, or a figure with a rhythm.

Each turns one sounding chord into slots: where notes fall, and how welcome each pitch is there.
Which pitches are taken is decided for the whole phrase, in `path`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing import chance
from backing.band.path import BY_FIFTH, WIDEST, Slot
from backing.band.roles import (
    Role,
    pitches_of_class,
    roles,
)
from backing.band.weights import (
    BREAK_STEPS,
    BROKEN,
    CLOSE_STEPS,
    JUMP_STEPS,
    LEAP_STEPS,
    OCTAVE,
    OCTAVE_STEPS,
    OTHER_TONE,
    OWED_BASS,
    RIDE_STEPS,
    SAME_CHORD,
    SCALE_STEPS,
    SCALES,
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
from backing.harmony.pitch import Degree
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.chord_context import ChordContext
    from backing.style.model import Figure

_ASIDE = 0.02
"""How welcome other steps than a figure's own are, against it: it keeps its shape where it can."""

_FOURTH = 5
_MINOR_THIRD = Degree(3, -1)

_ROOT_SHARE = 0.83
"""How often a walk has the root on the first beat of a new chord where it may have another tone;
with chords whose bass it owes that comes to 80 to 90 % (the target: common practice, no source)."""

_FIFTH_SHARE = 0.2
"""How often a walk goes into a chord by the fifth above it, where that is a tone of the chord
before, and not by step."""

_OTHER_SHARE = 0.35
"""How often, while a chord goes on, a line in two has another note than the fifth."""

_LATE_WALK_SHARE = 0.6
"""How often a walk begins with the last main note of its chord, not with the first."""


_LONGEST_WALK = 4
"""Notes of a walk from which on it begins with the last main note."""


@dataclass(frozen=True, slots=True)
class Idea:
    """What a walking bar is about.

    Attributes:
        share: how often it is chosen.
        strong, weak: how welcome each role is on strong and on weak beats.
        second, steps: how welcome each interval is into the second beat and into later ones.
        closes: whether the target is closed in on from both sides.
    """

    share: float
    strong: tuple[float, ...]
    weak: tuple[float, ...]
    second: tuple[float, ...]
    steps: tuple[float, ...]
    closes: bool = False


IDEAS = (
    Idea(5.0, STRONG, WEAK, WALK_STEPS, WALK_STEPS),
    Idea(1.5, BROKEN, BROKEN, BREAK_STEPS, BREAK_STEPS),
    Idea(2.5, STRONG, SCALES, SCALE_STEPS, SCALE_STEPS),
    Idea(2.0, STRONG, WEAK, WALK_STEPS, CLOSE_STEPS, closes=True),
    Idea(0.6, STRONG, OCTAVE, OCTAVE_STEPS, WALK_STEPS),
)
"""Free, a broken chord, a run in the scale, an enclosure, an octave drop."""

_FREE = IDEAS[0]
_LONG_ENOUGH = 4


def walking(context: ChordContext) -> list[Slot]:
    """Walk four to the bar: chord tones on strong beats, a step into the next chord.

    A chord that begins with another tone than its bass has its bass two beats later, or before it
    leads on.
    """
    beats = _beats(context, TICKS_PER_QUARTER)
    has_other = _begins_otherwise(context, len(beats))
    idea = _FREE if has_other else _idea(context, len(beats))
    bass_at = max(1, min(2, len(beats) - 2)) if has_other else 0
    slots = []
    for place, tick in enumerate(beats):
        steps = idea.second if place == 1 else idea.steps if place > 1 else WALK_STEPS
        if not place and tick == context.sounding.tick and not context.sounding.held_over:
            slots.append(context.slot(tick, _first_weights(context, has_other=has_other), steps))
        elif place and place == bass_at:
            slots.append(context.slot(tick, OWED_BASS, steps))
        elif tick == beats[-1] and len(beats) > 1 and (context.changes or context.coming is None):
            slots.append(_last_slot(context, tick, steps, idea))
        else:
            weights = idea.strong if _is_strong(context, tick) else idea.weak
            slots.append(context.slot(tick, weights, steps))
    return slots


def _begins_otherwise(context: ChordContext, beats: int) -> bool:
    """Whether a new chord begins with another tone than its bass; one of one beat never does."""
    if not context.is_new or context.owes_bass() or beats < 2 or context.sounding.held_over:
        return False
    return context.draw_evenly("root") >= _ROOT_SHARE


def _first_weights(context: ChordContext, *, has_other: bool) -> tuple[float, ...]:
    if has_other:
        return OTHER_TONE
    return OWED_BASS if context.is_new or context.owes_bass() else SAME_CHORD


def _last_slot(context: ChordContext, tick: int, steps: tuple[float, ...], idea: Idea) -> Slot:
    """Return the slot of the last beat before another chord: a step from it, or its fifth."""
    fifth = _fifth_into(context)
    is_long = context.sounding.ticks > 2 * TICKS_PER_QUARTER
    if fifth is None or idea.closes or not is_long or context.draw("by fifth") >= _FIFTH_SHARE:
        return context.leading_slot(tick, steps)._replace(turns=idea.closes)
    choices = pitches_of_class(fifth, context.register, BY_FIFTH)
    return context.slot(tick, OWED_BASS, LEAP_STEPS)._replace(choices=choices)


def _fifth_into(context: ChordContext) -> int | None:
    """Return the pitch class a fifth above the bass that comes, if it is a tone of this chord."""
    if context.coming is None:
        return None
    fifth = (context.coming.lowest.pitch_class + 7) % 12
    tones = roles(context.chord, context.place.sequenced.key)
    return fifth if tones[fifth] <= Role.COLOUR else None


def _idea(context: ChordContext, beats: int) -> Idea:
    """Return what a bar is about; a short one, and one of the first round, is mostly free."""
    if beats < _LONG_ENOUGH:
        return _FREE
    rest = context.draw("idea") * sum(idea.share for idea in IDEAS)
    for idea in IDEAS:
        rest -= idea.share
        if rest < 0 and (context.changes or not idea.closes):
            return idea
    return _FREE


def _is_strong(context: ChordContext, tick: int) -> bool:
    """Whether a beat is strong: every second one of an even meter, the first of an uneven one."""
    if context.place.ticks % (2 * TICKS_PER_QUARTER):
        return tick == 0
    return tick % (2 * TICKS_PER_QUARTER) == 0


def two_beat(context: ChordContext) -> list[Slot]:
    """Play in two: root and fifth by turns, and walks into what comes."""
    if context.is_last and _walks(context):
        return _walk_up(context)
    pulses = _beats(context, context.place.style.bass.pulse_ticks)
    return [context.slot(tick, _pulse_weights(context, tick), JUMP_STEPS) for tick in pulses]


def _pulse_weights(context: ChordContext, tick: int) -> tuple[float, ...]:
    """Return what is welcome on a main note of a line in two.

    The fifth has the second of two pulses, the last of three, and where a pulse fills the bar every
    second bar of a chord. Now and then, while a chord goes on, something else comes instead.
    """
    place, sounding = context.place, context.sounding
    every = place.style.bass.pulse_ticks
    pulses = max(min(place.style.bar_ticks, place.sequenced.meter.bar_ticks) // every, 1)
    is_struck = tick == sounding.tick and not sounding.held_over
    if is_struck and (context.is_new or context.owes_bass()):
        return OWED_BASS
    pulse = tick // every % pulses if pulses > 1 else place.sequenced.index % 2
    if not pulse:
        return TWO_ONE
    if pulses % 2 and 1 < pulses != pulse + 1:
        return TWO_LIGHT
    varies = not context.is_new and context.draw("other") < _OTHER_SHARE
    return TWO_OTHER if varies else TWO_THREE


def _walks(context: ChordContext) -> bool:
    if "walk" in context.sounding.words:
        return True
    style = context.place.style.bass
    needed = max(min(style.pulse_ticks, context.place.ticks), 2 * style.walk_ticks)
    if context.coming is None or context.sounding.ticks < needed:
        return False
    if context.place.sequenced.is_part_end:
        share = 0.85
    elif context.ends_phrase:
        share = 0.45
    else:
        share = 0.12 if context.changes else 0.0
    return context.draw("walks") < share


def _walk_up(context: ChordContext) -> list[Slot]:
    """Walk into the next chord: from its start, or from its last main note on."""
    style, sounding = context.place.style.bass, context.sounding
    beats = _beats(context, style.walk_ticks)
    pulses = _beats(context, style.pulse_ticks)
    is_late = len(beats) > _LONGEST_WALK or context.draw("walk") < _LATE_WALK_SHARE
    if len(pulses) > 1 and is_late:
        beats = [tick for tick in beats if tick in pulses or tick > pulses[-1]]
    slots = []
    for tick in beats:
        if tick == sounding.tick and not sounding.held_over:
            slots.append(context.slot(tick, OWED_BASS, JUMP_STEPS))
        elif tick == beats[-1]:
            slots.append(context.leading_slot(tick))
        else:
            weights = TWO_WALK if tick in pulses else WALKED
            slots.append(context.slot(tick, weights, WALK_STEPS))
    return slots


def riding(context: ChordContext) -> list[Slot]:
    """Ride a figure of degrees, restarted at each new chord and turned at the end of a phrase."""
    chosen, sounding = _figure(context), context.sounding
    offset = 0 if context.is_new else context.place.sequenced.index % 2 * context.place.ticks
    beats = _beats(context, chosen.step_ticks)
    turn_from = max(sounding.end - TICKS_PER_QUARTER, sounding.tick + 1)
    turn = next((tick for tick in beats if tick >= turn_from), None) if _turns(context) else None
    slots: list[Slot] = []
    for tick in beats:
        if tick == turn:
            return [*slots, context.leading_slot(tick)]
        is_struck = tick == sounding.tick and not sounding.held_over
        if is_struck and (context.is_new or context.owes_bass()):
            slots.append(context.slot(tick, OWED_BASS, RIDE_STEPS))
            continue
        place = (tick - sounding.tick + offset) // chosen.step_ticks
        degree = chosen.degrees[place % len(chosen.degrees)]
        before = chosen.degrees[(place - 1) % len(chosen.degrees)]
        slots.append(_degree_slot(context, tick, degree, before, is_last=tick == beats[-1]))
    return slots


def figure(context: ChordContext) -> list[Slot]:
    """Play a figure that has a rhythm of its own, a step into what comes at the end of a phrase."""
    chosen, sounding = _figure(context), context.sounding
    assert chosen.grid is not None  # the loader sees to it
    hits = dict(chosen.grid.places(sounding.tick, sounding.end, context.place.phase))
    owes = (context.is_new or context.owes_bass()) and not sounding.held_over
    ticks = sorted({*hits, sounding.tick}) if owes else sorted(hits)
    if sounding.held_over:
        ticks = [tick for tick in ticks if tick >= sounding.tick + EIGHTH]
    elif "push" in sounding.words:
        ticks = [tick for tick in ticks if not 0 < tick - sounding.tick <= EIGHTH]
    turns = _turns(context)
    slots = []
    for tick in ticks:
        if tick == sounding.tick and owes:
            slots.append(context.slot(tick, OWED_BASS, RIDE_STEPS))
        elif turns and tick == ticks[-1] and sounding.end - tick <= TICKS_PER_QUARTER:
            slots.append(context.leading_slot(tick))
        else:
            degree, before = chosen.degrees[hits[tick]], chosen.degrees[hits[tick] - 1]
            slots.append(_degree_slot(context, tick, degree, before, is_last=tick == ticks[-1]))
    return slots


def _degree_slot(
    context: ChordContext, tick: int, degree: Degree, before: Degree, *, is_last: bool
) -> Slot:
    """Return the slot of a figure's degree: it wants the step that the figure makes to it.

    A fifth up is as good as a fourth down; an octave is meant as one. A last note that is no tone
    of the chord gives way to one that leads on.
    """
    above = _semitones(context, degree)
    pitch_class = (context.chord.root.pitch_class + above) % 12
    if is_last and _goes_on(context) and _is_foreign(context, pitch_class):
        return context.leading_slot(tick)
    pitches = pitches_of_class(pitch_class, context.register)
    step = abs(above - _semitones(context, before))
    own = {step if step == WIDEST else min(step, WIDEST - step)}
    own |= {WIDEST - each for each in own if each == _FOURTH}
    steps = tuple(1.0 if size in own else _ASIDE * share for size, share in enumerate(RIDE_STEPS))
    return Slot(context.place.number, tick, context.sounding.end - tick, pitches, steps)


def _goes_on(context: ChordContext) -> bool:
    """Whether another chord or phrase comes next."""
    if context.coming is None:
        return False
    return context.changes or (context.is_last and context.ends_phrase)


def _is_foreign(context: ChordContext, pitch_class: int) -> bool:
    return roles(context.chord, context.place.sequenced.key)[pitch_class] > Role.COLOUR


def _figure(context: ChordContext) -> Figure:
    """Return the figure of these bars; it begins with every second bar of a part, or fourth."""
    place = context.place
    figures = place.style.bass.figures
    longest = max(each.grid.ticks if each.grid else 0 for each, _ in figures)
    bars = max(longest // place.sequenced.meter.bar_ticks, 2)
    step = place.step - place.sequenced.index % bars
    return chance.choose(figures, context.seed, "bass figure", context.turn, step)


def _turns(context: ChordContext) -> bool:
    if not context.is_last or context.coming is None or context.sounding.ticks <= TICKS_PER_QUARTER:
        return False
    if "walk" in context.sounding.words:
        return True
    share = 0.9 if context.ends_phrase else 0.6 if context.changes else 0.0
    return context.draw("turn") < share


def _semitones(context: ChordContext, degree: Degree) -> int:
    """Return a figure's degree as the chord has it: its own third, fifth, seventh where it can.

    A chord without a third has what hangs for it, or the third of the key.
    """
    quality = context.chord.quality
    own = quality.degree(degree.number)
    if own is None and degree.number == 3:
        own = quality.degree(4) or quality.degree(2) or _third_of_key(context)
    return (own or degree).semitones


def _third_of_key(context: ChordContext) -> Degree | None:
    """Return the minor third if the key has that and no major third above the chord's root."""
    scale = context.place.sequenced.key.scale
    root = context.chord.root
    is_minor = root.up(_MINOR_THIRD.fifths) in scale and root.up(4) not in scale
    return _MINOR_THIRD if is_minor else None


def _beats(context: ChordContext, every: int) -> list[int]:
    """Return where notes fall in a chord: its start, then every so many ticks of the bar.

    A pushed chord rings over the beat before which it comes.
    """
    sounding = context.sounding
    reached = sounding.tick
    if "push" in sounding.words and not sounding.held_over:
        reached += EIGHTH
    after = range(reached // every * every + every, sounding.end, every)
    return list(after) if sounding.held_over else [sounding.tick, *after]


LINES: dict[str, Callable[[ChordContext], list[Slot]]] = {
    "walking": walking,
    "two-beat": two_beat,
    "riding": riding,
    "figure": figure,
}
"""The ways to move by the names that style files use."""
