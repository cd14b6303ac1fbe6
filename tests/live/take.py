"""A take on a clock that is turned by hand, and what came out of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.live.source import Source
from backing.live.transport import LEAD_SECONDS, Transport
from backing.live.wishes import Wishes
from backing.out.channels import CHANNELS
from backing.performance import Performance, Settings
from backing.timing import seconds_to_ticks

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.live.source import LiveBar

PLAYERS = {channel: player for player, channel in CHANNELS.items()}


class Take:
    """A transport, its messages with their times, and a clock that only `run` moves."""

    def __init__(
        self,
        chart: Chart,
        *,
        bpm: float | None = None,
        choruses: int | None = None,
        looseness: float = 1.0,
        clock_out: bool = False,
    ) -> None:
        self.now = 0.0
        self.sent: list[tuple[float, bytes]] = []
        self.bars: list[LiveBar] = []
        self.faults: list[tuple[str, str]] = []
        own = Performance(chart, Settings()).bpm
        self.transport = Transport(
            Source(
                choruses=choruses,
                looseness=looseness,
                on_fault=lambda player, error: self.faults.append((player, str(error))),
            ),
            Wishes(chart, bpm or own),
            lambda message: self.sent.append((self.now, message)),
            clock_out=clock_out,
            on_bar=self.bars.append,
        )

    def run(self, seconds: float = 3600.0) -> None:
        """Let time run, from event to event, until the band has ended or the seconds are over."""
        until = self.now + seconds
        while not self.transport.ended and self.now < until:
            self.transport.fill()
            due = self.transport.pump(self.now)
            if due is None and not self.transport.playing:
                break
            self.now = min(until, self.now if due is None else due)
        self.transport.pump(self.now)

    def strokes(self) -> list[tuple[float, int, int, int]]:
        """Return (seconds, channel, key, velocity) of every note-on."""
        return [
            (time, message[0] & 15, message[1], message[2])
            for time, message in self.sent
            if message[0] >> 4 == 9
        ]

    def ticks(self, bpm: float) -> list[tuple[int, int, int, int]]:
        """Return the strokes with ticks in place of seconds, at a steady tempo from the start."""
        return [
            (round(seconds_to_ticks(time - LEAD_SECONDS, bpm)), *rest)
            for time, *rest in self.strokes()
        ]


def keys_are_released(sent: list[tuple[float, bytes]]) -> bool:
    """Whether every key struck was released, none struck while down, and time ran forwards."""
    down: set[tuple[int, int]] = set()
    last = 0.0
    for time, message in sent:
        assert time >= last
        last = time
        kind, key = message[0] >> 4, (message[0] & 15, message[1] if len(message) > 1 else 0)
        if kind == 9:
            assert key not in down
            down.add(key)
        elif kind == 8:
            down.remove(key)
    return not down
