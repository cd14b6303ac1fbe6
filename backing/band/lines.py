"""Three ways for a bass to move: walking in four, in two, and riding a figure.

Each turns one sounding chord into slots: where notes fall, and how welcome each pitch is there.
Which pitches are taken is decided for the whole phrase, in `path`. The weights are common practice
turned into numbers, no source; they were set so that lines measured from written files fall into
the bands named in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing import chance
from backing.band.path import Slot
from backing.band.roles import Register, pitches_by_role, pitches_of_class
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.place import Place, Sounding
    from backing.harmony.chord import Chord
    from backing.harmony.pitch import Degree
    from backing.style.model import Figure

#                    bass root third fifth seventh colour scale outside
NEW_CHORD = (1.00, 0.06, 0.05, 0.10, 0.02, 0.00, 0.00, 0.00)
OWED_BASS = (1.00, 0.00, 0.00, 0.00, 0.00, 0.00, 0.00, 0.00)
SAME_CHORD = (0.60, 0.40, 0.55, 0.65, 0.30, 0.05, 0.03, 0.00)
STRONG = (0.30, 0.30, 0.80, 1.00, 0.60, 0.15, 0.08, 0.00)
WEAK = (0.35, 0.40, 0.70, 0.75, 0.60, 0.60, 0.85, 0.22)
LEADING = (0.50, 0.50, 0.60, 0.70, 0.60, 0.60, 0.80, 0.70)
TWO_ONE = (1.00, 0.05, 0.05, 0.04, 0.00, 0.00, 0.00, 0.00)
TWO_THREE = (0.10, 0.10, 0.06, 1.00, 0.02, 0.00, 0.00, 0.00)

# fmt: off
#                        0    1    2    3    4    5    6    7    8    9   10   11   12
STAY_STEPS = (1.0, .30, .30, .30, .30, .50, .10, .30, .05, .05, .05, .001, .05)
WALK_STEPS = (.05, 1.0, 1.2, .60, .45, .40, .05, .22, .05, .05, .03, .001, .10)
LEAD_STEPS = (.01, 1.0, .80, .02, .02, .20, .01, .10, .01, .01, .01, .001, .02)
JUMP_STEPS = (.03, .30, .50, .45, .50, 1.0, .10, .60, .15, .15, .05, .001, .25)
RIDE_STEPS = (.80, 1.0, 1.0, 1.0, 1.0, .50, .10, .10, .01, .01, .002, .001, .01)
# fmt: on


@dataclass(frozen=True, slots=True)
class Moment:
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
        return chance.unit(self.seed, what, place.chorus, place.step, self.sounding.tick)

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
        return replace(slot, weights=slot.weights[:1])


def walking(moment: Moment) -> list[Slot]:
    """Walk four to the bar: chord tones on strong beats, a step into the next chord."""
    slots = []
    beats = _beats(moment, TICKS_PER_QUARTER)
    for tick in beats:
        leads = tick == beats[-1] and moment.changes and len(beats) > 1
        if tick == moment.sounding.tick and not moment.sounding.held_over:
            weights = _first_weights(moment, len(beats))
        elif leads:
            weights = LEADING
        else:
            weights = STRONG if tick % (2 * TICKS_PER_QUARTER) == 0 else WEAK
        slots.append(moment.slot(tick, weights, WALK_STEPS, leads=leads))
    return slots


def _first_weights(moment: Moment, beats: int) -> tuple[float, ...]:
    lands = moment.place.road.is_part_start or moment.is_return
    if moment.chord.bass or lands or (moment.is_new and beats < 3):
        return OWED_BASS
    return NEW_CHORD if moment.is_new else SAME_CHORD


def two_beat(moment: Moment) -> list[Slot]:
    """Play in two: root and fifth by halves, and walks into what comes."""
    if moment.is_last and _walks(moment):
        return _walk_up(moment)
    slots = []
    halves = _beats(moment, 2 * TICKS_PER_QUARTER)
    for tick in halves:
        if tick == moment.sounding.tick and not moment.sounding.held_over:
            weights = OWED_BASS if moment.chord.bass or moment.is_new else TWO_ONE
        else:
            weights = TWO_ONE if tick == 0 else TWO_THREE
        slots.append(moment.slot(tick, weights, JUMP_STEPS))
    return slots


def _walks(moment: Moment) -> bool:
    if "walk" in moment.sounding.words:
        return True
    if moment.coming is None or moment.sounding.ticks < 2 * TICKS_PER_QUARTER:
        return False
    if moment.place.road.is_part_end:
        share = 0.85
    elif moment.ends_phrase:
        share = 0.5 if moment.changes else 0.25
    else:
        share = 0.2 if moment.changes else 0.0
    return moment.draw("walks") < share


def _walk_up(moment: Moment) -> list[Slot]:
    """Quarters into the next chord: all of them, or from the middle of the chord on."""
    beats = _beats(moment, TICKS_PER_QUARTER)
    may_skip = len(beats) > 2 and not moment.sounding.held_over
    if may_skip and moment.draw("walk") < 0.6:
        del beats[1]
    slots = []
    for tick in beats:
        leads = tick == beats[-1]
        if tick == moment.sounding.tick and not moment.sounding.held_over:
            slots.append(moment.slot(tick, OWED_BASS, JUMP_STEPS, leads=leads))
        else:
            weights = LEADING if leads else WEAK
            slots.append(moment.slot(tick, weights, WALK_STEPS, leads=leads))
    return slots


def riding(moment: Moment) -> list[Slot]:
    """Ride a figure of degrees, restarted at each new chord and turned at the end of a phrase."""
    figure = _figure(moment)
    chord, sounding = moment.chord, moment.sounding
    offset = 0 if moment.is_new else moment.place.road.index % 2 * moment.place.ticks
    beats = _beats(moment, figure.step_ticks)
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
        place = (tick - sounding.tick + offset) // figure.step_ticks
        degree = figure.degrees[place % len(figure.degrees)]
        target = (chord.root.pitch_class + _semitones(chord, degree)) % 12
        pitches = pitches_of_class(target, moment.register)
        slots.append(Slot(moment.place.number, tick, sounding.end - tick, pitches, RIDE_STEPS))
    return slots


def _figure(moment: Moment) -> Figure:
    """Return the figure that these two bars ride."""
    place = moment.place
    pair = place.step - place.road.index % 2
    source = chance.source(moment.seed, "bass figure", place.chorus, pair)
    return chance.pick(source, place.style.bass.figures)


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
}
"""The ways to move by the names that style files use."""
