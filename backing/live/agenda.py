"""The queue of events to send, in ticks, and which bar is made next.

A change of settings makes the waiting bars stale; each stays until its replacement is made, so the
band is never without a bar. There is no thread here: the owner holds a lock.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, NamedTuple

from backing.control.progress import Position
from backing.live.midi_output import CLOCK_TICKS
from backing.out.channels import CHANNELS

if TYPE_CHECKING:
    from backing.chart.sequence import BarName
    from backing.control.progress import Progress
    from backing.control.settings import LiveSettings
    from backing.live.source import LiveBar
    from backing.performance.ladder import Ladder


BAR, TEMPO, CLOCK, NOTE = range(4)
"""Kinds of events, in the order in which those of one tick are sent."""

BARS_AHEAD = 2
"""Bars that are made before they are due."""


class Event(NamedTuple):
    """An event; events sort by tick, then by kind.

    Attributes:
        tick: when it is due.
        kind: `BAR`, `TEMPO`, `CLOCK` or `NOTE`.
        order: its own number.
        bar: the number of its bar.
        change: for `TEMPO`, the index in `LiveBar.slower`.
        channel, pitch, velocity, length: of a note.

    """

    tick: int
    kind: int
    order: int
    bar: int
    change: int = 0
    channel: int = 0
    pitch: int = 0
    velocity: int = 0
    length: int = 0


class End(NamedTuple):
    """The end of a note; `note_order` is the order of its event."""

    tick: int
    channel: int
    pitch: int
    note_order: int


@dataclass(slots=True)
class Queued:
    """A bar made ahead.

    Attributes:
        bar: the bar.
        start: its bar line, in ticks of the transport.
        bpm: its tempo, in quarter notes a minute; a new tempo changes it.
        generation: the generation of the settings that it was made from.
        ladder: the ladder that it was made with, or None.
        begun: whether any of its events has been sent.

    """

    bar: LiveBar
    start: int
    bpm: float
    generation: int
    ladder: Ladder | None
    begun: bool = False


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


class Agenda:
    """The bars made ahead, with their events, and which bar is made next.

    Attributes:
        bars: by number, the bars whose bar line is not reached; a loose note may have begun one.
        next: the position after the last bar made; None when the band ends there.
        next_start: the start of the bar made next, in ticks.
        jump: the bar that the player wants to go to, until it is made.
        generation: a number that goes up whenever the waiting bars become stale.

    Args:
        clock_out: whether to add MIDI clock events.

    """

    def __init__(self, *, clock_out: bool) -> None:
        self.bars: dict[int, Queued] = {}
        self.next: Position | None = Position()
        self.next_start = 0
        self.jump: BarName | None = None
        self.generation = 0
        self._clock_out = clock_out
        self._order = count()
        self._serial = count()
        self._events: list[Event] = []
        self._ends: list[End] = []

    def waiting(self) -> list[int]:
        """Return the numbers of the bars that have not begun, in order."""
        return [serial for serial, each in self.bars.items() if not each.begun]

    def _add(self, bar: LiveBar, ladder: Ladder | None) -> None:
        """Add a bar after all others."""
        serial = next(self._serial)
        start = self.next_start
        self.bars[serial] = Queued(bar, start, bar.bpm, self.generation, ladder)
        self._push(start, BAR, serial)
        for change, (tick, _) in enumerate(bar.slower):
            self._push(start + tick, TEMPO, serial, change)
        if self._clock_out:
            for tick in range(start, start + bar.ticks, CLOCK_TICKS):
                self._push(tick, CLOCK, serial)
        for note in bar.notes:
            stroke = CHANNELS[note.player], note.pitch, note.velocity, note.length
            self._push(start + note.tick, NOTE, serial, 0, *stroke)
        self.next_start = start + bar.ticks

    def _push(self, tick: int, kind: int, bar: int, *more: int) -> None:
        heapq.heappush(self._events, Event(tick, kind, next(self._order), bar, *more))

    def _take_back(self, first: int) -> None:
        """Remove a bar and all after it."""
        gone = {serial for serial in self.bars if serial >= first}
        self.next_start = self.bars[first].start
        self._events = [event for event in self._events if event.bar not in gone]
        heapq.heapify(self._events)
        for serial in gone:
            del self.bars[serial]

    def add_end(self, event: Event) -> None:
        """Add the end of a note that has begun."""
        end = End(event.tick + event.length, event.channel, event.pitch, event.order)
        heapq.heappush(self._ends, end)

    def first_tick(self) -> int | None:
        """Return the tick of the next event or end; None when there is none."""
        ticks = [heap[0][0] for heap in (self._ends, self._events) if heap]
        return min(ticks, default=None)

    def pop(self) -> Event | End:
        """Remove and return what is next; at the same tick, ends come first."""
        if self._ends and (not self._events or self._ends[0].tick <= self._events[0].tick):
            return heapq.heappop(self._ends)
        event = heapq.heappop(self._events)
        if event.bar in self.bars:
            self.bars[event.bar].begun = True
        return event

    def clear(self) -> None:
        """Remove everything, and forget the jump."""
        self.invalidate()
        self._events.clear()
        self._ends.clear()
        self.bars.clear()
        self.jump = None

    @property
    def upcoming(self) -> Position | None:
        """The position of the first bar that can still change; None when the band ends before."""
        waiting = self.waiting()
        return self.bars[waiting[0]].bar.position if waiting else self.next

    def invalidate(self) -> None:
        """Make the waiting bars stale."""
        self.generation += 1

    def go_to(self, bar: BarName) -> None:
        """Go on at a bar, from the next bar line."""
        self.jump = bar
        self.invalidate()

    def job(self, settings: LiveSettings, progress: Progress, last: Position) -> Job | None:
        """Return the next bar to make; None when none is stale and enough are ahead.

        Args:
            settings: the current settings.
            progress: the current progress.
            last: the position of the last bar played, from which a jump goes on after the end.

        """
        bars, waiting = self.bars, self.waiting()
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
            stale = self.bars.get(job.replaces)
            if stale is None or stale.begun:
                return False
            self._take_back(job.replaces)
        if job.jump is not None:
            self.jump = None
        self._add(bar, job.settings.ladder)
        self.next = after
        return True
