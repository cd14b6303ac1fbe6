"""The transport: events in ticks become messages at their times.

It has no thread and no clock of its own: `fill` makes bars ahead, `pump` sends what is due at the
time it is told, so that tests turn time by hand. One thread fills and one pumps; wishes come from
any thread. The lock is held for a few microseconds at a time and never while a bar is made: a wish
marks the bars that wait as stale, and each stays until its better is there, so that the band is
never without a bar.

Conventions: times are seconds of a steady clock. Ticks run on from the first bar; a tempo change
re-anchors them, so that what has not been sent moves at once and nothing jumps or comes twice. Due
times are counted from the anchor, never summed.
"""

from __future__ import annotations

from dataclasses import replace
from threading import Lock
from typing import TYPE_CHECKING

from backing.control.progress import Position, Progress
from backing.control.snapshot import Snapshot
from backing.live.agenda import BAR, CLOCKED, SLOWED, Agenda, End
from backing.live.follower import Follower
from backing.live.lookahead import Lookahead
from backing.live.midi_output import Lateness, MidiOutput
from backing.live.timeline import Timeline, tempo_in
from backing.live.view import View

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.sequence import BarName
    from backing.control.settings import LiveSettings
    from backing.live.agenda import Event, Queued
    from backing.live.source import LiveBar, Source

LEAD_SECONDS = 0.06
"""Time between the wish to play and the first beat."""

TOO_LATE_SECONDS = 0.15
"""Notes that are later than this, after a stall, are left out."""


