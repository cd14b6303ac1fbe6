"""A session of live playing: the band, its threads, its port, and everything that watches them."""

from __future__ import annotations

from threading import Lock
from typing import TYPE_CHECKING, Protocol

from backing.control.commands import Controls
from backing.control.snapshot import restore
from backing.errors import BackingError
from backing.live.runner import Runner
from backing.live.source import Source
from backing.live.transport import Transport
from backing.live.watch import ChartFile

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.model import Chart
    from backing.control.settings import LiveSettings
    from backing.live.source import LiveBar
    from backing.notes import Player


_NEWS_KEPT = 20


class Output(Protocol):
    """Where messages go: a port, a synthesizer, a recording."""

    @property
    def name(self) -> str:
        """What it is called, for messages to the player."""
        ...

    @property
    def is_there(self) -> bool:
        """Whether messages still arrive."""
        ...

    def reconnect(self) -> bool:
        """Try to find it again; return whether that went well."""
        ...

    def send(self, message: bytes) -> None:
        """Send one message."""
        ...

    def close(self) -> None:
        """Silence it and let it go."""
        ...


class Session:
    """The band at an output, in real time.

    Attributes:
        transport: the transport.
        controls: carries out commands.
        broken: what ended a thread, which is a fault of ours, or None.
        news: what the player should be told, newest last; at most the last twenty.
        told: how often there was news.

    Args:
        source: the chart file's name, watched while the band plays.
        links: whether symbolic links to it are followed.
        settings: what holds at the start.
        output: where messages go.
        clock_out: whether to send MIDI clock.
        keeps_output: whether the output stays open for another session.
        on_bar: told every bar as it begins, in the sending thread; it must return soon.
        on_change: as `Transport` tells it; told of news, too.

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
        self.news: list[str] = []
        self.told = 0
        self._telling = Lock()
        self._saying = Lock()
        self._on_change = on_change
        self.transport = Transport(
            Source(self._player_fault),
            settings,
            output.send,
            clock_out=clock_out,
            on_bar=on_bar,
            on_change=on_change,
        )
        self.runner = Runner(self.transport, self._thread_fault)
        self.controls = Controls(self.transport, self.runner.now, self.tell)
        self.broken: BaseException | None = None
        self._file = ChartFile(source, settings.chart.melody, links=links)
        self._faults: set[str] = set()
        self._lost = False

    def start(self, *, play: bool = True) -> None:
        """Start the threads and, unless told otherwise, begin to play."""
        self.runner.start()
        if play:
            self.controls.say("play")
            self.runner.wake()

    def say(self, line: str, at: float | None = None) -> None:
        """Carry out one line; what cannot be done is told, and changes nothing.

        May be called by any thread: one line after the other is carried out.

        Args:
            line: a command and its arguments.
            at: the moment that the player heard, shortly before now; None for now.
        """
        try:
            self.carry_out(line, at)
        except BackingError as error:
            self.tell(str(error))

    def carry_out(self, line: str, at: float | None = None) -> None:
        """Carry out one line, as `say` does.

        Raises:
            BackingError: when it cannot be done; nothing has changed then.
        """
        with self._saying:
            self.controls.say(line, at)
        self.runner.wake()

    def restore(self, saved: object) -> list[str]:
        """Be in a saved state; return a sentence for each field that could not be restored.

        Args:
            saved: what `snapshot.save` returned, or anything else.

        Raises:
            BackingError: when the band cannot play it; nothing has changed then.

        """
        with self._saying:
            state, faults = restore(saved, self.transport.settings.chart)
            self.transport.restore(state, self.runner.now())
        self.runner.wake()
        return faults

    @property
    def is_over(self) -> bool:
        """Whether the player has left, the band has ended, or something of ours is broken."""
        return self.controls.quitting or self.transport.ended or self.broken is not None

    @property
    def has_ended(self) -> bool:
        """Whether the band has ended, without anybody leaving and without a fault of ours."""
        return self.transport.ended and not self.controls.quitting and self.broken is None

    def look_around(self) -> None:
        """Look at the chart file and at the output; to be called a few times a second."""
        self._look_at_file()
        self._look_at_output()

    def close(self) -> None:
        """Stop, release every key, and close the output unless it is kept."""
        try:
            self.runner.close()
        finally:
            if not self._keeps_output:
                self.output.close()

    def tell(self, text: str) -> None:
        """Keep something for the player to read."""
        with self._telling:
            self.news = [*self.news, text][-_NEWS_KEPT:]
            self.told += 1
        self._on_change()

    def news_since(self, told: int) -> tuple[list[str], int]:
        """Return the news after so many, as far as they are kept, and how many there are now."""
        with self._telling:
            fresh = self.told - told
            return self.news[-fresh:] if fresh > 0 else [], self.told

    def _look_at_file(self) -> None:
        try:
            chart = self._file.changed()
            if chart:
                self._take_up(chart)
                loop = self.transport.settings.loop
                if loop and not self.transport.settings.loop_in(chart):
                    self.tell(f"the loop {loop} is not in it, and ends there")
        except BackingError as error:
            self.tell(str(error))

    def _take_up(self, chart: Chart) -> None:
        """Let an edited chart come in: at the next part, or at once where nothing has begun."""
        stands = not self.transport.playing and self.transport.now_bar is None

        def changed(settings: LiveSettings) -> LiveSettings:
            edited = settings.edited(chart)
            return edited.applied() if stands else edited

        self.transport.change(changed, self.runner.now())
        self.runner.wake()
        when = "" if stands else ": it comes in at the next part"
        self.tell(f"the chart has been saved{when}")

    def _look_at_output(self) -> None:
        if self.output.is_there:
            return
        if not self._lost:
            self._lost = True
            self.tell(f"{self.output.name} is gone; looking for it")
        if self.output.reconnect():
            self._lost = False
            self.transport.setup_again()
            self.tell(f"{self.output.name} is back")

    def _player_fault(self, player: Player, error: Exception) -> None:
        text = f"{player}: {error!r}; silent for this bar"
        if text not in self._faults:
            self._faults.add(text)
            self.tell(text)

    def _thread_fault(self, error: BaseException) -> None:
        self.broken = error
