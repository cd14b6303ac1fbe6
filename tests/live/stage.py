"""A session on a manual clock, with an output that can be unplugged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.control.settings import LiveSettings
from backing.live.session import Session
from backing.performance.settings import Settings

if TYPE_CHECKING:
    from backing.chart.model import Chart


class Cable:
    """An output that records messages and can be unplugged."""

    name = "Cellar Synth"

    def __init__(self) -> None:
        self.is_there = True
        self.comes_back = False
        self.arrived: list[bytes] = []

    def reconnect(self) -> bool:
        """Reconnect if `comes_back` is set."""
        self.is_there = self.comes_back
        return self.is_there

    def send(self, message: bytes) -> None:
        """Record a message unless unplugged."""
        if self.is_there:
            self.arrived.append(message)

    def close(self) -> None:
        """Unplug."""
        self.is_there = False


class Stage:
    """A session without threads.

    Attributes:
        now: the time in seconds; only `run_bars` moves it.
        cable: the output.
        session: the session.
        begun: how many bars have begun.

    """

    def __init__(self, chart: Chart, source: str = "-") -> None:
        self.now = 0.0
        self.begun = 0
        self.cable = Cable()
        settings = LiveSettings.of(chart, Settings(looseness=0.0))
        self.session = Session(source, settings, self.cable, on_bar=self._count)
        self.session.transport.play(self.now)

    def _count(self, _: object) -> None:
        self.begun += 1

    def run_bars(self, count: int) -> None:
        """Run until `count` more bars have begun."""
        goal = self.begun + count
        transport = self.session.transport
        while self.begun < goal and not transport.ended:
            transport.fill()
            due = transport.pump(self.now)
            if self.begun < goal and due is not None:
                self.now = due