class Transport:
    """Plays the bars of a source.

    Attributes:
        settings: what the player wishes now.
        progress: how far the bar being played is, or the last one.
        playing: whether time runs.
        ended: whether the band has come to its end.
        now_bar: the bar being played, or the last one; None before the first.
        lateness: how late messages were sent.

    Args:
        source: where bars come from.
        settings: what holds at the start.
        send: takes each message; never called by two threads at once, and must not raise.
        clock_out: whether to send MIDI clock with start, stop, continue and song position.
        on_bar: told every bar as it begins; must return soon and not come back here.
        on_change: told when bars are made, taken back or begun, when time runs otherwise, and when
            wishes have changed; must return soon and not come back here.

    """

    def __init__(
        self,
        source: Source,
        settings: LiveSettings,
        send: Callable[[bytes], None],
        *,
        clock_out: bool = False,
        on_bar: Callable[[LiveBar], None] = lambda bar: None,
        on_change: Callable[[], None] = lambda: None,
    ) -> None:
        self.settings = settings
        self.progress = Progress()
        self.playing = False
        self.ended = False
        self.now_bar: LiveBar | None = None
        self.lateness = Lateness()
        self._source = source
        self._output = MidiOutput(send)
        self._clock_out = clock_out
        self._on_bar = on_bar
        self._on_change = on_change
        self._lock = Lock()
        self._agenda = Agenda(clock_out=clock_out)
        self._ahead = Lookahead(self._agenda)
        self._follower = Follower(send)
        self._timeline = Timeline(settings.bpm)
        self._run = 0
        self._now: tuple[int, Queued] | None = None
        self._under_way = False

    @property
    def bpm(self) -> float:
        """The tempo of the bar being played, in quarter notes a minute."""
        return self._timeline.now.bpm

    @property
    def is_ending(self) -> bool:
        """Whether the last bar has begun, so that no wish changes what comes behind it."""
        with self._lock:
            if not self._under_way or self._ahead.jump is not None:
                return False
            upcoming = self._ahead.upcoming
            return upcoming is None or upcoming.behind is not None

    def view(self) -> View:
        """Return what is about to be played."""
        with self._lock:
            playing, agenda = self.playing, self._agenda
            return View(
                run=self._run,
                playing=playing,
                anchors=self._timeline.anchors if playing else (),
                now=self._now if playing else None,
                waiting=tuple((serial, replace(each)) for serial, each in agenda.bars.items()),
                next_start=agenda.next_start,
            )

    # what the player does

    def play(self, now: float, *, count_in: bool = True) -> bool:
        """Begin, or go on at the bar where it was paused; return whether it had not begun."""
        with self._lock:
            if self.playing:
                return False
            progress = self.progress.at(self._ahead.next or Position())
            start = self._source.start
            self._ahead.next = start(self.settings, progress) if count_in else progress.position
            self._ahead.invalidate()
            self._agenda.next_start = 0
            self._timeline.start(now + LEAD_SECONDS, self.settings.bpm)
            self._run += 1
            self._now = None
            self.ended = False
            self.playing = True
            self._under_way = False
        self._on_change()
        return True

    def pause(self, now: float) -> bool:
        """Fall silent at once; `play` goes on from the start of the bar that was playing.

        Return whether it was playing.
        """
        with self._lock:
            if not self.playing:
                return False
            self.progress = self._here(self._timeline.bar_at(now) or self.now_bar)
            self._halt()
            self._ahead.next = replace(self.progress.position, count=0)
        self._on_change()
        return True

    def stop(self, now: float) -> None:
        """Fall silent and go back to the beginning."""
        with self._lock:
            self._halt()
            self._begin_anew()
            self.now_bar = None
        self._on_change()

    def change(self, change: Callable[[LiveSettings], LiveSettings], now: float) -> bool:
        """Change the wishes: tempo and loudness count at once, all else from the next bar line.

        Return whether they are others than before.

        Args:
            change: makes new wishes from those that hold; called again when they have changed
                meanwhile.
            now: the time, or shortly before: the moment that the player heard.

        Raises:
            BackingError: what `change` raises, and when the new wishes do not fit the chart; the
                old ones then hold.

        """
        while (changed := self._wished(change, now)) is None:
            pass
        self._on_change()
        return changed

    def _wished(self, change: Callable[[LiveSettings], LiveSettings], now: float) -> bool | None:
        """Try to put changed wishes in place of the old ones, and return whether they differ.

        None when the old ones have been replaced meanwhile.
        """
        with self._lock:
            old, before = self.settings, self.progress
            here = before.at(self._ahead.upcoming or Position())
        settings = change(old)
        progress = here.after_change(old, settings)
        if (settings, progress) == (old, here):
            return False
        self._source.check(settings, progress)
        with self._lock:
            if self.settings is not old or self.progress is not before:
                return None
            self.settings, self.progress = settings, progress.at(before.position)
            if settings.bpm != old.bpm:
                self._retime(now, settings.bpm)
            if (settings.levels, settings.level) != (old.levels, old.level):
                self._output.send_volumes(settings)
            self._ahead.invalidate()
        return True

    def jump(self, bar: BarName, *, leaves_loop: bool = False) -> None:
        """Go on at another bar of the form, from the next bar line.

        Args:
            bar: its name.
            leaves_loop: whether the loop ends with it.

        """
        with self._lock:
            if leaves_loop:
                self.settings = replace(self.settings, loop=None)
            if self.playing:
                self._ahead.go_to(bar)
            else:
                position = self._ahead.next or Position()
                self.progress = self.progress.at(position).resting_from_here()
                self._ahead.next = position.at_bar(bar)
        self._on_change()

    def setup_again(self) -> None:
        """Send programs and volumes again, after a port has come back."""
        with self._lock:
            self._output.release_all()
            self._output.set_up_again(self.settings)

    def snapshot(self) -> Snapshot:
        """Return what is wished, and where `play` would go on after a pause."""
        with self._lock:
            progress = self._here(self.now_bar)
            position = replace(progress.position, count=0, share=1.0, applied=None)
            return Snapshot(
                self.settings.applied(),
                progress.at(position),
                playing=self.playing,
                begun=self.now_bar is not None and not self.ended,
            )

    def restore(self, state: Snapshot, now: float) -> None:
        """Be in a saved state; what plays there is counted in. Nothing may be playing before.

        Raises:
            BackingError: when the band cannot play it; nothing has changed then.

        """
        bar, _ = self._source.next(state.settings, state.progress)
        with self._lock:
            self._halt()
            self.settings, self.progress = state.settings, state.progress
            self._ahead.next = state.progress.position
            self.now_bar = bar if state.begun else None
            self.ended = False
            self._timeline.start(now, state.settings.bpm)
            if state.begun:
                self._timeline.begin(0, now, bar.bpm, bar)
        self._on_change()
        if state.playing:
            self.play(now)

    def _here(self, bar: LiveBar | None) -> Progress:
        """Return the progress after a pause in a bar.

        The position is where the player wants to go, or this bar.
        """
        upcoming = self.progress.at(self._ahead.upcoming or Position())
        if (jump := self._ahead.jump) is not None:
            return upcoming.resting_from_here().at(upcoming.position.at_bar(jump))
        return upcoming.at(bar.position) if self._under_way and bar else upcoming

    def _begin_anew(self) -> None:
        """Be at the beginning, as if nothing had been played."""
        self._ahead.next = Position()
        self.progress = Progress()
        self.settings = replace(self.settings, last_time=False)

    # making bars

    def fill(self) -> None:
        """Make bars until there are enough ahead and none is stale; for one thread alone."""
        while self._fill_one():
            pass

    def _fill_one(self) -> bool:
        """Make a bar if one is needed; return whether there may be more."""
        with self._lock:
            last = self._last_position()
            job = self._ahead.job(self.settings, self.progress, last) if self.playing else None
        if job is None:
            return False
        bar, after = self._source.next(job.settings, job.progress)
        with self._lock:
            if self.playing and self._ahead.put(job, bar, after) and job.jump is not None:
                rest = self.progress.at(bar.position).resting_from_here()
                self.progress = rest.at(self.progress.position)
        self._on_change()
        return True

    def _last_position(self) -> Position:
        bar = self.now_bar
        return replace(bar.position, share=bar.share) if bar else Position()

    # sending

    def pump(self, now: float) -> float | None:
        """Send everything that is due, and return when the next thing will be; None for nothing."""
        with self._lock:
            while self.playing:
                tick = self._agenda.first_tick()
                if tick is None:
                    return self._at_the_end(now)
                due = self._timeline.now.seconds_at(tick)
                if due > now:
                    return due
                self._send_first(due, now)
            return None

    def _at_the_end(self, now: float) -> float | None:
        """Nothing is left to send: the band has ended, or a bar is late in the making."""
        if self._ahead.upcoming is not None or self._ahead.jump is not None:
            return None
        due = self._timeline.now.seconds_at(self._agenda.next_start)
        if due > now:
            return due
        self._halt()
        self.ended = True
        self._begin_anew()
        self._on_change()
        return None

    def _send_first(self, due: float, now: float) -> None:
        event = self._agenda.pop()
        if isinstance(event, End):
            self._output.end(event)
            return
        too_late = now - due > TOO_LATE_SECONDS
        if event.kind == BAR:
            self._begin(event, due, too_late=too_late)
        elif event.kind == SLOWED:
            self._slow(event, due)
        elif event.kind == CLOCKED:
            self._follower.tick(too_late=too_late)
        elif too_late:
            self.lateness.left_out += 1
        else:
            self._output.strike(event)
            self._agenda.end_of(event)
            self.lateness.note(now - due)

    def _begin(self, event: Event, due: float, *, too_late: bool) -> None:
        """Begin a bar: its tempo holds from its bar line on."""
        queued = self._agenda.bars.pop(event.bar)
        bar = queued.bar
        self._timeline.begin(event.tick, due, queued.bpm, bar)
        self._now = event.bar, queued
        ladder = self.settings.ladder
        if ladder and queued.ladder is ladder and self.settings.bpm != bar.main_bpm:
            self.settings = self.settings.with_base(bpm=bar.main_bpm)
        applied = bar.position.applied
        if applied is not None and applied is self.settings.pending:
            self.settings = self.settings.applied()
        self.progress = self.progress.at(bar.position)
        self._output.set_up(bar.style, self.settings)
        if self._clock_out:
            self._follower.lead(bar, too_late=too_late)
        self.now_bar = bar
        self._under_way = True
        self._on_bar(bar)
        self._on_change()

    def _slow(self, event: Event, due: float) -> None:
        """Go on at the next tempo of a bar that slows down, in relation to that of its bar line."""
        bar = self.now_bar
        assert bar is not None  # its bar line came before
        self._timeline.slow(event.tick, due, bar.slower[event.velocity][1] / bar.bpm)
        self._on_change()

    def _halt(self) -> None:
        """Stop time, release every key, forget what was made."""
        was_playing, self.playing = self.playing, False
        self._output.release_all()
        self._ahead.clear()
        self._under_way = False
        if was_playing:
            self._output.silence()
            self._follower.stop()

    # time

    def _retime(self, now: float, main_bpm: float) -> None:
        """Let time run at another tempo from now on, and the bars that wait at theirs."""
        self._timeline.retime(now, main_bpm)
        for queued in self._agenda.bars.values():
            queued.bpm = tempo_in(queued.bar, main_bpm)
