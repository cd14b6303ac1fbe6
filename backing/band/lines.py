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
from backing.band.path import WIDEST, Slot
from backing.band.roles import Register, pitches_by_role, pitches_of_class
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.place import Place, Sounding
    from backing.harmony.chord import Chord
    from backing.harmony.pitch import Degree
    from backing.style.model import Figure

#                    bass root third fifth seventh colour scale outside
NEW_CHORD = (1.00, 0.06, 0.09, 0.15, 0.03, 0.00, 0.00, 0.00)
PASSING = (1.00, 0.02, 0.02, 0.05, 0.00, 0.00, 0.00, 0.00)
OWED_BASS = (1.00, 0.00, 0.00, 0.00, 0.00, 0.00, 0.00, 0.00)
SAME_CHORD = (0.60, 0.40, 0.55, 0.65, 0.30, 0.05, 0.03, 0.00)
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
LEAD_STEPS = (.01, 1.0, .80, .02, .02, .20, .01, .10, .01, .01, .01, .001, .02)
JUMP_STEPS = (.03, .30, .50, .45, .50, 1.0, .10, .60, .15, .15, .05, .001, .25)
BREAK_STEPS = (.02, .20, .30, 1.0, 1.0, .90, .10, .40, .20, .20, .05, .001, .20)
SCALE_STEPS = (.01, 1.2, 1.3, .15, .10, .05, .01, .02, .01, .01, .01, .001, .02)
CLOSE_STEPS = (.01, .40, 1.0, 1.0, .30, .05, .01, .01, .01, .01, .01, .001, .01)
OCTAVE_STEPS = (.01, .01, .01, .01, .01, .05, .01, .05, .01, .01, .01, .001, 1.0)
RIDE_STEPS = (.80, 1.0, 1.0, 1.0, 1.0, .50, .10, .10, .01, .01, .002, .001, .01)
# fmt: on

_ASIDE = 0.02
"""How welcome other steps than a figure's own are, against it: it keeps its shape where it can."""

_FOURTH = 5

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

    def slot(
        self,
        tick: int,
        weights: tuple[float, ...],
        steps: tuple[float, ...],
        *,
        leads: bool = False,
    ) -> Slot:
        """Return a slot at a tick of the bar that may sound to the end of the chord."""
        pitches = pitches_by_role(self.chord, self.place.road.key, weights, self.register)
        return Slot(self.place.number, tick, self.sounding.end - tick, pitches, steps, leads)

    def first_slot(self) -> Slot:
        """Return the slot for the chord's own bass, for stops and holds; the last one lies low."""
        slot = self.slot(self.sounding.tick, OWED_BASS, STAY_STEPS)
        if not self.place.is_end or not self.sounding.words & {"stop", "hold"}:
            return slot
        return slot._replace(weights=slot.weights[:1])


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
    Idea(0.6, STRONG, OWED_BASS, OCTAVE_STEPS, WALK_STEPS),
)
"""Free, a broken chord, a run in the scale, an enclosure, an octave drop."""

_FREE = IDEAS[0]
_LONG_ENOUGH = 4


def walking(moment: Moment) -> list[Slot]:
    """Walk four to the bar: chord tones on strong beats, a step into the next chord."""
    slots = []
    beats = _beats(moment, TICKS_PER_QUARTER)
    idea = _idea(moment, len(beats))
    for place, tick in enumerate(beats):
        leads = tick == beats[-1] and moment.changes and len(beats) > 1
        if tick == moment.sounding.tick and not moment.sounding.held_over:
            weights = _first_weights(moment, len(beats))
        elif leads:
            weights = LEADING
        else:
            weights = idea.strong if _is_strong(moment, tick) else idea.weak
        steps = idea.second if place == 1 else idea.steps if place > 1 else WALK_STEPS
        slot = moment.slot(tick, weights, steps, leads=leads)
        slots.append(slot._replace(turns=True) if leads and idea.closes else slot)
    return slots


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


