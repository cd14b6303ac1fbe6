"""Work done two at a time, in processes of their own that end when we do."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections import deque
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from concurrent.futures import Future, ProcessPoolExecutor
    from types import FrameType

AT_ONCE = 2

_AHEAD = 2
"""Tasks a process that may be done or under way before somebody takes what came of them."""

_Task = TypeVar("_Task")
_Result = TypeVar("_Result")


@contextmanager
def together(
    work: Callable[[_Task], _Result], tasks: Sequence[_Task], processes: int = AT_ONCE
) -> Iterator[Iterator[_Result]]:
    """Yield what becomes of each task, in the order of the tasks, and keep little of it at a time.

    Work that is under way when the block is left by an exception is killed: it must leave nothing
    half done outside its process.

    Args:
        work: what is done in another process.
        tasks: what it is done to.
        processes: how many work at the same time.

    """
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import active_children

    workers = max(min(processes, len(tasks)), 1)
    pool = ProcessPoolExecutor(workers, initializer=_leave_signals_to_parent)
    try:
        yield _in_turn(pool, work, tasks, _AHEAD * workers)
    except BaseException:
        for child in active_children():
            child.kill()
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _in_turn(
    pool: ProcessPoolExecutor,
    work: Callable[[_Task], _Result],
    tasks: Sequence[_Task],
    ahead: int,
) -> Iterator[_Result]:
    """Yield what becomes of each task, only so many of which are given out ahead."""
    waiting: deque[Future[_Result]] = deque()
    for task in tasks:
        with _signals_held():
            waiting.append(pool.submit(work, task))
        if len(waiting) >= ahead:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """Let a request to end, or a terminal that is closed, leave the block as an exception does."""
    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    numbers = [getattr(signal, name) for name in names]
    before = [(number, signal.getsignal(number)) for number in numbers]
    ours = [each for each in before if each[1] == signal.SIG_DFL]
    try:
        for number, _ in ours:
            signal.signal(number, _end)
        yield
    finally:
        for number, handler in ours:
            signal.signal(number, handler)


def _end(number: int, _: FrameType | None) -> None:
    sys.exit(128 + number)


@contextmanager
def _signals_held() -> Iterator[None]:
    """Hold back the signals that end us, for what is started here inherits that."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _leave_signals_to_parent() -> None:
    """Take no notice of Ctrl-C, which ends the parent, and end with the parent."""
    from multiprocessing import parent_process

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT, signal.SIGTERM})
    parent = parent_process()
    if parent:

        def follow() -> None:
            parent.join()
            os._exit(1)

        threading.Thread(target=follow, daemon=True).start()
