"""Two threads that run a transport in real time: one makes bars, one sends.

What was measured, and kept (tests/benchmarks/timing.py prints it): the sender sleeps to shortly
before each deadline and spins the rest; the interpreter's switch interval is shortened, so that a
busy thread gives way; the garbage collector runs between bars, in the other thread, and passes over
all that was there before the start; and the sender asks for real-time scheduling, which most
systems refuse to ordinary users: then it does without.
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
"""How long a thread sleeps at most while the band plays: a wish may bring the next moment near."""

SILENT_SECONDS = 0.25
"""How long it sleeps at most while the band is silent, unless it is woken."""

_SWITCH_SECONDS = 0.0001
_REAL_TIME_PRIORITY = 10
_COLLECT_EVERY_SECONDS = 2.0
_WORTH_COLLECTING = 2000
"""How many objects more must have been made than let go of since the last collection."""

_JOIN_SECONDS = 5.0


class Runner:
    """Runs a transport until it is closed.

    Attributes:
        now: the clock: seconds, steady.

    Args:
        transport: what to run.
        on_fault: takes an exception of a thread; the threads end with it.

    """

    def __init__(self, transport: Transport, on_fault: Callable[[BaseException], None]) -> None:
        self.now = time.perf_counter
        self._transport = transport
        self._on_fault = on_fault
        self._closing = False
        self._bars_wanted = threading.Event()
        self._sender_wanted = threading.Event()
        self._threads = [
            threading.Thread(target=self._guarded, args=(work,), name=name, daemon=True)
            for name, work in (("backing-sender", self._send), ("backing-maker", self._make))
        ]
        self._before: tuple[float, bool] | None = None

    def start(self) -> None:
        """Start both threads.

        What is frozen is never collected. So the garbage that is there, such as the tune before
        this one, is collected first: otherwise it would stay for ever.
        """
        self._before = (sys.getswitchinterval(), gc.isenabled())
        sys.setswitchinterval(_SWITCH_SECONDS)
        gc.collect()
        gc.freeze()
        gc.disable()
        for thread in self._threads:
            thread.start()

    def wake(self) -> None:
        """Tell both threads that something has changed."""
        self._bars_wanted.set()
        self._sender_wanted.set()

    def close(self) -> None:
        """Stop and join both threads, then release every key."""
        self._closing = True
        self.wake()
        for thread in self._threads:
            if thread.is_alive():
                thread.join(_JOIN_SECONDS)
        self._transport.stop(self.now())
        if self._before:
            interval, collects = self._before
            sys.setswitchinterval(interval)
            gc.unfreeze()
            if collects:
                gc.enable()

    def _guarded(self, work: Callable[[], None]) -> None:
        try:
            work()
        except BaseException as error:
            self._on_fault(error)

    def _send(self) -> None:
        _ask_for_real_time()
        while not self._closing:
            due = self._transport.pump(self.now())
            if due is None:
                self._rest()
                continue
            rest = due - self.now() - SPIN_SECONDS
            if rest > 0:
                time.sleep(min(rest, IDLE_SECONDS))
                continue
            while self.now() < due and not self._closing:
                pass

    def _rest(self) -> None:
        """Let the sender wait for something to send."""
        if self._transport.playing:
            time.sleep(SPIN_SECONDS)
        elif self._sender_wanted.wait(SILENT_SECONDS):
            self._sender_wanted.clear()

    def _make(self) -> None:
        collected = self.now()
        while not self._closing:
            self._bars_wanted.clear()
            self._transport.fill()
            since = self.now() - collected
            if since > _COLLECT_EVERY_SECONDS and gc.get_count()[0] > _WORTH_COLLECTING:
                gc.collect()
                collected = self.now()
            self._bars_wanted.wait(IDLE_SECONDS if self._transport.playing else SILENT_SECONDS)


def _ask_for_real_time() -> None:
    """Ask for the first-in, first-out class for this thread; without leave, go on as we are."""
    with contextlib.suppress(AttributeError, OSError):
        os.sched_setscheduler(
            threading.get_native_id(), os.SCHED_FIFO, os.sched_param(_REAL_TIME_PRIORITY)
        )
