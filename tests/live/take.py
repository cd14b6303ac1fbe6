"""A take on a manual clock, with the messages it sends."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.control.commands import Controls
from backing.control.settings import LiveSettings
from backing.harmony.chord import chord_text
from backing.live.source import ENDING, Source
from backing.live.transport import START_DELAY_SECONDS, Transport
from backing.out.channels import CHANNELS
from backing.performance.settings import DEFAULT_CHORUSES, Settings
from backing.timing import seconds_to_ticks

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.live.source import LiveBar
    from backing.notes import Player


def symbols(bar: LiveBar) -> tuple[str, ...]:
    """Return the names of the chords of a bar."""
    return tuple(chord_text(chord) for _, chord in bar.chords)


PLAYERS: dict[int, Player] = {channel: player for player, channel in CHANNELS.items()}

Sent = list[tuple[float, bytes]]


class Take:
    """A transport, the messages it sends with their times, and a manual clock.

    Attributes:
        now: the time in seconds.
        sent: every message with its time.
        bars: every bar that has begun, with the time at which it was due in `times`.
        faults: (player, text) of what players raised.

    """

    def __init__(
        self,
        chart: Chart,
        *,
        bpm: float | None = None,
        choruses: int | None = None,
        looseness: float = 1.0,
        count_in: int | None = None,
        clock_out: bool = False,
    ) -> None:
        self.now = 0.0
        self.sent: Sent = []
        self.bars: list[LiveBar] = []
        self.times: list[float] = []
        self.faults: list[tuple[str, str]] = []
        base = Settings(
            bpm=bpm, choruses=choruses or DEFAULT_CHORUSES, looseness=looseness, count_in=count_in
        )
        self.transport = Transport(
            Source(lambda player, error: self.faults.append((player, str(error)))),
            LiveSettings.of(chart, base, endless=choruses is None),
            lambda message: self.sent.append((self.now, message)),
            clock_out=clock_out,
            on_bar=self._begun,
        )
        self._controls = Controls(self.transport, lambda: self.now)

    def _begun(self, bar: LiveBar) -> None:
        self.bars.append(bar)
        self.times.append(self.now)

    def command(self, *lines: str) -> None:
        """Carry out lines, one after the other."""
        for line in lines:
            self._controls.carry_out(line)

    def run(self, seconds: float = 3600.0) -> None:
        """Run from event to event until the band has ended or the seconds have passed."""
        until = self.now + seconds
        while not self.transport.ended and self.now < until:
            self.transport.fill()
            due = self.transport.pump(self.now)
            if due is None and not self.transport.playing:
                break
            self.now = min(until, self.now if due is None else due)
        self.transport.pump(self.now)

    def run_bars(self, count: int) -> None:
        """Run until `count` more bars have begun."""
        goal = len(self.bars) + count
        while len(self.bars) < goal and not self.transport.ended:
            self.transport.fill()
            due = self.transport.pump(self.now)
            if due is None and not self.transport.playing:
                break
            if len(self.bars) < goal and due is not None:
                self.now = due

    def strokes(self) -> list[tuple[float, int, int, int]]:
        """Return (seconds, channel, key, velocity) of every note-on."""
        return [
            (time, message[0] & 15, message[1], message[2])
            for time, message in self.sent
            if message[0] >> 4 == 9
        ]

    def ticks(self, bpm: float) -> list[tuple[int, int, int, int]]:
        """Return the strokes with ticks instead of seconds, at a constant tempo."""
        return [
            (round(seconds_to_ticks(time - START_DELAY_SECONDS, bpm)), *rest)
            for time, *rest in self.strokes()
        ]


def starts_part(bar: LiveBar) -> bool:
    """Return whether a bar is the first one of a part."""
    return bar.sequenced is not None and bar.sequenced.is_part_start and bar.part != ENDING


def names(take: Take) -> list[tuple[str, int]]:
    """Return part and index of every bar that has begun."""
    return [(bar.part, bar.index) for bar in take.bars]


def sounding(take: Take) -> list[bool]:
    """Return for every bar but the last whether a note begins in it."""
    strokes = [when for when, *_ in take.strokes()]
    return [
        any(start - 1e-6 <= when < end - 0.01 for when in strokes)
        for start, end in zip(take.times, take.times[1:], strict=False)
    ]


class Keys:
    """The keys that are down at a receiver; fails on messages that no receiver should get."""

    def __init__(self) -> None:
        self.down: set[tuple[int, int]] = set()
        self._last = float("-inf")

    def take(self, sent: Sent) -> None:
        """Receive messages: times never decrease, values are valid, no key is struck twice."""
        for time, message in sent:
            assert time >= self._last
            self._last = time
            assert all(value < 128 for value in message[1:])
            kind = message[0] >> 4
            if kind == 9:
                key = (message[0] & 15, message[1])
                assert key not in self.down
                assert message[2] > 0
                self.down.add(key)
            elif kind == 8:
                self.down.remove((message[0] & 15, message[1]))


def keys_are_released(sent: Sent) -> bool:
    """Return whether every key was released, with the checks of `Keys`."""
    keys = Keys()
    keys.take(sent)
    return not keys.down
