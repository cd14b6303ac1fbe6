"""A session of live playing: transport, threads, output and the watched chart file."""

from __future__ import annotations

from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Protocol

from backing.control.commands import Controls
from backing.control.snapshot import restore
from backing.errors import BackingError
from backing.harmony.chord import chord_text
from backing.live.runner import Runner
from backing.live.source import Source
from backing.live.transport import Transport
from backing.notes import Player
from backing.scores.sidecar import load_tune

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from backing.chart.model import Chart
    from backing.control.settings import LiveSettings
    from backing.live.source import LiveBar


Stamp = tuple[int, int]
"""Modification time of a file in nanoseconds, and its size."""


class ChartFile:
    """A chart file, and the sidecar file of its melody, that may be saved at any time.

    Args:
        source: the name of the file; "-" never changes.
        melody_file: the name of the sidecar file, or "".
        links: whether to follow symbolic links.

    """

    def __init__(self, source: str, melody_file: str = "", *, links: bool = True) -> None:
        self._source = source
        self._links = links
        self._melody_file = melody_file
        self._stamp = self._stamps()

    def changed(self) -> Chart | None:
        """Return the chart if a file was saved since the last call; None otherwise.

        Raises:
            FileError: when the saved file has errors; it is read again after the next save.

        """
        stamp = self._stamps()
        if stamp is None or stamp == self._stamp:
            return None
        self._stamp = stamp
        chart = load_tune(self._source, links=self._links)
        self._melody_file = chart.melody_file
        self._stamp = self._stamps()
        return chart

    def _stamps(self) -> tuple[Stamp | None, ...] | None:
        """Return the stamps of both files; None while the chart file cannot be read."""
        if self._source == "-":
            return None
        chart = Path(self._source)
        stamp = _stamp(chart)
        sidecar = _stamp(chart.parent / self._melody_file) if self._melody_file else None
        return (stamp, sidecar) if stamp else None


def _stamp(path: Path) -> Stamp | None:
    """Return a file's stamp; None when it is missing, or empty because it is being written."""
    try:
        about = path.stat()
    except OSError:
        return None
    return (about.st_mtime_ns, about.st_size) if about.st_size else None


_MESSAGES_KEPT = 20


class Output(Protocol):
    """Where messages go: a port, a synthesizer, a recording."""

    @property
    def name(self) -> str:
        """The name, for messages to the player."""

    @property
    def is_there(self) -> bool:
        """Whether it is connected."""

    def reconnect(self) -> bool:
        """Try to connect again; return whether it worked."""

    def send(self, message: bytes) -> None:
        """Send one message."""

    def close(self) -> None:
        """Silence and close it."""


