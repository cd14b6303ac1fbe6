"""A session on a clock that is turned by hand, at an output that can be unplugged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.control.settings import LiveSettings
from backing.live.session import Session
from backing.performance.settings import Settings

if TYPE_CHECKING:
    from backing.chart.model import Chart


class Cable:
    """An output that keeps what arrives, and is there or not as the test wants."""

    name = "Cellar Synth"

    def __init__(self) -> None:
        self.is_there = True
        self.comes_back = False
        self.arrived: list[bytes] = []

    def reconnect(self) -> bool:
        """Come back when the test wants it."""
        self.is_there = self.comes_back
        return self.is_there

    def send(self, message: bytes) -> None:
        """Let a message arrive while the cable is in."""
        if self.is_there:
            self.arrived.append(message)

    def close(self) -> None:
        """Be unplugged for good."""
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
        """Let time run until so many more bars have begun."""
        goal = self.begun + count
        transport = self.session.transport
        while self.begun < goal and not transport.ended:
            transport.fill()
            due = transport.pump(self.now)
            if self.begun < goal and due is not None:
                self.now = due
