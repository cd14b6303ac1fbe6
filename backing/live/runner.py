"""Two threads that run a transport in real time: one makes bars, one sends.

Four measures keep the sender on time (tests/benchmarks/timing.py measures it). It sleeps until
shortly before each deadline and spins the rest. The interpreter's switch interval is short, so that
a busy thread gives way. Garbage is collected in the other thread and only from objects made after
the start. The sender asks for real-time scheduling, and does without where the system refuses.
"""

from __future__ import annotations

import contextlib
import gc
import os
import sys
import threading
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.live.transport import Transport

SPIN_SECONDS = 0.0012
"""How long before a deadline the sender stops sleeping."""

IDLE_SECONDS = 0.02
"""Longest sleep of a thread while the band plays; a command may bring an event closer."""

SILENT_SECONDS = 0.25
"""Longest sleep of a thread while the band is silent, unless it is woken."""

_SWITCH_SECONDS = 0.0001
_REAL_TIME_PRIORITY = 10
_COLLECT_EVERY_SECONDS = 2.0
_LEAST_NEW_OBJECTS = 2000
"""Net number of new objects from which a collection is worth its time."""

_JOIN_SECONDS = 5.0


class Runner:
    """Runs a transport until it is closed.

    Attributes:
        now: the clock, steady, in seconds.

    Args:
        transport: the transport to run.
        on_error: receives an exception of a thread; that thread then ends.

    """

    def __init__(self, transport: Transport, on_error: Callable[[BaseException], None]) -> None:
        self.now = time.perf_counter
        self._transport = transport
        self._on_error = on_error
        self._closing = False
        self._maker_wake_up = threading.Event()
        self._sender_wake_up = threading.Event()
        self._threads = [
            threading.Thread(target=self._run_reporting, args=(work,), name=name, daemon=True)
            for name, work in (("backing-sender", self._send), ("backing-maker", self._make))
        ]
        self._saved: tuple[float, bool] | None = None

    def start(self) -> None:
        """Start both threads.

        Frozen objects are never collected, so garbage such as the tune before is collected first.
        """
        self._saved = (sys.getswitchinterval(), gc.isenabled())
        sys.setswitchinterval(_SWITCH_SECONDS)
        gc.collect()
        gc.freeze()
        gc.disable()
        for thread in self._threads:
            thread.start()

    def wake(self) -> None:
        """Wake both threads after a change. Thread-safe."""
        self._maker_wake_up.set()
        self._sender_wake_up.set()

    def close(self) -> None:
        """Stop and join both threads, then release every key."""
        self._closing = True
        self.wake()
        for thread in self._threads:
            if thread.is_alive():
                thread.join(_JOIN_SECONDS)
        self._transport.stop(self.now())
        if self._saved:
            interval, collects = self._saved
            sys.setswitchinterval(interval)
            gc.unfreeze()
            if collects:
                gc.enable()

    def _run_reporting(self, work: Callable[[], None]) -> None:
        try:
            work()
        except BaseException as error:
            self._on_error(error)

    def _send(self) -> None:
        _request_real_time()
        while not self._closing:
            due = self._transport.pump(self.now())
            if due is None:
                self._wait()
                continue
            rest = due - self.now() - SPIN_SECONDS
            if rest > 0:
                time.sleep(min(rest, IDLE_SECONDS))
                continue
            while self.now() < due and not self._closing:
                pass

    def _wait(self) -> None:
        """Let the sender wait while there is nothing to send."""
        if self._transport.playing:
            time.sleep(SPIN_SECONDS)
        elif self._sender_wake_up.wait(SILENT_SECONDS):
            self._sender_wake_up.clear()

    def _make(self) -> None:
        collected = self.now()
        while not self._closing:
            self._maker_wake_up.clear()
            self._transport.fill()
            since = self.now() - collected
            if since > _COLLECT_EVERY_SECONDS and gc.get_count()[0] > _LEAST_NEW_OBJECTS:
                gc.collect()
                collected = self.now()
            self._maker_wake_up.wait(IDLE_SECONDS if self._transport.playing else SILENT_SECONDS)


def _request_real_time() -> None:
    """Ask for first-in, first-out scheduling of this thread, if the system allows it."""
    with contextlib.suppress(AttributeError, OSError):
        os.sched_setscheduler(
            threading.get_native_id(), os.SCHED_FIFO, os.sched_param(_REAL_TIME_PRIORITY)
        )
