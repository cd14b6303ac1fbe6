"""Bars made ahead: which bar to make next, and where it belongs.

A change of settings makes the waiting bars stale; each stays until its replacement is made, so the
band is never without a bar. There is no thread here: the owner holds a lock.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.control.progress import Position

if TYPE_CHECKING:
    from backing.chart.sequence import BarName
    from backing.control.progress import Progress
    from backing.control.settings import LiveSettings
    from backing.live.agenda import Agenda
    from backing.live.source import LiveBar

BARS_AHEAD = 2
"""Bars that are made before they are due."""


@dataclass(frozen=True, slots=True)
class Job:
    """A bar to be made.

    Attributes:
        settings, progress: what it is made from.
        generation: the generation of the settings.
        replaces: the number of the stale bar that it replaces, or None.
        jump: the bar that the player goes to with it, or None.

    """

    settings: LiveSettings
    progress: Progress
    generation: int
    replaces: int | None
    jump: BarName | None


class Lookahead:
    """Decides which bar is made next.

    Attributes:
        next: the position after the last bar made; None when the band ends there.
        jump: the bar that the player wants to go to, until it is made.
        generation: a number that goes up whenever the waiting bars become stale.

    Args:
        agenda: the queue of the bars made.

    """

    def __init__(self, agenda: Agenda) -> None:
        self.next: Position | None = Position()
        self.jump: BarName | None = None
        self.generation = 0
        self._agenda = agenda

    @property
    def upcoming(self) -> Position | None:
        """The position of the first bar that can still change; None when the band ends before."""
        waiting = self._agenda.waiting()
        return self._agenda.bars[waiting[0]].bar.position if waiting else self.next

    def invalidate(self) -> None:
        """Make the waiting bars stale."""
        self.generation += 1

    def go_to(self, bar: BarName) -> None:
        """Go on at a bar, from the next bar line."""
        self.jump = bar
        self.invalidate()

    def clear(self) -> None:
        """Forget all bars made and the jump."""
        self.invalidate()
        self._agenda.clear()
        self.jump = None

    def job(self, settings: LiveSettings, progress: Progress, last: Position) -> Job | None:
        """Return the next bar to make; None when none is stale and enough are ahead.

        Args:
            settings: the current settings.
            progress: the current progress.
            last: the position of the last bar played, from which a jump goes on after the end.

        """
        bars, waiting = self._agenda.bars, self._agenda.waiting()
        position, replaces = self.next, None
        if waiting and bars[waiting[0]].generation != self.generation:
            replaces = waiting[0]
            position = bars[replaces].bar.position
        elif len(waiting) >= BARS_AHEAD:
            return None
        if self.jump is not None:
            progress = progress.at((position or last).at_bar(self.jump)).resting_from_here()
        elif position is not None:
            progress = progress.at(position)
        else:
            return None
        return Job(settings, progress, self.generation, replaces, self.jump)

    def put(self, job: Job, bar: LiveBar, after: Position | None) -> bool:
        """Queue a bar that was made; return whether it was still wanted.

        Args:
            job: what it was made for; the bar that it replaces must not have begun.
            bar: the bar.
            after: the position after it; None when the band ends there.

        """
        if job.generation != self.generation:
            return False
        if job.replaces is not None:
            stale = self._agenda.bars.get(job.replaces)
            if stale is None or stale.begun:
                return False
            self._agenda.take_back(job.replaces)
        if job.jump is not None:
            self.jump = None
        self._agenda.add(bar, self.generation, job.settings.ladder)
        self.next = after
        return True
