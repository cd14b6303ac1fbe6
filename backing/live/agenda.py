"""The queue of events to send, in ticks: bars made ahead, and the ends of sounding notes.

There is no thread here: the owner holds a lock.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, NamedTuple

from backing.live.follower import CLOCK_TICKS
from backing.out.channels import CHANNELS

if TYPE_CHECKING:
    from backing.live.source import LiveBar
    from backing.performance.ladder import Ladder

BAR, TEMPO, CLOCK, NOTE = range(4)
"""Kinds of events, in the order in which those of one tick are sent."""


class Event(NamedTuple):
    """An event; events sort by tick, then by kind.

    Attributes:
        tick: when it is due.
        kind: `BAR`, `TEMPO`, `CLOCK` or `NOTE`.
        order: its own number.
        bar: the number of its bar.
        channel, pitch, velocity, length: of a note.
        change: for `TEMPO`, the index in `LiveBar.slower`.

    """

    tick: int
    kind: int
    order: int
    bar: int
    channel: int = 0
    pitch: int = 0
    velocity: int = 0
    length: int = 0
    change: int = 0


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


class Agenda:
    """The bars made ahead, with their events.

    Attributes:
        bars: by number, the bars whose bar line is not reached; a loose note may have begun one.
        next_start: the start of the bar made next, in ticks.

    Args:
        clock_out: whether to add MIDI clock events.

    """

    def __init__(self, *, clock_out: bool) -> None:
        self.bars: dict[int, Queued] = {}
        self.next_start = 0
        self._clock_out = clock_out
        self._order = count()
        self._serial = count()
        self._events: list[Event] = []
        self._ends: list[End] = []

    def waiting(self) -> list[int]:
        """Return the numbers of the bars that have not begun, in order."""
        return [serial for serial, each in self.bars.items() if not each.begun]

    def add(self, bar: LiveBar, generation: int, ladder: Ladder | None) -> None:
        """Add a bar after all others."""
        serial = next(self._serial)
        start = self.next_start
        self.bars[serial] = Queued(bar, start, bar.bpm, generation, ladder)
        self._push(Event(start, BAR, next(self._order), serial))
        for change, (tick, _) in enumerate(bar.slower):
            self._push(Event(start + tick, TEMPO, next(self._order), serial, change=change))
        if self._clock_out:
            for tick in range(start, start + bar.ticks, CLOCK_TICKS):
                self._push(Event(tick, CLOCK, next(self._order), serial))
        for note in bar.notes:
            event = Event(
                start + note.tick,
                NOTE,
                next(self._order),
                serial,
                CHANNELS[note.player],
                note.pitch,
                note.velocity,
                note.length,
            )
            self._push(event)
        self.next_start = start + bar.ticks

    def _push(self, event: Event) -> None:
        heapq.heappush(self._events, event)

    def take_back(self, first: int) -> None:
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
        """Remove everything."""
        self._events.clear()
        self._ends.clear()
        self.bars.clear()
