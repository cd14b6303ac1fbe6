"""The transport: events in ticks become messages at their times.

It has no thread and no clock of its own: `fill` makes bars ahead, `pump` sends what is due at the
time it is told, so that tests turn time by hand. Two threads may share it, one that fills and one
that pumps; the lock is held for a few microseconds at a time and never while a bar is made.

Conventions: times are seconds of a steady clock. Ticks run on from the first bar; a tempo change
re-anchors them, so that what has not been sent moves at once and nothing jumps or comes twice. Due
times are counted from the anchor, never summed.
"""

from __future__ import annotations

import heapq
from collections import deque
from dataclasses import dataclass, field, replace
from itertools import count
from threading import Lock
from typing import TYPE_CHECKING, NamedTuple

from backing.live.source import LiveBar, Position
from backing.out.channels import CHANNELS, PAN, VOLUME, sounds
from backing.timing import TICKS_PER_QUARTER, seconds_to_ticks, ticks_to_seconds

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.live.source import Source
    from backing.live.wishes import Wishes
    from backing.style.model import Style

BARS_AHEAD = 2
"""Bars that are made before they are due."""

LEAD_SECONDS = 0.06
"""Time between the wish to play and the first beat."""

TOO_LATE_SECONDS = 0.15
"""Notes that are later than this, after a stall, are left out."""

_CLOCK_TICKS = TICKS_PER_QUARTER // 24
_OFF, _BAR, _CLOCK, _ON = range(4)

ALL_NOTES_OFF, ALL_SOUND_OFF = 123, 120
CLOCK, START, CONTINUE, STOP = 0xF8, 0xFA, 0xFB, 0xFC

Send = "Callable[[bytes], None]"


class _Event(NamedTuple):
    """Something to be sent; events sort by tick, then by kind: ends before beginnings."""

    tick: int
    kind: int
    order: int
    bar: int
    channel: int = 0
    pitch: int = 0
    velocity: int = 0
    length: int = 0


@dataclass(slots=True)
class _Queued:
    """A bar that has been made.

    Attributes:
        bar: the bar.
        start: its bar line, in ticks of the transport.
        begun: whether anything of it has been sent.

    """

    bar: LiveBar
    start: int
    begun: bool = False


@dataclass(slots=True)
class Lateness:
    """How late messages were sent, in seconds: the last ones and the worst ever."""

    last: deque[float] = field(default_factory=lambda: deque(maxlen=512))
    worst: float = 0.0

    def note(self, seconds: float) -> None:
        """Take down one message."""
        self.last.append(seconds)
        self.worst = max(self.worst, seconds)


