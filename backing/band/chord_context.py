"""What a bass player knows when a chord comes, and the notes that it may begin from there."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.path import Slot
from backing.band.roles import Register, Role, leading_pitches, pitches_by_role
from backing.band.weights import LEAD_STEPS, LEADING, OWED_BASS, SAME_CHORD, STAY_STEPS

if TYPE_CHECKING:
    from backing.band.context import BarContext, Sounding
    from backing.band.path import Choices
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key

_HARDLY = 1e-6
"""Weight of notes outside the scale for a line that keeps to it: only where nothing else leads."""


class ChordContext(NamedTuple):
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

    place: BarContext
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
        assert self.sounding.chord is not None  # only contexts with a chord are made
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
