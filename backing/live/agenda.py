"""What is to be sent, in ticks: bars that have been made, and the ends of notes that sound.

It knows neither times nor messages, and no thread: its owner holds a lock.
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

BAR, SLOWED, CLOCKED, STRUCK = range(4)
"""Kinds of events, in the order of those at one tick."""


class Event(NamedTuple):
    """Something to be sent; events sort by tick, then by kind.

    `order` is its own number, `bar` that of its bar; the rest is of notes alone, but that
    `velocity` tells which tempo of a bar that slows down begins.
    """

    tick: int
    kind: int
    order: int
    bar: int
    channel: int = 0
    pitch: int = 0
    velocity: int = 0
    length: int = 0


class End(NamedTuple):
    """The end of a note; `strike` is the order of the event that began it."""

    tick: int
    channel: int
    pitch: int
    strike: int


@dataclass(slots=True)
class Queued:
    """A bar that has been made.

    Attributes:
        bar: the bar.
        start: its bar line, in ticks of the transport.
        bpm: its tempo, in quarter notes a minute; a wish for another tempo changes it.
        generation: which wishes it was made from.
        ladder: the ladder on which it was made, or None.
        begun: whether anything of it has been sent.

    """

    bar: LiveBar
    start: int
    bpm: float
    generation: int
    ladder: Ladder | None
    begun: bool = False


class Agenda:
    """Bars in order, each with its events.

    Attributes:
        bars: bars that have not begun, or only by a note before their bar line, by their numbers.
        next_start: where the next bar begins, in ticks.

    Args:
        clock_out: whether bars have events of MIDI clock.

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
        """Return the numbers of the bars of which nothing has been sent, in order."""
        return [serial for serial, each in self.bars.items() if not each.begun]

    def add(self, bar: LiveBar, generation: int, ladder: Ladder | None) -> None:
        """Put a bar behind all others."""
        serial = next(self._serial)
        start = self.next_start
        self.bars[serial] = Queued(bar, start, bar.bpm, generation, ladder)
        self._push(Event(start, BAR, next(self._order), serial))
        for place, (tick, _) in enumerate(bar.slower):
            self._push(Event(start + tick, SLOWED, next(self._order), serial, velocity=place))
        if self._clock_out:
            for tick in range(start, start + bar.ticks, CLOCK_TICKS):
                self._push(Event(tick, CLOCKED, next(self._order), serial))
        for note in bar.notes:
            event = Event(
                start + note.tick,
                STRUCK,
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
        """Take back a bar and all behind it."""
        gone = {serial for serial in self.bars if serial >= first}
        self.next_start = self.bars[first].start
        self._events = [event for event in self._events if event.bar not in gone]
        heapq.heapify(self._events)
        for serial in gone:
            del self.bars[serial]

    def end_of(self, event: Event) -> None:
        """Note the end of a note that is struck."""
        end = End(event.tick + event.length, event.channel, event.pitch, event.order)
        heapq.heappush(self._ends, end)

    def first_tick(self) -> int | None:
        """Return when the next thing comes, or None for nothing."""
        ticks = [heap[0][0] for heap in (self._ends, self._events) if heap]
        return min(ticks, default=None)

    def pop(self) -> Event | End:
        """Take out the next thing; ends come before beginnings."""
        if self._ends and (not self._events or self._ends[0].tick <= self._events[0].tick):
            return heapq.heappop(self._ends)
        event = heapq.heappop(self._events)
        if event.bar in self.bars:
            self.bars[event.bar].begun = True
        return event

    def clear(self) -> None:
        """Forget everything."""
        self._events.clear()
        self._ends.clear()
        self.bars.clear()
