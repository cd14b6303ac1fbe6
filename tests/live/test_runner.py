"""The runner's threads sleep while the band is silent and wake at once."""

from __future__ import annotations

import threading
from typing import Any

from backing.live.runner import Runner

PATIENCE_SECONDS = 20.0


class Silent:
    """A transport without music.

    Attributes:
        playing: whether the band plays.
        pumps, fills: number of calls by the two threads.
        sender_looked, maker_looked: set by each call.
    """

    def __init__(self) -> None:
        self.playing = False
        self.pumps = self.fills = 0
        self.sender_looked, self.maker_looked = threading.Event(), threading.Event()

    def pump(self, now: float) -> float | None:
        """Send nothing."""
        self.pumps += 1
        self.sender_looked.set()
        return None

    def fill(self) -> None:
        """Make nothing."""
        self.fills += 1
        self.maker_looked.set()

    def stop(self, now: float) -> None:
        """Stop nothing."""

    def __getattr__(self, name: str) -> Any:
        raise AssertionError(f"the runner asks for {name}")


def test_a_silent_band_costs_little() -> None:
    """Each thread runs a few times a second while idle, and at once when woken."""
    faults: list[BaseException] = []
    transport = Silent()
    runner = Runner(transport, faults.append)  # type: ignore[arg-type]
    runner.start()
    try:
        assert transport.sender_looked.wait(PATIENCE_SECONDS)
        assert transport.maker_looked.wait(PATIENCE_SECONDS)
        before = transport.pumps, transport.fills
        threading.Event().wait(1.0)
        looks = transport.pumps - before[0], transport.fills - before[1]
        for _ in range(20):
            transport.sender_looked.clear()
            transport.maker_looked.clear()
            runner.wake()
            assert transport.sender_looked.wait(PATIENCE_SECONDS)
            assert transport.maker_looked.wait(PATIENCE_SECONDS)
    finally:
        runner.close()

    assert max(looks) <= 10
    assert faults == []


def test_a_band_that_begins_is_sent_at_once() -> None:
    """A start between two calls is not delayed by the wait."""
    transport = Silent()
    begun = threading.Event()
    pump = transport.pump

    def begins(now: float) -> float | None:
        due = pump(now)
        if transport.playing:
            begun.set()
        elif transport.pumps == 1:  # the command comes between the call and the wait
            transport.playing = True
            runner.wake()
        return due

    transport.pump = begins  # type: ignore[method-assign]
    runner = Runner(transport, lambda error: None)  # type: ignore[arg-type]
    runner.start()
    try:
        assert begun.wait(PATIENCE_SECONDS)
    finally:
        runner.close()