def _first_weights(moment: Moment, beats: int) -> tuple[float, ...]:
    road = moment.place.road
    lands = road.is_part_start or road.bar.pickup or moment.is_return
    if moment.chord.bass or lands:
        return OWED_BASS
    if not moment.is_new:
        return SAME_CHORD
    return NEW_CHORD if beats > 2 else PASSING


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
    pulses = max(min(place.style.bar_ticks, place.road.meter.bar_ticks) // every, 1)
    if tick == sounding.tick and not sounding.held_over and (moment.is_new or moment.chord.bass):
        return OWED_BASS
    pulse = tick // every % pulses if pulses > 1 else place.road.index % 2
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
    if moment.place.road.is_part_end:
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
        leads = tick == beats[-1]
        if tick == sounding.tick and not sounding.held_over:
            slots.append(moment.slot(tick, OWED_BASS, JUMP_STEPS, leads=leads))
        else:
            weights = LEADING if leads else TWO_WALK if tick in pulses else WALKED
            slots.append(moment.slot(tick, weights, WALK_STEPS, leads=leads))
    return slots


def riding(moment: Moment) -> list[Slot]:
    """Ride a figure of degrees, restarted at each new chord and turned at the end of a phrase."""
    chosen = _figure(moment)
    chord, sounding = moment.chord, moment.sounding
    offset = 0 if moment.is_new else moment.place.road.index % 2 * moment.place.ticks
    beats = _beats(moment, chosen.step_ticks)
    turn_from = sounding.end - TICKS_PER_QUARTER if _turns(moment) else sounding.end
    slots = []
    for tick in beats:
        if tick >= turn_from and tick > sounding.tick:
            if tick == turn_from:
                slots.append(moment.slot(tick, LEADING, WALK_STEPS, leads=True))
            continue
        if tick == sounding.tick and not sounding.held_over and (moment.is_new or chord.bass):
            slots.append(moment.slot(tick, OWED_BASS, RIDE_STEPS))
            continue
        place = (tick - sounding.tick + offset) // chosen.step_ticks
        degree = chosen.degrees[place % len(chosen.degrees)]
        before = chosen.degrees[(place - 1) % len(chosen.degrees)]
        slots.append(_degree_slot(moment, tick, degree, before))
    return slots


def figure(moment: Moment) -> list[Slot]:
    """Play a figure that has a rhythm of its own, a step into what comes at the end of a phrase."""
    chosen, chord, sounding = _figure(moment), moment.chord, moment.sounding
    assert chosen.grid is not None  # the loader sees to it
    hits = dict(chosen.grid.places(sounding.tick, sounding.end, moment.place.phase))
    owes = (moment.is_new or moment.is_return) and not sounding.held_over
    ticks = sorted({*hits, sounding.tick}) if owes else sorted(hits)
    if sounding.held_over:
        ticks = [tick for tick in ticks if tick >= sounding.tick + EIGHTH]
    elif "push" in sounding.words:
        ticks = [tick for tick in ticks if not 0 < tick - sounding.tick <= EIGHTH]
    turns = _turns(moment)
    slots = []
    for tick in ticks:
        if tick == sounding.tick and (owes or chord.bass):
            slots.append(moment.slot(tick, OWED_BASS, RIDE_STEPS))
        elif turns and tick == ticks[-1] and sounding.end - tick <= TICKS_PER_QUARTER:
            slots.append(moment.slot(tick, LEADING, WALK_STEPS, leads=True))
        else:
            hit = hits[tick]
            slots.append(_degree_slot(moment, tick, chosen.degrees[hit], chosen.degrees[hit - 1]))
    return slots


def _degree_slot(moment: Moment, tick: int, degree: Degree, before: Degree) -> Slot:
    """Return the slot of a figure's degree: it wants the step that the figure makes to it.

    A fifth up is as good as a fourth down; an octave is meant as one.
    """
    above = _semitones(moment.chord, degree)
    pitches = pitches_of_class((moment.chord.root.pitch_class + above) % 12, moment.register)
    step = abs(above - _semitones(moment.chord, before))
    own = {step if step == WIDEST else min(step, WIDEST - step)}
    own |= {WIDEST - each for each in own if each == _FOURTH}
    steps = tuple(1.0 if size in own else _ASIDE * share for size, share in enumerate(RIDE_STEPS))
    return Slot(moment.place.number, tick, moment.sounding.end - tick, pitches, steps)


def _figure(moment: Moment) -> Figure:
    """Return the figure of these bars; it begins with every second bar of a part, or fourth."""
    place = moment.place
    figures = place.style.bass.figures
    longest = max(each.grid.ticks if each.grid else 0 for each, _ in figures)
    bars = max(longest // place.road.meter.bar_ticks, 2)
    step = place.step - place.road.index % bars
    return chance.choose(figures, moment.seed, "bass figure", moment.turn, step)


def _turns(moment: Moment) -> bool:
    if not moment.is_last or moment.coming is None or moment.sounding.ticks <= TICKS_PER_QUARTER:
        return False
    if "walk" in moment.sounding.words:
        return True
    share = 0.9 if moment.ends_phrase else 0.6 if moment.changes else 0.0
    return moment.draw("turn") < share


def _semitones(chord: Chord, degree: Degree) -> int:
    """Return a figure's degree as the chord has it: its own third, fifth, seventh where it can."""
    own = chord.quality.degree(degree.number)
    if own is None and degree.number == 3:
        own = chord.quality.degree(4) or chord.quality.degree(2)
    return (own or degree).semitones


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
