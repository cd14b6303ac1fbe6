"""Ways for a bass to move: walking in four, in two, riding a figure, or a figure with a rhythm.

Each turns one sounding chord into slots: where notes fall, and how welcome each pitch is there.
Which pitches are taken is decided for the whole phrase, in `path`. The weights are common practice
turned into numbers, no source; they were set so that lines measured from written files fall into
the bands named in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.path import BY_FIFTH, WIDEST, Slot
from backing.band.roles import (
    Register,
    Role,
    leading_pitches,
    pitches_by_role,
    pitches_of_class,
    roles,
)
from backing.harmony.pitch import Degree
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.path import Choices
    from backing.band.place import Place, Sounding
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.style.model import Figure

#                    bass root third fifth seventh colour scale outside
OWED_BASS = (1.00, 0.00, 0.00, 0.00, 0.00, 0.00, 0.00, 0.00)
OCTAVE = (1.00, 0.02, 0.02, 0.05, 0.00, 0.00, 0.00, 0.00)
OTHER_TONE = (1e-6, 0.10, 0.60, 1.00, 0.15, 0.00, 0.00, 0.00)
SAME_CHORD = (0.60, 0.40, 0.55, 0.65, 0.30, 0.05, 0.00, 0.00)
STRONG = (0.30, 0.30, 0.80, 1.00, 0.60, 0.15, 0.08, 0.00)
WEAK = (0.35, 0.40, 0.70, 0.75, 0.60, 0.60, 0.85, 0.22)
WALKED = (0.35, 0.40, 0.70, 0.75, 0.60, 0.60, 0.85, 0.00)
LEADING = (0.50, 0.50, 0.60, 0.70, 0.60, 0.60, 0.80, 0.70)
TWO_ONE = (1.00, 0.05, 0.05, 0.04, 0.00, 0.00, 0.00, 0.00)
TWO_THREE = (0.10, 0.10, 0.05, 1.00, 0.01, 0.00, 0.00, 0.00)
TWO_OTHER = (0.35, 0.35, 0.70, 0.50, 0.10, 0.00, 0.00, 0.00)
TWO_LIGHT = (0.60, 0.60, 0.30, 0.80, 0.05, 0.00, 0.00, 0.00)
TWO_WALK = (0.40, 0.40, 0.35, 1.00, 0.15, 0.05, 0.15, 0.00)
BROKEN = (0.40, 0.40, 1.00, 0.90, 0.60, 0.20, 0.02, 0.00)
SCALES = (0.30, 0.30, 0.60, 0.60, 0.60, 0.60, 1.00, 0.15)

# fmt: off
#                        0    1    2    3    4    5    6    7    8    9   10   11   12
STAY_STEPS = (1.0, .30, .30, .30, .30, .50, .10, .30, .05, .05, .05, .001, .05)
WALK_STEPS = (.05, 1.0, 1.2, .60, .45, .40, .05, .22, .05, .05, .03, .001, .10)
LEAD_STEPS = (.005, 1.0, 1.2, .60, .45, .40, .05, .22, .05, .05, .03, .001, .10)
JUMP_STEPS = (.03, .30, .50, .45, .50, 1.0, .10, .60, .15, .15, .05, .001, .25)
LEAP_STEPS = (.05, .001, .001, 1.0, 1.0, 1.0, .10, .60, .30, .30, .10, .001, .30)
BREAK_STEPS = (.02, .20, .30, 1.0, 1.0, .90, .10, .40, .20, .20, .05, .001, .20)
SCALE_STEPS = (.01, 1.2, 1.3, .15, .10, .05, .01, .02, .01, .01, .01, .001, .02)
CLOSE_STEPS = (.01, .40, 1.0, 1.0, .30, .05, .01, .01, .01, .01, .01, .001, .01)
OCTAVE_STEPS = (.01, .01, .01, .01, .01, .05, .01, .05, .01, .01, .01, .001, 1.0)
RIDE_STEPS = (.80, 1.0, 1.0, 1.0, 1.0, .50, .10, .10, .01, .01, .002, .001, .01)
# fmt: on

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

_HARDLY = 1e-6
"""Weight of notes outside the scale for a line that keeps to it: only where nothing else leads."""

_OTHER_SHARE = 0.35
"""How often, while a chord goes on, a line in two has another note than the fifth."""

_LATE_WALK_SHARE = 0.6
"""How often a walk begins with the last main note of its chord, not with the first."""


class Moment(NamedTuple):
    """One sounding chord and what a bass player knows when it comes.

    Attributes:
        place: the bar.
        sounding: the chord in it; its chord is never None.
        is_new: whether another chord sounded before.
        is_return: whether the band comes in with it, after silence, a stop or a held chord.
        coming: the chord that comes next, or None before silence and at the end.
        is_last: whether it is the last chord of its bar.
        ends_phrase: whether its bar is the last of a phrase.
        register: where the line moves just now.
        seed: the seed of the performance.
        turn: which of the lines that the player knows this is.
    """

    place: Place
    sounding: Sounding
    is_new: bool
    is_return: bool
    coming: Chord | None
    is_last: bool
    ends_phrase: bool
    register: Register
    seed: int
    turn: int

    @property
    def chord(self) -> Chord:
        """The chord that sounds."""
        assert self.sounding.chord is not None  # only moments with a chord are made
        return self.sounding.chord

    @property
    def changes(self) -> bool:
        """Whether another chord comes next."""
        return self.coming is not None and self.coming != self.chord

    def draw(self, what: str) -> float:
        """Return a number from 0 up to 1 for a choice of this chord."""
        place = self.place
        return chance.unit(self.seed, what, self.turn, place.step, self.sounding.tick)

    def draw_evenly(self, what: str) -> float:
        """Return a number as `draw` does; those of neighbouring chords cover the range evenly."""
        number = 3 * self.place.step + self.sounding.span
        return chance.even(self.seed, number, what, self.turn)

    def owes_bass(self) -> bool:
        """Whether it begins with its bass: written, in a pickup, first in a part, or a return."""
        sequenced = self.place.sequenced
        starts = sequenced.bar.pickup or (sequenced.is_part_start and not self.sounding.tick)
        return bool(self.chord.bass) or starts or self.is_return

    def slot(self, tick: int, weights: tuple[float, ...], steps: tuple[float, ...]) -> Slot:
        """Return a slot at a tick of the bar that may sound to the end of the chord."""
        return self._slot(tick, pitches_by_role(*self._wanted(weights)), steps)

    def leading_slot(self, tick: int, steps: tuple[float, ...] = LEAD_STEPS) -> Slot:
        """Return the slot of a note that leads by step into what comes.

        Before silence there is nothing to lead to, and it is a tone of the chord.
        """
        if self.coming is None:
            return self.slot(tick, SAME_CHORD, steps)
        return self._slot(tick, leading_pitches(*self._wanted(LEADING)), steps)

    def first_slot(self) -> Slot:
        """Return the slot of a hit: the bass of the chord; the last one lies low."""
        slot = self.slot(self.sounding.tick, OWED_BASS, STAY_STEPS)
        return slot._replace(choices=slot.choices[:1]) if self.place.is_end else slot

    def _wanted(self, weights: tuple[float, ...]) -> tuple[Chord, Key, tuple[float, ...], Register]:
        if weights[Role.OUTSIDE] and self.place.style.bass.approach == "scale":
            weights = (*weights[: Role.OUTSIDE], _HARDLY)
        return self.chord, self.place.sequenced.key, weights, self.register

    def _slot(self, tick: int, choices: Choices, steps: tuple[float, ...]) -> Slot:
        return Slot(self.place.number, tick, self.sounding.end - tick, choices, steps)


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


def walking(moment: Moment) -> list[Slot]:
    """Walk four to the bar: chord tones on strong beats, a step into the next chord.

    A chord that begins with another tone than its bass has its bass two beats later, or before it
    leads on.
    """
    beats = _beats(moment, TICKS_PER_QUARTER)
    has_other = _begins_otherwise(moment, len(beats))
    idea = _FREE if has_other else _idea(moment, len(beats))
    bass_at = max(1, min(2, len(beats) - 2)) if has_other else 0
    slots = []
    for place, tick in enumerate(beats):
        steps = idea.second if place == 1 else idea.steps if place > 1 else WALK_STEPS
        if not place and tick == moment.sounding.tick and not moment.sounding.held_over:
            slots.append(moment.slot(tick, _first_weights(moment, has_other=has_other), steps))
        elif place and place == bass_at:
            slots.append(moment.slot(tick, OWED_BASS, steps))
        elif tick == beats[-1] and len(beats) > 1 and (moment.changes or moment.coming is None):
            slots.append(_last_slot(moment, tick, steps, idea))
        else:
            weights = idea.strong if _is_strong(moment, tick) else idea.weak
            slots.append(moment.slot(tick, weights, steps))
    return slots


def _begins_otherwise(moment: Moment, beats: int) -> bool:
    """Whether a new chord begins with another tone than its bass; one of one beat never does."""
    if not moment.is_new or moment.owes_bass() or beats < 2 or moment.sounding.held_over:
        return False
    return moment.draw_evenly("root") >= _ROOT_SHARE


def _first_weights(moment: Moment, *, has_other: bool) -> tuple[float, ...]:
    if has_other:
        return OTHER_TONE
    return OWED_BASS if moment.is_new or moment.owes_bass() else SAME_CHORD


def _last_slot(moment: Moment, tick: int, steps: tuple[float, ...], idea: Idea) -> Slot:
    """Return the slot of the last beat before another chord: a step from it, or its fifth."""
    fifth = _fifth_into(moment)
    is_long = moment.sounding.ticks > 2 * TICKS_PER_QUARTER
    if fifth is None or idea.closes or not is_long or moment.draw("by fifth") >= _FIFTH_SHARE:
        return moment.leading_slot(tick, steps)._replace(turns=idea.closes)
    choices = pitches_of_class(fifth, moment.register, BY_FIFTH)
    return moment.slot(tick, OWED_BASS, LEAP_STEPS)._replace(choices=choices)


def _fifth_into(moment: Moment) -> int | None:
    """Return the pitch class a fifth above the bass that comes, if it is a tone of this chord."""
    if moment.coming is None:
        return None
    fifth = (moment.coming.lowest.pitch_class + 7) % 12
    tones = roles(moment.chord, moment.place.sequenced.key)
    return fifth if tones[fifth] <= Role.COLOUR else None


def _idea(moment: Moment, beats: int) -> Idea:
    """Return what a bar is about; a short one, and one of the first round, is mostly free."""
    if beats < _LONG_ENOUGH:
        return _FREE
    rest = moment.draw("idea") * sum(idea.share for idea in IDEAS)
    for idea in IDEAS:
        rest -= idea.share
        if rest < 0 and (moment.changes or not idea.closes):
            return idea
    return _FREE


def _is_strong(moment: Moment, tick: int) -> bool:
    """Whether a beat is strong: every second one of an even meter, the first of an uneven one."""
    if moment.place.ticks % (2 * TICKS_PER_QUARTER):
        return tick == 0
    return tick % (2 * TICKS_PER_QUARTER) == 0


def two_beat(moment: Moment) -> list[Slot]:
    """Play in two: root and fifth by turns, and walks into what comes."""
    if moment.is_last and _walks(moment):
        return _walk_up(moment)
    pulses = _beats(moment, moment.place.style.bass.pulse_ticks)
    return [moment.slot(tick, _pulse_weights(moment, tick), JUMP_STEPS) for tick in pulses]


def _pulse_weights(moment: Moment, tick: int) -> tuple[float, ...]:
    """Return what is welcome on a main note of a line in two.

    The fifth has the second of two pulses, the last of three, and where a pulse fills the bar every
    second bar of a chord. Now and then, while a chord goes on, something else comes instead.
    """
    place, sounding = moment.place, moment.sounding
    every = place.style.bass.pulse_ticks
    pulses = max(min(place.style.bar_ticks, place.sequenced.meter.bar_ticks) // every, 1)
    is_struck = tick == sounding.tick and not sounding.held_over
    if is_struck and (moment.is_new or moment.owes_bass()):
        return OWED_BASS
    pulse = tick // every % pulses if pulses > 1 else place.sequenced.index % 2
    if not pulse:
        return TWO_ONE
    if pulses % 2 and 1 < pulses != pulse + 1:
        return TWO_LIGHT
    varies = not moment.is_new and moment.draw("other") < _OTHER_SHARE
    return TWO_OTHER if varies else TWO_THREE


def _walks(moment: Moment) -> bool:
    if "walk" in moment.sounding.words:
        return True
    style = moment.place.style.bass
    needed = max(min(style.pulse_ticks, moment.place.ticks), 2 * style.walk_ticks)
    if moment.coming is None or moment.sounding.ticks < needed:
        return False
    if moment.place.sequenced.is_part_end:
        share = 0.85
    elif moment.ends_phrase:
        share = 0.45
    else:
        share = 0.12 if moment.changes else 0.0
    return moment.draw("walks") < share


def _walk_up(moment: Moment) -> list[Slot]:
    """Walk into the next chord: from its start, or from its last main note on."""
    style, sounding = moment.place.style.bass, moment.sounding
    beats = _beats(moment, style.walk_ticks)
    pulses = _beats(moment, style.pulse_ticks)
    is_late = len(beats) > _LONGEST_WALK or moment.draw("walk") < _LATE_WALK_SHARE
    if len(pulses) > 1 and is_late:
        beats = [tick for tick in beats if tick in pulses or tick > pulses[-1]]
    slots = []
    for tick in beats:
        if tick == sounding.tick and not sounding.held_over:
            slots.append(moment.slot(tick, OWED_BASS, JUMP_STEPS))
        elif tick == beats[-1]:
            slots.append(moment.leading_slot(tick))
        else:
            weights = TWO_WALK if tick in pulses else WALKED
            slots.append(moment.slot(tick, weights, WALK_STEPS))
    return slots


def riding(moment: Moment) -> list[Slot]:
    """Ride a figure of degrees, restarted at each new chord and turned at the end of a phrase."""
    chosen, sounding = _figure(moment), moment.sounding
    offset = 0 if moment.is_new else moment.place.sequenced.index % 2 * moment.place.ticks
    beats = _beats(moment, chosen.step_ticks)
    turn_from = max(sounding.end - TICKS_PER_QUARTER, sounding.tick + 1)
    turn = next((tick for tick in beats if tick >= turn_from), None) if _turns(moment) else None
    slots: list[Slot] = []
    for tick in beats:
        if tick == turn:
            return [*slots, moment.leading_slot(tick)]
        is_struck = tick == sounding.tick and not sounding.held_over
        if is_struck and (moment.is_new or moment.owes_bass()):
            slots.append(moment.slot(tick, OWED_BASS, RIDE_STEPS))
            continue
        place = (tick - sounding.tick + offset) // chosen.step_ticks
        degree = chosen.degrees[place % len(chosen.degrees)]
        before = chosen.degrees[(place - 1) % len(chosen.degrees)]
        slots.append(_degree_slot(moment, tick, degree, before, is_last=tick == beats[-1]))
    return slots


def figure(moment: Moment) -> list[Slot]:
    """Play a figure that has a rhythm of its own, a step into what comes at the end of a phrase."""
    chosen, sounding = _figure(moment), moment.sounding
    assert chosen.grid is not None  # the loader sees to it
    hits = dict(chosen.grid.places(sounding.tick, sounding.end, moment.place.phase))
    owes = (moment.is_new or moment.owes_bass()) and not sounding.held_over
    ticks = sorted({*hits, sounding.tick}) if owes else sorted(hits)
    if sounding.held_over:
        ticks = [tick for tick in ticks if tick >= sounding.tick + EIGHTH]
    elif "push" in sounding.words:
        ticks = [tick for tick in ticks if not 0 < tick - sounding.tick <= EIGHTH]
    turns = _turns(moment)
    slots = []
    for tick in ticks:
        if tick == sounding.tick and owes:
            slots.append(moment.slot(tick, OWED_BASS, RIDE_STEPS))
        elif turns and tick == ticks[-1] and sounding.end - tick <= TICKS_PER_QUARTER:
            slots.append(moment.leading_slot(tick))
        else:
            degree, before = chosen.degrees[hits[tick]], chosen.degrees[hits[tick] - 1]
            slots.append(_degree_slot(moment, tick, degree, before, is_last=tick == ticks[-1]))
    return slots


def _degree_slot(
    moment: Moment, tick: int, degree: Degree, before: Degree, *, is_last: bool
) -> Slot:
    """Return the slot of a figure's degree: it wants the step that the figure makes to it.

    A fifth up is as good as a fourth down; an octave is meant as one. A last note that is no tone
    of the chord gives way to one that leads on.
    """
    above = _semitones(moment, degree)
    pitch_class = (moment.chord.root.pitch_class + above) % 12
    if is_last and _goes_on(moment) and _is_foreign(moment, pitch_class):
        return moment.leading_slot(tick)
    pitches = pitches_of_class(pitch_class, moment.register)
    step = abs(above - _semitones(moment, before))
    own = {step if step == WIDEST else min(step, WIDEST - step)}
    own |= {WIDEST - each for each in own if each == _FOURTH}
    steps = tuple(1.0 if size in own else _ASIDE * share for size, share in enumerate(RIDE_STEPS))
    return Slot(moment.place.number, tick, moment.sounding.end - tick, pitches, steps)


def _goes_on(moment: Moment) -> bool:
    """Whether another chord or phrase comes next."""
    if moment.coming is None:
        return False
    return moment.changes or (moment.is_last and moment.ends_phrase)


def _is_foreign(moment: Moment, pitch_class: int) -> bool:
    return roles(moment.chord, moment.place.sequenced.key)[pitch_class] > Role.COLOUR


def _figure(moment: Moment) -> Figure:
    """Return the figure of these bars; it begins with every second bar of a part, or fourth."""
    place = moment.place
    figures = place.style.bass.figures
    longest = max(each.grid.ticks if each.grid else 0 for each, _ in figures)
    bars = max(longest // place.sequenced.meter.bar_ticks, 2)
    step = place.step - place.sequenced.index % bars
    return chance.choose(figures, moment.seed, "bass figure", moment.turn, step)


def _turns(moment: Moment) -> bool:
    if not moment.is_last or moment.coming is None or moment.sounding.ticks <= TICKS_PER_QUARTER:
        return False
    if "walk" in moment.sounding.words:
        return True
    share = 0.9 if moment.ends_phrase else 0.6 if moment.changes else 0.0
    return moment.draw("turn") < share


def _semitones(moment: Moment, degree: Degree) -> int:
    """Return a figure's degree as the chord has it: its own third, fifth, seventh where it can.

    A chord without a third has what hangs for it, or the third of the key.
    """
    quality = moment.chord.quality
    own = quality.degree(degree.number)
    if own is None and degree.number == 3:
        own = quality.degree(4) or quality.degree(2) or _third_of_key(moment)
    return (own or degree).semitones


def _third_of_key(moment: Moment) -> Degree | None:
    """Return the minor third if the key has that and no major third above the chord's root."""
    scale = moment.place.sequenced.key.scale
    root = moment.chord.root
    is_minor = root.up(_MINOR_THIRD.fifths) in scale and root.up(4) not in scale
    return _MINOR_THIRD if is_minor else None


def _beats(moment: Moment, every: int) -> list[int]:
    """Return where notes fall in a chord: its start, then every so many ticks of the bar.

    A pushed chord rings over the beat before which it comes.
    """
    sounding = moment.sounding
    reached = sounding.tick
    if "push" in sounding.words and not sounding.held_over:
        reached += EIGHTH
    after = range(reached // every * every + every, sounding.end, every)
    return list(after) if sounding.held_over else [sounding.tick, *after]


LINES: dict[str, Callable[[Moment], list[Slot]]] = {
    "walking": walking,
    "two-beat": two_beat,
    "riding": riding,
    "figure": figure,
}
"""The ways to move by the names that style files use."""