class Transport:
    """Plays the bars of a source.

    Attributes:
        wishes: what the player wishes now.
        playing: whether time runs.
        ended: whether the band has come to its end.
        bpm: the tempo of the bar being played, in quarter notes a minute.
        now_bar: the bar being played, or the last one.
        lateness: how late messages were sent.

    Args:
        source: where bars come from.
        wishes: what holds at the start.
        send: takes each message; never called by two threads at once.
        clock_out: whether to send MIDI clock with start, stop, continue and song position.
        on_bar: told every bar as it begins.

    """

    def __init__(
        self,
        source: Source,
        wishes: Wishes,
        send: Callable[[bytes], None],
        *,
        clock_out: bool = False,
        on_bar: Callable[[LiveBar], None] = lambda bar: None,
    ) -> None:
        self.wishes = wishes
        self.playing = False
        self.ended = False
        self.now_bar: LiveBar | None = None
        self.lateness = Lateness()
        self._source = source
        self._send = send
        self._clock_out = clock_out
        self._on_bar = on_bar
        self._lock = Lock()
        self._order = count()
        self._serial = count()
        self._events: list[_Event] = []
        self._offs: list[tuple[int, int, int, int]] = []
        self._down: dict[tuple[int, int], int] = {}
        self._queue: dict[int, _Queued] = {}
        self._next: Position | None = Position()
        self._next_start = 0
        self._anchor = (0, 0.0)
        self.bpm = wishes.bpm
        self._style: Style | None = None
        self._generation = 0

    # what the player does

    def play(self, now: float, *, count_in: bool = True) -> None:
        """Begin, or go on at the bar where it was paused."""
        with self._lock:
            if self.playing:
                return
            position = self._next or Position()
            self.ended = False
            self._next = self._source.start(self.wishes, position) if count_in else position
            self._next_start = 0
            self._anchor = (0, now + LEAD_SECONDS)
            self.playing = True
            self._generation += 1
        self.fill()

    def pause(self, now: float) -> None:
        """Fall silent at once; `play` goes on from the start of the bar that was playing."""
        with self._lock:
            if not self.playing:
                return
            if self.now_bar:
                self._next = replace(self.now_bar.position, count=0)
            self._halt()

    def stop(self, now: float) -> None:
        """Fall silent and go back to the beginning."""
        with self._lock:
            self._halt()
            self._next = Position()

    def wish(self, wishes: Wishes, now: float) -> None:
        """Take new wishes: tempo and loudness at once, all else at the next bar line.

        Raises:
            SettingsError: when they do not fit the chart; the old ones then hold.

        """
        with self._lock:
            position = self._next or Position()
            self._source.performance(wishes, position)
            old, self.wishes = self.wishes, wishes
            if self.playing and wishes.bpm != old.bpm:
                self._retime(now, self.bpm * wishes.bpm / old.bpm)
            if self._style and (wishes.levels, wishes.level) != (old.levels, old.level):
                self._send_volumes(self._style)
            self._unmake()
        self.fill()

    def jump(self, position: Position, now: float) -> None:
        """Go on at another place of the form at the next bar line."""
        with self._lock:
            self._unmake()
            self._next = position
            self._generation += 1
        self.fill()

    def setup_again(self) -> None:
        """Send programs and volumes again, after a port has come back."""
        with self._lock:
            self._down.clear()
            if self._style:
                self._send_setup(self._style)

    # making bars

    def fill(self) -> None:
        """Make bars until there are enough ahead."""
        while True:
            with self._lock:
                waiting = sum(1 for each in self._queue.values() if not each.begun)
                if not self.playing or self._next is None or waiting >= BARS_AHEAD:
                    return
                wishes, position, generation = self.wishes, self._next, self._generation
            bar, after = self._source.next(wishes, position)
            with self._lock:
                if generation == self._generation and self.playing:
                    self._enqueue(bar)
                    self._next = after

    def _enqueue(self, bar: LiveBar) -> None:
        serial = next(self._serial)
        start = self._next_start
        self._queue[serial] = _Queued(bar, start)
        heapq.heappush(self._events, _Event(start, _BAR, next(self._order), serial))
        if self._clock_out:
            for tick in range(start, start + bar.ticks, _CLOCK_TICKS):
                heapq.heappush(self._events, _Event(tick, _CLOCK, next(self._order), serial))
        for note in bar.notes:
            event = _Event(
                start + note.tick,
                _ON,
                next(self._order),
                serial,
                CHANNELS[note.player],
                note.pitch,
                note.velocity,
                note.length,
            )
            heapq.heappush(self._events, event)
        self._next_start = start + bar.ticks

    def _unmake(self) -> None:
        """Take back every bar of which nothing has been sent."""
        waiting = {serial for serial, each in self._queue.items() if not each.begun}
        self._generation += 1
        if not waiting:
            return
        first = self._queue[min(waiting)]
        self._next, self._next_start = first.bar.position, first.start
        self._events = [event for event in self._events if event.bar not in waiting]
        heapq.heapify(self._events)
        for serial in waiting:
            del self._queue[serial]

    # sending

    def pump(self, now: float) -> float | None:
        """Send everything that is due, and return when the next thing will be; None for nothing."""
        with self._lock:
            while self.playing:
                tick = self._first_tick()
                if tick is None:
                    return self._at_the_end(now)
                due = self._time(tick)
                if due > now:
                    return due
                self._send_first(due, now)
            return None

    def _first_tick(self) -> int | None:
        ticks = [heap[0][0] for heap in (self._offs, self._events) if heap]
        return min(ticks, default=None)

    def _at_the_end(self, now: float) -> float | None:
        """Nothing is left to send: the band has ended, or a bar is late in the making."""
        if self._next is not None or self._queue_waits():
            return None
        due = self._time(self._next_start)
        if due > now:
            return due
        self._halt()
        self.ended = True
        self._next = Position()
        return None

    def _queue_waits(self) -> bool:
        return any(not each.begun for each in self._queue.values())

    def _send_first(self, due: float, now: float) -> None:
        if self._offs and (not self._events or self._offs[0][0] <= self._events[0].tick):
            _, channel, pitch, strike = heapq.heappop(self._offs)
            if self._down.get((channel, pitch)) == strike:
                self._release(channel, pitch)
            return
        event = heapq.heappop(self._events)
        if event.bar in self._queue:
            self._queue[event.bar].begun = True
        if event.kind == _BAR:
            self._begin(event, due)
        elif now - due > TOO_LATE_SECONDS:
            return
        elif event.kind == _CLOCK:
            self._send(bytes((CLOCK,)))
        else:
            self._strike(event)
            self.lateness.note(now - due)

    def _begin(self, event: _Event, due: float) -> None:
        """Begin a bar: its tempo holds from its bar line on."""
        bar = self._queue.pop(event.bar).bar
        self._anchor, self.bpm = (event.tick, due), bar.bpm
        if bar.style is not self._style:
            self._send_setup(bar.style)
        if self._clock_out and (self.now_bar is None or self.now_bar.part == "count-in"):
            self._send(bytes((START,)))
        self.now_bar = bar
        if bar.position.adopted and self.wishes.coming:
            self.wishes = replace(self.wishes, chart=self.wishes.coming, coming=None)
        self._on_bar(bar)

    def _strike(self, event: _Event) -> None:
        key = (event.channel, event.pitch)
        if key in self._down:
            self._release(*key)
        self._down[key] = event.order
        heapq.heappush(self._offs, (event.tick + event.length, *key, event.order))
        self._send(bytes((0x90 | event.channel, event.pitch, event.velocity)))

    def _release(self, channel: int, pitch: int) -> None:
        del self._down[channel, pitch]
        self._send(bytes((0x80 | channel, pitch, 0)))

    def _halt(self) -> None:
        """Stop time, release every key, forget what was made."""
        was_playing, self.playing = self.playing, False
        self._generation += 1
        for channel, pitch in list(self._down):
            self._release(channel, pitch)
        self._events.clear()
        self._offs.clear()
        self._queue.clear()
        if was_playing:
            for channel in CHANNELS.values():
                self._send(bytes((0xB0 | channel, ALL_NOTES_OFF, 0)))
            if self._clock_out:
                self._send(bytes((STOP,)))

    def _send_setup(self, style: Style) -> None:
        self._style = style
        for player, sound in sounds(style).items():
            channel = CHANNELS[player]
            self._send(bytes((0xC0 | channel, sound.program - 1)))
            self._send(bytes((0xB0 | channel, PAN, sound.pan)))
        self._send_volumes(style)

    def _send_volumes(self, style: Style) -> None:
        for player, sound in sounds(style).items():
            volume = min(round(sound.volume * self.wishes.volume(player)), 127)
            self._send(bytes((0xB0 | CHANNELS[player], VOLUME, volume)))

    # time

    def _time(self, tick: int) -> float:
        anchor_tick, anchor_time = self._anchor
        return anchor_time + ticks_to_seconds(tick - anchor_tick, self.bpm)

    def _retime(self, now: float, bpm: float) -> None:
        """Let time run at another tempo from now on."""
        anchor_tick, anchor_time = self._anchor
        if now > anchor_time:
            tick = anchor_tick + seconds_to_ticks(now - anchor_time, self.bpm)
            whole = round(tick)
            self._anchor = (whole, now + ticks_to_seconds(whole - tick, bpm))
        self.bpm = bpm