class Session:
    """The band in real time on an output.

    Attributes:
        transport: the transport.
        controls: carries out commands.
        broken: the exception that ended a thread, or None.
        messages: the last twenty messages for the player, newest last.
        message_count: how many messages there were.

    Args:
        source: the name of the chart file, which is watched for edits.
        links: whether to follow symbolic links.
        settings: the settings at the start.
        output: the output.
        clock_out: whether to send MIDI clock.
        keeps_output: whether `close` leaves the output open.
        on_bar: receives every bar as it begins, in the sending thread; must return quickly.
        on_change: called as by `Transport`, and for each message.

    """

    def __init__(
        self,
        source: str,
        settings: LiveSettings,
        output: Output,
        *,
        clock_out: bool = False,
        keeps_output: bool = False,
        links: bool = True,
        on_bar: Callable[[LiveBar], None] = lambda bar: None,
        on_change: Callable[[], None] = lambda: None,
    ) -> None:
        self.output = output
        self._keeps_output = keeps_output
        self.messages: list[str] = []
        self.message_count = 0
        self._message_lock = Lock()
        self._command_lock = Lock()
        self._on_change = on_change
        self.transport = Transport(
            Source(self._report_player),
            settings,
            output.send,
            clock_out=clock_out,
            on_bar=on_bar,
            on_change=on_change,
        )
        self.runner = Runner(self.transport, self._report_thread)
        self.controls = Controls(self.transport, self.runner.now, self.notify)
        self.broken: BaseException | None = None
        self._file = ChartFile(source, settings.chart.melody_file, links=links)
        self._faults: set[str] = set()
        self._lost = False

    def start(self, *, play: bool = True) -> None:
        """Start the threads and, by default, the band."""
        self.runner.start()
        if play:
            self.controls.carry_out("play")
            self.runner.wake()

    def command(self, line: str, at: float | None = None) -> None:
        """Carry out one line; an error becomes a message and changes nothing. Thread-safe.

        Args:
            line: a command and its arguments.
            at: the moment that the player heard when giving it, in seconds; None for now.
        """
        try:
            self.carry_out(line, at)
        except BackingError as error:
            self.notify(str(error))

    def carry_out(self, line: str, at: float | None = None) -> None:
        """Carry out one line, as `command` does. Thread-safe.

        Raises:
            BackingError: when it cannot be done; nothing has changed then.
        """
        with self._command_lock:
            self.controls.carry_out(line, at)
        self.runner.wake()

    def restore(self, saved: object) -> list[str]:
        """Restore a saved state; return a sentence for each field that could not be restored.

        Args:
            saved: what `snapshot.save` returned, or anything else.

        Raises:
            BackingError: when the band cannot play it; nothing has changed then.

        """
        with self._command_lock:
            state, faults = restore(saved, self.transport.settings.chart)
            self.transport.restore(state, self.runner.now())
        self.runner.wake()
        return faults

    @property
    def is_over(self) -> bool:
        """Whether the player has quit, the band has ended, or a thread has failed."""
        return self.controls.quitting or self.transport.ended or self.broken is not None

    @property
    def has_ended(self) -> bool:
        """Whether the band has ended by itself."""
        return self.transport.ended and not self.controls.quitting and self.broken is None

    def poll(self) -> None:
        """Check the chart file and the output; to be called a few times a second."""
        self._check_file()
        self._check_output()

    def close(self) -> None:
        """Stop, release every key, and close the output unless `keeps_output`."""
        try:
            self.runner.close()
        finally:
            if not self._keeps_output:
                self.output.close()

    def notify(self, text: str) -> None:
        """Add a message for the player. Thread-safe."""
        with self._message_lock:
            self.messages = [*self.messages, text][-_MESSAGES_KEPT:]
            self.message_count += 1
        self._on_change()

    def messages_since(self, count: int) -> tuple[list[str], int]:
        """Return the messages after the first `count`, as far as kept, and how many there were."""
        with self._message_lock:
            fresh = self.message_count - count
            return self.messages[-fresh:] if fresh > 0 else [], self.message_count

    def _check_file(self) -> None:
        try:
            chart = self._file.changed()
            if chart:
                self._adopt(chart)
                loop = self.transport.settings.loop
                if loop and not self.transport.settings.loop_in(chart):
                    self.notify(f"the loop {loop} is not in the saved chart and ends there")
        except BackingError as error:
            self.notify(str(error))

    def _adopt(self, chart: Chart) -> None:
        """Use an edited chart from the next part on, or at once while stopped at the beginning."""
        at_once = not self.transport.playing and self.transport.now_bar is None

        def changed(settings: LiveSettings) -> LiveSettings:
            edited = settings.edited(chart)
            return edited.applied() if at_once else edited

        self.transport.change(changed, self.runner.now())
        self.runner.wake()
        when = "" if at_once else ": it comes in at the next part"
        self.notify(f"the chart has been saved{when}")

    def _check_output(self) -> None:
        if self.output.is_there:
            return
        if not self._lost:
            self._lost = True
            self.notify(f"{self.output.name} is gone; looking for it")
        if self.output.reconnect():
            self._lost = False
            self.transport.resend_setup()
            self.notify(f"{self.output.name} is back")

    def _report_player(self, player: Player, error: Exception) -> None:
        text = f"{player}: {error!r}; silent for this bar"
        if text not in self._faults:
            self._faults.add(text)
            self.notify(text)

    def _report_thread(self, error: BaseException) -> None:
        self.broken = error


def settings_after(lines: Iterable[str], settings: LiveSettings) -> LiveSettings:
    """Return the settings after commands, before anything is played.

    Raises:
        BackingError: when a command cannot be carried out.
    """
    transport = Transport(Source(), settings, lambda message: None)
    controls = Controls(transport, lambda: 0.0)
    for line in lines:
        controls.carry_out(line)
    return transport.settings


def state_line(transport: Transport, bar: LiveBar | None) -> str:
    """Return the state in a bar as one line of JSON."""
    import json  # most takes print no JSON

    return json.dumps(state_of(transport, bar), ensure_ascii=False)


def state_of(transport: Transport, bar: LiveBar | None) -> dict[str, Any]:
    """Return the state in a bar as a JSON object.

    Keys: `playing`, `ended`, `part` ("A 2" is the second A of the form), `bar` and `bars` (counted
    from 1), `chorus` (of the form), `round` (of the loop, or null), `chords`, `key`, `tempo` and
    `tempo_unit` (a number and the note that it counts), `quarter_bpm` (the same in quarter notes a
    minute), `tempo_wished` (the tempo of the tune, as set by commands; differs from `tempo` in a
    ritard and in a part with a tempo of its own), `meter`, `style`, `plays`, `level` (percent),
    `loop` (first and last bar from 1, or null), `last_time`, `late_ms` (the maximum of the last
    notes).
    """
    settings = transport.settings
    loop = settings.loop_in(settings.chart)
    late = max(transport.lateness.last, default=0.0)
    return {
        "playing": transport.playing,
        "ended": transport.ended,
        "part": bar.label if bar else None,
        "bar": bar.index + 1 if bar else None,
        "bars": bar.length if bar else None,
        "chorus": bar.chorus if bar else None,
        "round": transport.progress.at(bar.position).loop_round if bar and settings.loop else None,
        "chords": [chord_text(chord) for _, chord in bar.chords] if bar else [],
        "key": str(bar.key) if bar else None,
        "tempo": settings.chart.counted(transport.bpm, 2).bpm,
        "tempo_unit": settings.chart.tempo_unit,
        "tempo_wished": settings.chart.counted(settings.bpm).bpm,
        "quarter_bpm": round(transport.bpm, 2),
        "meter": str(bar.meter) if bar else None,
        "style": bar.style.name if bar else None,
        "plays": [
            player for player in Player if settings.plays(player, bar.style if bar else None)
        ],
        "level": settings.level,
        "loop": [loop[0] + 1, loop[1] + 1] if loop else None,
        "last_time": settings.last_time,
        "late_ms": round(late * 1000, 2),
    }
