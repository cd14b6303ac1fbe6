"""The transport: sends the events of bars at their times.

It has no thread and no clock: `fill` makes bars ahead, `pump` sends what is due at a given time.
One thread fills, one pumps, and any thread may give commands. The lock is held for microseconds
and never while a bar is made.

Conventions: times are seconds of a steady clock. Ticks count from the first bar of a run. After a
tempo change the events not yet sent move at once; none is lost or sent twice.
"""

from __future__ import annotations

from dataclasses import replace
from threading import Lock
from typing import TYPE_CHECKING

from backing.control.progress import Position, Progress
from backing.control.snapshot import Snapshot
from backing.live.agenda import BAR, CLOCK, TEMPO, Agenda, End
from backing.live.midi_output import Follower, Lateness, MidiOutput
from backing.live.timeline import Timeline, View, tempo_in

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.sequence import BarName
    from backing.control.settings import LiveSettings
    from backing.live.agenda import Event, Queued
    from backing.live.source import LiveBar, Source

START_DELAY_SECONDS = 0.06
"""Time from `play` to the first beat."""

TOO_LATE_SECONDS = 0.15
"""Notes later than this, after a stall, are left out."""


class Transport:
    """Plays the bars of a source.

    Attributes:
        settings: the current settings.
        progress: the progress at the bar being played, or the last one.
        playing: whether time runs.
        ended: whether the band has played to its end.
        now_bar: the bar being played, or the last one; None before the first.
        lateness: how late messages were sent.

    Args:
        source: makes the bars.
        settings: the settings at the start.
        send: receives each message, from one thread at a time; must not raise.
        clock_out: whether to send MIDI clock with start, stop, continue and song position.
        on_bar: receives every bar as it begins; must return quickly and not call the transport.
        on_change: called when bars are made, removed or begun, when the tempo changes, and when
            settings change; must return quickly and not call the transport.

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
        self._follower = Follower(send)
        self._timeline = Timeline(settings.bpm)
        self._run = 0
        self._now: tuple[int, Queued] | None = None
        self._has_begun = False

    @property
    def bpm(self) -> float:
        """The tempo of the bar being played, in quarter notes a minute."""
        return self._timeline.now.bpm

    @property
    def is_ending(self) -> bool:
        """Whether it is too late for settings to change anything before the end."""
        with self._lock:
            if not self._has_begun or self._agenda.jump is not None:
                return False
            upcoming = self._agenda.upcoming
            return upcoming is None or upcoming.behind is not None

    def view(self) -> View:
        """Return the bars ahead and the tempi."""
        with self._lock:
            playing, agenda = self.playing, self._agenda
            return View(
                run=self._run,
                playing=playing,
                anchors=self._timeline.anchors if playing else (),
                now=self._now if playing else None,
                waiting=tuple((serial, replace(each)) for serial, each in agenda.bars.items()),
            )

    # commands

    def play(self, now: float) -> bool:
        """Start, or resume at the bar of the pause, after a count-in; return whether it began."""
        with self._lock:
            if self.playing:
                return False
            progress = self.progress.at(self._agenda.next or Position())
            self._agenda.next = self._source.start(self.settings, progress)
            self._agenda.invalidate()
            self._agenda.next_start = 0
            self._timeline.start(now + START_DELAY_SECONDS, self.settings.bpm)
            self._run += 1
            self._now = None
            self.ended = False
            self.playing = True
            self._has_begun = False
        self._on_change()
        return True

    def pause(self, now: float) -> bool:
        """Pause at once; return whether it was playing. `play` resumes at the start of the bar."""
        with self._lock:
            if not self.playing:
                return False
            self.progress = self._resume_progress(self._timeline.bar_at(now) or self.now_bar)
            self._halt()
            self._agenda.next = replace(self.progress.position, count=0)
        self._on_change()
        return True

    def stop(self, now: float) -> None:
        """Stop and go back to the beginning."""
        with self._lock:
            self._halt()
            self._rewind()
            self.now_bar = None
        self._on_change()

    def change(self, change: Callable[[LiveSettings], LiveSettings], now: float) -> bool:
        """Change the settings; return whether they differ.

        Tempo and loudness apply at once, all else from the next bar line.

        Args:
            change: returns new settings from the current ones; called again if these have changed
                meanwhile.
            now: the moment that the player heard, in seconds: the present or shortly before.

        Raises:
            BackingError: raised by `change`, or when the new settings do not fit the chart; nothing
                has changed then.

        """
        while (changed := self._try_change(change, now)) is None:
            pass
        self._on_change()
        return changed

    def _try_change(
        self, change: Callable[[LiveSettings], LiveSettings], now: float
    ) -> bool | None:
        """Try to change the settings; return whether they differ, or None to try again.

        Another thread may change them while the new ones are checked without the lock.
        """
        with self._lock:
            old, before = self.settings, self.progress
            here = before.at(self._agenda.upcoming or Position())
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
                self._timeline.retime(now, settings.bpm)
                for queued in self._agenda.bars.values():
                    queued.bpm = tempo_in(queued.bar, settings.bpm)
            if (settings.levels, settings.level) != (old.levels, old.level):
                self._output.send_volumes(settings)
            self._agenda.invalidate()
        return True

    def jump(self, bar: BarName, *, leaves_loop: bool = False) -> None:
        """Go to a bar of the form at the next bar line.

        Args:
            bar: its name.
            leaves_loop: whether the loop ends.

        """
        with self._lock:
            if leaves_loop:
                self.settings = replace(self.settings, loop=None)
            if self.playing:
                self._agenda.go_to(bar)
            else:
                position = self._agenda.next or Position()
                self.progress = self.progress.at(position).resting_from_here()
                self._agenda.next = position.at_bar(bar)
        self._on_change()

    def resend_setup(self) -> None:
        """Send programs and volumes again after a reconnection."""
        with self._lock:
            self._output.release_all()
            self._output.resend_setup(self.settings)

    def snapshot(self) -> Snapshot:
        """Return the settings, and where `play` would resume after a pause."""
        with self._lock:
            progress = self._resume_progress(self.now_bar)
            position = replace(progress.position, count=0, share=1.0, applied=None)
            return Snapshot(
                self.settings.applied(),
                progress.at(position),
                playing=self.playing,
                begun=self.now_bar is not None and not self.ended,
            )

    def restore(self, state: Snapshot, now: float) -> None:
        """Restore a saved state; if it was playing, start with a count-in. Nothing may be playing.

        Raises:
            BackingError: when the band cannot play it; nothing has changed then.

        """
        bar, _ = self._source.next(state.settings, state.progress)
        with self._lock:
            self._halt()
            self.settings, self.progress = state.settings, state.progress
            self._agenda.next = state.progress.position
            self.now_bar = bar if state.begun else None
            self.ended = False
            self._timeline.start(now, state.settings.bpm)
            if state.begun:
                self._timeline.begin(0, now, bar.bpm, bar)
        self._on_change()
        if state.playing:
            self.play(now)

    def _resume_progress(self, bar: LiveBar | None) -> Progress:
        """Return the progress from which `play` resumes: at the jump, or else at this bar."""
        upcoming = self.progress.at(self._agenda.upcoming or Position())
        if (jump := self._agenda.jump) is not None:
            return upcoming.resting_from_here().at(upcoming.position.at_bar(jump))
        return upcoming.at(bar.position) if self._has_begun and bar else upcoming

    def _rewind(self) -> None:
        """Go back to the beginning."""
        self._agenda.next = Position()
        self.progress = Progress()
        self.settings = replace(self.settings, last_time=False)

    # making bars

    def fill(self) -> None:
        """Make bars until enough are ahead and none is stale; for one thread only."""
        while self._fill_one():
            pass

    def _fill_one(self) -> bool:
        """Make a bar if one is needed; return whether there may be more."""
        with self._lock:
            bar = self.now_bar
            last = replace(bar.position, share=bar.share) if bar else Position()
            job = self._agenda.job(self.settings, self.progress, last) if self.playing else None
        if job is None:
            return False
        made, after = self._source.next(job.settings, job.progress)
        with self._lock:
            if self.playing and self._agenda.put(job, made, after) and job.jump is not None:
                rest = self.progress.at(made.position).resting_from_here()
                self.progress = rest.at(self.progress.position)
        self._on_change()
        return True

    # sending

    def pump(self, now: float) -> float | None:
        """Send all that is due; return the time of the next event, or None when there is none."""
        with self._lock:
            while self.playing:
                tick = self._agenda.first_tick()
                if tick is None:
                    return self._end_if_over(now)
                due = self._timeline.now.seconds_at(tick)
                if due > now:
                    return due
                self._send_first(due, now)
            return None

    def _end_if_over(self, now: float) -> float | None:
        """With nothing left to send, end after the last bar; return when, or None once ended.

        Also return None when the next bar is not made yet.
        """
        if self._agenda.upcoming is not None or self._agenda.jump is not None:
            return None
        due = self._timeline.now.seconds_at(self._agenda.next_start)
        if due > now:
            return due
        self._halt()
        self.ended = True
        self._rewind()
        self._on_change()
        return None

    def _send_first(self, due: float, now: float) -> None:
        event = self._agenda.pop()
        if isinstance(event, End):
            self._output.note_off(event)
            return
        too_late = now - due > TOO_LATE_SECONDS
        if event.kind == BAR:
            self._begin(event, due, too_late=too_late)
        elif event.kind == TEMPO:
            self._slow(event, due)
        elif event.kind == CLOCK:
            self._follower.tick(too_late=too_late)
        elif too_late:
            self.lateness.left_out += 1
        else:
            self._output.note_on(event)
            self._agenda.add_end(event)
            self.lateness.note(now - due)

    def _begin(self, event: Event, due: float, *, too_late: bool) -> None:
        """Begin a bar at its bar line."""
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
            self._follower.follow(bar, too_late=too_late)
        self.now_bar = bar
        self._has_begun = True
        self._on_bar(bar)
        self._on_change()

    def _slow(self, event: Event, due: float) -> None:
        """Continue a bar at the next tempo of its ritard."""
        bar = self.now_bar
        assert bar is not None  # its bar line was sent before
        self._timeline.slow(event.tick, due, bar.slower[event.change][1] / bar.bpm)
        self._on_change()

    def _halt(self) -> None:
        """Stop time, release every key and remove the bars made ahead."""
        was_playing, self.playing = self.playing, False
        self._output.release_all()
        self._agenda.clear()
        self._has_begun = False
        if was_playing:
            self._output.all_notes_off()
            self._follower.stop()
