"""One page at the stand: what it is sent waits in a bounded queue, what it sends is rationed."""

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
"""Messages that wait for a page; one that reads no faster is let go."""

MOST_WAITING_BYTES = 8 << 20

A_SECOND, AT_ONCE = 60.0, 120.0
"""How many messages a page may send: a second, and at once after a silence."""

PATIENCE = 600
"""Messages beyond that are left out; after so many of them the page is let go."""

TOO_MUCH = 1008
"""A close code (RFC 6455, section 7.4.1)."""


class Ration:
    """Lets so many messages a second pass, and some more at once.

    Args:
        a_second: how many a second.
        at_once: how many after a silence.
    """

    def __init__(self, a_second: float = A_SECOND, at_once: float = AT_ONCE) -> None:
        self._a_second, self._at_once = a_second, at_once
        self._left = at_once
        self._since = time.monotonic()

    def takes(self) -> bool:
        """Take one message, if it may pass."""
        now = time.monotonic()
        self._left = min(self._left + (now - self._since) * self._a_second, self._at_once)
        self._since = now
        if self._left < 1:
            return False
        self._left -= 1
        return True


class Page:
    """A page that is connected.

    Attributes:
        view: how it wishes to see the chart.
        listens: whether it sounds.

    Args:
        socket: its socket, accepted.
    """

    def __init__(self, socket: WebSocket) -> None:
        self.view = View()
        self.listens = True
        self._socket = socket
        self._waiting: asyncio.Queue[str] = asyncio.Queue(MOST_WAITING)
        self._bytes = 0
        self._ration = Ration()
        self._left_out = 0
        self._behind = asyncio.Event()

    def send(self, message: Announcement) -> None:
        """Send a message as soon as the page takes it; never waits."""
        self.send_text(encode(message))

    def send_text(self, text: str) -> None:
        """Send the text of a message as soon as the page takes it; never waits."""
        if self._bytes > MOST_WAITING_BYTES:
            self._behind.set()
        else:
            try:
                self._waiting.put_nowait(text)
                self._bytes += len(text)
            except asyncio.QueueFull:
                self._behind.set()

    async def serve(self, take: Callable[[Page, str], Awaitable[None]]) -> None:
        """Read and write until the page goes, falls behind, or sends too much."""
        tasks = [
            asyncio.create_task(work)
            for work in (self._read(take), self._write(), self._behind.wait())
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
            await asyncio.wait_for(self._socket.close(TOO_MUCH), 1)

    async def _read(self, take: Callable[[Page, str], Awaitable[None]]) -> None:
        while self._left_out < PATIENCE:
            text = await self._socket.receive_text()
            if not self._ration.takes():
                self._left_out += 1
                continue
            self._left_out = max(self._left_out - 1, 0)
            await take(self, text)

    async def _write(self) -> None:
        while True:
            text = await self._waiting.get()
            self._bytes -= len(text)
            await self._socket.send_text(text)


_GONE = (WebSocketDisconnect, OSError, RuntimeError, KeyError)
"""What a socket raises that has gone, or that sends bytes where text is wanted."""
