"""A connected client: a bounded queue of messages to it, a limited rate of messages from it."""

from __future__ import annotations

import asyncio
import time
from contextlib import suppress
from typing import TYPE_CHECKING

from starlette.websockets import WebSocketDisconnect

from backing.stand.codec import encode
from backing.stand.sheet import View

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from starlette.websockets import WebSocket

    from backing.stand.messages import Announcement

MOST_WAITING = 256
"""Messages that may wait for a client; a client that reads more slowly is disconnected."""

MOST_WAITING_BYTES = 8 << 20

PER_SECOND, BURST = 60.0, 120.0
"""Messages that a client may send per second, and at once after a silence."""

MOST_IGNORED = 600
"""Messages beyond the rate are ignored; after this many the client is disconnected."""

POLICY_VIOLATION = 1008
"""A close code (RFC 6455, section 7.4.1)."""


class RateLimit:
    """A token bucket: `PER_SECOND` messages a second, `BURST` at once."""

    def __init__(self) -> None:
        self._left = BURST
        self._since = time.monotonic()

    def allows(self) -> bool:
        """Count one message; return whether it is within the limit."""
        now = time.monotonic()
        self._left = min(self._left + (now - self._since) * PER_SECOND, BURST)
        self._since = now
        if self._left < 1:
            return False
        self._left -= 1
        return True


class Client:
    """A client.

    Attributes:
        view: how it shows the chart.

    Args:
        socket: its socket, accepted.
    """

    def __init__(self, socket: WebSocket) -> None:
        self.view = View()
        self._socket = socket
        self._waiting: asyncio.Queue[str] = asyncio.Queue(MOST_WAITING)
        self._bytes = 0
        self._rate_limit = RateLimit()
        self._ignored = 0
        self._is_behind = asyncio.Event()

    def send(self, message: Announcement) -> None:
        """Queue a message; never waits."""
        self.send_text(encode(message))

    def send_text(self, text: str) -> None:
        """Queue the text of a message; never waits."""
        if self._bytes > MOST_WAITING_BYTES:
            self._is_behind.set()
        else:
            try:
                self._waiting.put_nowait(text)
                self._bytes += len(text)
            except asyncio.QueueFull:
                self._is_behind.set()

    async def serve(self, handle: Callable[[Client, str], Awaitable[None]]) -> None:
        """Read and write until the client disconnects, falls behind, or sends too much."""
        tasks = [
            asyncio.create_task(work)
            for work in (self._read(handle), self._write(), self._is_behind.wait())
        ]
        try:
            await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in tasks:
                task.cancel()
            ended = await asyncio.gather(*tasks, return_exceptions=True)
        for end in ended:
            if isinstance(end, Exception) and not isinstance(end, _GONE):
                raise end
        with suppress(*_GONE, TimeoutError):
            await asyncio.wait_for(self._socket.close(POLICY_VIOLATION), 1)

    async def _read(self, handle: Callable[[Client, str], Awaitable[None]]) -> None:
        while self._ignored < MOST_IGNORED:
            text = await self._socket.receive_text()
            if not self._rate_limit.allows():
                self._ignored += 1
                continue
            self._ignored = max(self._ignored - 1, 0)
            await handle(self, text)

    async def _write(self) -> None:
        while True:
            text = await self._waiting.get()
            self._bytes -= len(text)
            await self._socket.send_text(text)


_GONE = (WebSocketDisconnect, OSError, RuntimeError, KeyError)
"""What a socket raises after a disconnect, or when it receives bytes instead of text."""
