"""What the bass player knows about a chord, and the onsets that it can have."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.path import Onset
from backing.band.roles import Register, Role, leading_pitches, pitches_by_role
from backing.band.weights import LEAD_STEPS, LEADING, ONLY_BASS, SAME_CHORD, STAY_STEPS
from backing.notes import Player
from backing.timing import EIGHTH

if TYPE_CHECKING:
    from backing.band.context import BarContext, SoundingChord
    from backing.band.fills import Fill
    from backing.band.path import Choices
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key

_HARDLY = 1e-6
"""Weight of notes outside the scale for lines that keep to it: the last resort."""


class ChordContext(NamedTuple):
    """One sounding chord and what the bass player knows about it.

    Attributes:
        bar_context: the bar.
        sounding: the chord in it; its chord is never None.
        is_new: whether another chord sounded before.
        is_return: whether the band comes in on it, after silence, a stop or a held chord.
        next_chord: the chord after it, or None before silence and at the end.
        is_last: whether it is the last chord of its bar.
        ends_phrase: whether its bar is the last of a phrase.
        register: the register of the line in this bar.
        seed: the seed of the performance.
        way: how the bar is turned, one of `ways`.
    """

    bar_context: BarContext
    sounding: SoundingChord
    is_new: bool
    is_return: bool
    next_chord: Chord | None
    is_last: bool
    ends_phrase: bool
    register: Register
    seed: int
    way: int

    @property
    def chord(self) -> Chord:
        """The chord that sounds."""
        assert self.sounding.chord is not None  # only contexts with a chord are made
        return self.sounding.chord

    @property
    def changes(self) -> bool:
        """Whether the next chord is another one."""
        return self.next_chord is not None and self.next_chord != self.chord

    def beats(self, every: int) -> list[int]:
        """Return the ticks of notes: the start of the chord, then every so many ticks of the bar.

        A pushed chord has no note on the beat that it anticipates.
        """
        sounding = self.sounding
        reached = sounding.tick
        if "push" in sounding.words and not sounding.held_over:
            reached += EIGHTH
        after = range(reached // every * every + every, sounding.end, every)
        return list(after) if sounding.held_over else [sounding.tick, *after]

    def draw(self, what: str) -> float:
        """Return a number from 0 to below 1 by chance, for the named choice at this chord."""
        bar_context = self.bar_context
        address = bar_context.chorus, bar_context.step, self.sounding.tick
        return chance.unit(self.seed, what, *address)

    def draw_evenly(self, what: str) -> float:
        """Return a number as `draw` does, but spread evenly over neighbouring chords."""
        number = 3 * self.bar_context.step + self.sounding.span
        return chance.even(self.seed, number, what, self.bar_context.chorus)

    def needs_bass(self) -> bool:
        """Whether its first note must be its bass.

        That holds for a slash bass, in a pickup, at the start of a part and after a rest of the
        band.
        """
        sequenced = self.bar_context.sequenced
        starts = sequenced.bar.pickup or (sequenced.is_part_start and not self.sounding.tick)
        return bool(self.chord.bass) or starts or self.is_return

    @property
    def is_short(self) -> bool:
        """Whether it has a single main note of a line in two."""
        return self.sounding.ticks <= self.bar_context.style.bass.pulse_ticks

    @property
    def answers(self) -> bool:
        """Whether the bass plays a short run at the end of the bar."""
        plan = self.bar_context.plan
        return self.is_last and self.next_chord is not None and plan.answers is Player.BASS

    @property
    def leaves_room(self) -> bool:
        """Whether another player answers at the end of the bar."""
        return self.bar_context.plan.answers not in (None, Player.BASS)

    def onset(
        self,
        tick: int,
        weights: tuple[float, ...],
        steps: tuple[float, ...],
        *,
        is_goal: bool = False,
    ) -> Onset:
        """Return an onset at a tick of the bar that may sound to the end of the chord.

        Args:
            tick: from the bar line.
            weights: of pitches by role.
            steps: weights of intervals.
            is_goal: whether the line aims at it.
        """
        return self._onset(tick, pitches_by_role(*self._wanted(weights)), steps, is_goal=is_goal)

    def leading_onset(self, tick: int, steps: tuple[float, ...] = LEAD_STEPS) -> Onset:
        """Return an onset that leads by step into the next chord; a chord tone before silence."""
        if self.next_chord is None:
            return self.onset(tick, SAME_CHORD, steps)
        onset = self._onset(tick, leading_pitches(*self._wanted(LEADING)), steps)
        return onset._replace(leads=True)

    def hit_onset(self) -> Onset:
        """Return the onset of a hit: the bass of the chord, at the end the lowest one."""
        onset = self.onset(self.sounding.tick, ONLY_BASS, STAY_STEPS)
        return onset._replace(choices=onset.choices[:1]) if self.bar_context.is_end else onset

    def _wanted(self, weights: tuple[float, ...]) -> tuple[Chord, Key, tuple[float, ...], Register]:
        if weights[Role.OUTSIDE] and self.bar_context.style.bass.approach == "scale":
            weights = (*weights[: Role.OUTSIDE], _HARDLY)
        return self.chord, self.bar_context.sequenced.key, weights, self.register

    def _onset(
        self, tick: int, choices: Choices, steps: tuple[float, ...], *, is_goal: bool = False
    ) -> Onset:
        ticks = self.sounding.end - tick
        return Onset(self.bar_context.number, tick, ticks, choices, steps, is_goal=is_goal)


def prepared_fill(context: BarContext) -> Fill | None:
    """Return the fill that the bass prepares; a fill that the chart asks for is the drummer's."""
    is_asked_for = any(each.word == "fill" for each in context.sequenced.bar.directions)
    return None if is_asked_for else context.fill
