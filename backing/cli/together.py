"""Runs work in child processes, which end when this process ends."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections import deque
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

from backing.errors import BackingError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from concurrent.futures import Future, ProcessPoolExecutor
    from types import FrameType

AT_ONCE = 2

_AHEAD = 2
"""Tasks for each process that may be started before the results are taken."""

_Result = TypeVar("_Result")


@contextmanager
def together(
    work: Callable[..., _Result], tasks: Sequence[tuple[object, ...]], processes: int = AT_ONCE
) -> Iterator[Iterator[_Result | BackingError]]:
    """Yield the results of work on all tasks, in the order of the tasks; keep few in memory.

    The result of a task that raises a `BackingError` is that error.

    When an exception leaves the block, the processes are killed: work must leave nothing half done
    outside its process.

    Args:
        work: the function that another process calls.
        tasks: its arguments, a tuple for each call.
        processes: how many processes work at the same time.

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
    work: Callable[..., _Result],
    tasks: Sequence[tuple[object, ...]],
    ahead: int,
) -> Iterator[_Result | BackingError]:
    """Yield the result of each task; start at most `ahead` tasks before their results are taken."""
    waiting: deque[Future[_Result | BackingError]] = deque()
    for task in tasks:
        with _signals_held():
            waiting.append(pool.submit(_attempt, work, *task))
        if len(waiting) >= ahead:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()


def _attempt(work: Callable[..., _Result], *arguments: object) -> _Result | BackingError:
    try:
        return work(*arguments)
    except BackingError as error:
        return error


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """Turn SIGTERM and SIGHUP into `SystemExit` inside the block, so that it cleans up."""
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
    """Block SIGINT and SIGTERM inside the block, so that processes started there begin so."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _leave_signals_to_parent() -> None:
    """Ignore Ctrl-C, which the parent handles, and exit when the parent does."""
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
