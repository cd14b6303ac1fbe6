"""The transport: events in ticks become messages at their times.

It has no thread and no clock of its own: `fill` makes bars ahead, `pump` sends what is due at the
time it is told, so that tests turn time by hand. One thread fills and one pumps; wishes come from
any thread. The lock is held for a few microseconds at a time and never while a bar is made: a wish
marks the bars that wait as stale, and each stays until its better is there, so that the band is
never without a bar.

Conventions: times are seconds of a steady clock. Ticks run on from the first bar; a tempo change
re-anchors them, so that what has not been sent moves at once and nothing jumps or comes twice. Due
times are counted from the anchor, never summed.

MIDI clock (MIDI 1.0): 24 a quarter note, through the count-in too, so that a follower knows the
tempo before it starts; start at the first bar of the tune, and, where the band goes on after a
pause or has been held up, stop, song position in sixteenths and continue. Song position counts the
music since the start, as played: it goes on through loops.
"""

from __future__ import annotations

import heapq
from collections import deque
from dataclasses import dataclass, field, replace
from itertools import count
from threading import Lock
from typing import TYPE_CHECKING, NamedTuple

from backing.live.source import COUNT_IN, LiveBar, Position, bars_behind
from backing.out.channels import CHANNELS, PAN, VOLUME, sounds
from backing.timing import (
    FASTEST_BPM,
    SLOWEST_BPM,
    TICKS_PER_QUARTER,
    seconds_to_ticks,
    ticks_to_seconds,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.route import BarName
    from backing.live.source import Source
    from backing.live.wishes import Ladder, Wishes
    from backing.style.model import Style

BARS_AHEAD = 2
"""Bars that are made before they are due."""

LEAD_SECONDS = 0.06
"""Time between the wish to play and the first beat."""

TOO_LATE_SECONDS = 0.15
"""Notes that are later than this, after a stall, are left out."""

_CLOCK_TICKS = TICKS_PER_QUARTER // 24
_SONG_POSITION_TICKS = TICKS_PER_QUARTER // 4
_LAST_SONG_POSITION = 0x3FFF
_OFF, _BAR, _CLOCK, _ON = range(4)

ALL_NOTES_OFF, ALL_SOUND_OFF = 123, 120
CLOCK, START, CONTINUE, STOP, SONG_POSITION = 0xF8, 0xFA, 0xFB, 0xFC, 0xF2


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


@dataclass(slots=True)
class Lateness:
    """How late messages were sent, in seconds: the last ones and the worst ever.

    Attributes:
        last: of the last notes.
        worst: of all notes.
        left_out: notes that were not sent, since the moment for them was over.

    """

    last: deque[float] = field(default_factory=lambda: deque(maxlen=512))
    worst: float = 0.0
    left_out: int = 0

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
        now_bar: the bar being played, or the last one; None before the first.
        lateness: how late messages were sent.

    Args:
        source: where bars come from.
        wishes: what holds at the start.
        send: takes each message; never called by two threads at once, and must not raise.
        clock_out: whether to send MIDI clock with start, stop, continue and song position.
        on_bar: told every bar as it begins; must return soon and not come back here.

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
        self.bpm = wishes.bpm
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
        self._jump: BarName | None = None
        self._anchor = (0, 0.0)
        self._style: Style | None = None
        self._generation = 0
        self._under_way = False
        self._follower_runs = False

    # what the player does

    def play(self, now: float, *, count_in: bool = True) -> None:
        """Begin, or go on at the bar where it was paused."""
        with self._lock:
            if self.playing:
                return
            position = self._next or Position()
            self._next = self._source.start(self.wishes, position) if count_in else position
            self._next_start = 0
            self._anchor = (0, now + LEAD_SECONDS)
            self.bpm = self.wishes.bpm
            self.ended = False
            self.playing = True
            self._under_way = False
            self._generation += 1

    def pause(self, now: float) -> None:
        """Fall silent at once; `play` goes on from the start of the bar that was playing."""
        with self._lock:
            if not self.playing:
                return
            position = self._here()
            self._halt()
            self._next = replace(position, count=0)

    def stop(self, now: float) -> None:
        """Fall silent and go back to the beginning."""
        with self._lock:
            self._halt()
            self._begin_anew()
            self.now_bar = None

    def wish(self, change: Callable[[Wishes], Wishes], now: float) -> None:
        """Change the wishes: tempo and loudness count at once, all else from the next bar line.

        Args:
            change: makes new wishes from those that hold; called again when they have changed
                meanwhile.
            now: the time.

        Raises:
            BackingError: what `change` raises, and when the new wishes do not fit the chart; the
                old ones then hold.

        """
        while not self._wished(change, now):
            pass

    def _wished(self, change: Callable[[Wishes], Wishes], now: float) -> bool:
        """Try to put changed wishes in place of the old ones; False when those are old already."""
        with self._lock:
            old, position = self.wishes, self._coming()
        wishes = _counted_from(position, old, change(old))
        if wishes == old:
            return True
        self._source.check(wishes, position)
        with self._lock:
            if self.wishes is not old:
                return False
            self.wishes = wishes
            if wishes.bpm != old.bpm:
                self._retime(now, wishes.bpm)
            if self._style and (wishes.levels, wishes.level) != (old.levels, old.level):
                self._send_volumes(self._style)
            self._generation += 1
        return True

    def jump(self, bar: BarName) -> None:
        """Go on at another bar of the form, from the next bar line."""
        with self._lock:
            if self.playing:
                self._jump = bar
                self._generation += 1
            else:
                self._next = self._gone_to(self._next or Position(), bar)

    def setup_again(self) -> None:
        """Send programs and volumes again, after a port has come back."""
        with self._lock:
            for channel, pitch in list(self._down):
                self._release(channel, pitch)
            if self._style:
                self._send_setup(self._style)

    def _here(self) -> Position:
        """Return where to go on after a pause: where the player wants to go, or this bar."""
        if self._jump is not None:
            return self._gone_to(self._coming(), self._jump)
        return self.now_bar.position if self._under_way and self.now_bar else self._coming()

    def _gone_to(self, position: Position, bar: BarName) -> Position:
        """Return the position moved to another bar, from which rests are counted anew."""
        self.wishes = _resting_from(self.wishes, position)
        return _at_bar(position, bar)

    def _coming(self) -> Position:
        """Return the position of the first bar that can still be changed."""
        waiting = self._waiting()
        return self._queue[waiting[0]].bar.position if waiting else self._next or Position()

    def _begin_anew(self) -> None:
        """Be at the beginning, as if nothing had been played."""
        self._next = Position()
        self.wishes = replace(self.wishes, last_time=False, ladder_since=0, rest_since=0)

    # making bars

    def fill(self) -> None:
        """Make bars until there are enough ahead and none is stale; for one thread alone."""
        while self._fill_one():
            pass

    def _fill_one(self) -> bool:
        """Make a bar if one is wanted."""
        with self._lock:
            if not self.playing:
                return False
            waiting, position, replaced = self._waiting(), self._next, None
            if waiting and self._queue[waiting[0]].generation != self._generation:
                replaced = waiting[0]
                position = self._queue[replaced].bar.position
            elif len(waiting) >= BARS_AHEAD:
                return False
            jump = self._jump
            if jump is not None:
                position = _at_bar(position or self._last_position(), jump)
            if position is None:
                return False
            wishes, generation = self.wishes, self._generation
            if jump is not None:
                wishes = _resting_from(wishes, position)
        bar, after = self._source.next(wishes, position)
        with self._lock:
            if generation == self._generation and self.playing:
                self._put(bar, after, replaced, jump)
        return True

    def _put(
        self, bar: LiveBar, after: Position | None, replaced: int | None, jump: BarName | None
    ) -> None:
        """Put a bar in its place, unless the one that it is to replace has begun meanwhile."""
        if replaced is not None:
            if self._queue.get(replaced) is None or self._queue[replaced].begun:
                return
            self._unmake(replaced)
        if jump is not None:
            self._jump = None
            self.wishes = _resting_from(self.wishes, bar.position)
        self._enqueue(bar)
        self._next = after

    def _waiting(self) -> list[int]:
        """Return the bars of which nothing has been sent, in order."""
        return [serial for serial, each in self._queue.items() if not each.begun]

    def _last_position(self) -> Position:
        return self.now_bar.position if self.now_bar else Position()

    def _enqueue(self, bar: LiveBar) -> None:
        serial = next(self._serial)
        start = self._next_start
        self._queue[serial] = _Queued(bar, start, bar.bpm, self._generation, self.wishes.ladder)
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

    def _unmake(self, first: int) -> None:
        """Take back a bar and all behind it."""
        gone = {serial for serial in self._queue if serial >= first}
        self._next_start = self._queue[first].start
        self._events = [event for event in self._events if event.bar not in gone]
        heapq.heapify(self._events)
        for serial in gone:
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
        if self._next is not None or self._jump is not None or self._waiting():
            return None
        due = self._time(self._next_start)
        if due > now:
            return due
        self._halt()
        self.ended = True
        self._begin_anew()
        return None

    def _send_first(self, due: float, now: float) -> None:
        if self._offs and (not self._events or self._offs[0][0] <= self._events[0].tick):
            _, channel, pitch, strike = heapq.heappop(self._offs)
            if self._down.get((channel, pitch)) == strike:
                self._release(channel, pitch)
            return
        event = heapq.heappop(self._events)
        if event.bar in self._queue:
            self._queue[event.bar].begun = True
        too_late = now - due > TOO_LATE_SECONDS
        if event.kind == _BAR:
            self._begin(event, due, too_late=too_late)
        elif event.kind == _CLOCK:
            self._send_clock(too_late=too_late)
        elif too_late:
            self.lateness.left_out += 1
        else:
            self._strike(event)
            self.lateness.note(now - due)

    def _begin(self, event: _Event, due: float, *, too_late: bool) -> None:
        """Begin a bar: its tempo holds from its bar line on."""
        queued = self._queue.pop(event.bar)
        bar = queued.bar
        self._anchor, self.bpm = (event.tick, due), queued.bpm
        ladder = self.wishes.ladder
        if ladder and queued.ladder is ladder and self.wishes.bpm != bar.main_bpm:
            self.wishes = replace(self.wishes, bpm=bar.main_bpm)
        adopted = bar.position.adopted
        if adopted is not None and adopted is self.wishes.coming:
            self.wishes = self.wishes.with_coming()
        if bar.style != self._style:
            self._send_setup(bar.style)
        if self._clock_out:
            self._lead_follower(bar, too_late=too_late)
        self.now_bar = bar
        self._under_way = True
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
        self._jump = None
        self._under_way = False
        if was_playing:
            for channel in CHANNELS.values():
                self._send(bytes((0xB0 | channel, ALL_NOTES_OFF, 0)))
            self._stop_follower()

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

    # MIDI clock

    def _send_clock(self, *, too_late: bool) -> None:
        """Send a clock; one that is left out would put the follower out for good: it stops."""
        if too_late:
            self._stop_follower()
        else:
            self._send(bytes((CLOCK,)))

    def _lead_follower(self, bar: LiveBar, *, too_late: bool) -> None:
        """Let the follower run where music begins, and wait where it is counted in."""
        if bar.part == COUNT_IN:
            self._stop_follower()
        elif not self._follower_runs and not too_late:
            place = min(bar.position.ticks // _SONG_POSITION_TICKS, _LAST_SONG_POSITION)
            if place:
                self._send(bytes((SONG_POSITION, place & 0x7F, place >> 7)))
            self._send(bytes((CONTINUE if place else START,)))
            self._follower_runs = True

    def _stop_follower(self) -> None:
        if self._follower_runs:
            self._send(bytes((STOP,)))
            self._follower_runs = False

    # time

    def _time(self, tick: int) -> float:
        anchor_tick, anchor_time = self._anchor
        return anchor_time + ticks_to_seconds(tick - anchor_tick, self.bpm)

    def _retime(self, now: float, main_bpm: float) -> None:
        """Let time run at another tempo from now on, and the bars that wait at theirs."""
        bpm = _tempo_in(self.now_bar, main_bpm) if self.now_bar and self._under_way else main_bpm
        anchor_tick, anchor_time = self._anchor
        if now > anchor_time:
            tick = anchor_tick + seconds_to_ticks(now - anchor_time, self.bpm)
            whole = round(tick)
            self._anchor = (whole, now + ticks_to_seconds(whole - tick, bpm))
        self.bpm = bpm
        for queued in self._queue.values():
            queued.bpm = _tempo_in(queued.bar, main_bpm)


def _tempo_in(bar: LiveBar, main_bpm: float) -> float:
    """Return a bar's tempo at another main tempo; a part with its own keeps its relation to it."""
    return min(max(bar.bpm / bar.main_bpm * main_bpm, SLOWEST_BPM), FASTEST_BPM)


def _at_bar(position: Position, bar: BarName) -> Position:
    """Return a position moved to another bar of its chorus; a count-in that has begun goes on."""
    return replace(position, bar=bar, behind=None, looped_from=None)


def _resting_from(wishes: Wishes, position: Position) -> Wishes:
    """Return the wishes with rests counted from a position on."""
    return replace(wishes, rest_since=position.played) if wishes.rest else wishes


def _counted_from(position: Position, old: Wishes, new: Wishes) -> Wishes:
    """Return new wishes whose ladder counts from here, and whose rests count from this part.

    In a loop rests are counted from its first bar.
    """
    if new.ladder is not None and new.ladder is not old.ladder:
        new = replace(new, ladder_since=position.rounds)
    if new.rest is not None and (new.rest != old.rest or new.loop not in (None, old.loop)):
        new = replace(new, rest_since=position.played - bars_behind(new, position))
    return new
