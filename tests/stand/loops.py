"""Runs coroutines in a thread of its own, since the browser tests have an event loop already."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Coroutine


def run(work: Coroutine[Any, Any, None]) -> None:
    """Run a coroutine to its end."""
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, work).result()
