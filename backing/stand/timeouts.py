"""Connections that give up: uvicorn's, with a deadline for those who ask slowly or do not read.

uvicorn waits for ever for the head of a request, for the body of an upgrade, and for a peer to
take what has been written. A peer that is gone without a word, or means ill, would keep its place
and our memory. So every connection has a deadline until it is let in, and some places are kept for
this computer: strangers cannot shut it out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from backing.stand.access import is_local

if TYPE_CHECKING:
    import asyncio
    from asyncio.transports import BaseTransport

    from uvicorn._types import ASGISendEvent

HEAD_SECONDS = 10.0
"""How long a request's head may take to arrive."""

STUCK_SECONDS = 10.0
"""How long a peer may take nothing of what waits for it."""

MOST_SILENT = 64
"""Connections of one side that have asked for nothing yet; the oldest goes when there are more."""

MOST_CONNECTIONS = 256
"""Connections from this computer and from others."""

RESERVED_CONNECTIONS = 64
"""How many of them are kept for this computer."""


class _Deadline:
    """Ends a connection unless it is called off."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._timer: asyncio.TimerHandle | None = None

    def set(self, loop: asyncio.AbstractEventLoop, transport: asyncio.Transport) -> None:
        """Begin to wait; where it waits already, it goes on."""
        if self._timer is None:
            self._timer = loop.call_later(self._seconds, transport.abort)

    def call_off(self) -> None:
        """Wait no more."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None


class Connection(H11Protocol):
    """A connection for requests."""

    _silent: ClassVar[dict[bool, dict[Connection, None]]] = {True: {}, False: {}}
    """Those that have asked for nothing yet, in the order they came; from here, and from others."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._head = _Deadline(HEAD_SECONDS)
        self._stuck = _Deadline(STUCK_SECONDS)

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, unless there are too many."""
        super().connection_made(transport)
        if self._finds_no_place():
            transport.abort()
            return
        self._head.set(self.loop, transport)
        silent = self._silent[is_local(self.server)]
        silent[self] = None
        if len(silent) > MOST_SILENT:
            next(iter(silent)).transport.abort()

    def _finds_no_place(self) -> bool:
        """Whether all places are taken that this connection may have."""
        if is_local(self.server):
            return len(self.connections) > MOST_CONNECTIONS
        here = (is_local(getattr(each, "server", None)) for each in self.connections)
        strangers = len(self.connections) - sum(here)
        return strangers > MOST_CONNECTIONS - RESERVED_CONNECTIONS

    def data_received(self, data: bytes) -> None:
        """Take bytes, and wait for the head of a request as long as it is not whole."""
        super().data_received(data)
        if self.transport.get_protocol() is not self:  # it has become a page's socket
            self._forget()
        elif self.cycle is None or self.cycle.response_complete:
            self._head.set(self.loop, self.transport)
        else:
            self._head.call_off()
            self._silent[is_local(self.server)].pop(self, None)

    def pause_writing(self) -> None:
        """Wait for the peer to read."""
        super().pause_writing()
        self._stuck.set(self.loop, self.transport)

    def resume_writing(self) -> None:
        """Go on."""
        super().resume_writing()
        self._stuck.call_off()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._forget()
        super().connection_lost(exc)

    def _forget(self) -> None:
        self._head.call_off()
        self._stuck.call_off()
        self._silent[is_local(self.server)].pop(self, None)


class PageSocket(WebSocketsSansIOProtocol):
    """A page's socket."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._admission = _Deadline(HEAD_SECONDS)
        self._stuck = _Deadline(STUCK_SECONDS)

    def connection_made(self, transport: BaseTransport) -> None:
        """Take a connection; it has a deadline until the application lets it in."""
        super().connection_made(transport)
        self._admission.set(self.loop, self.transport)

    def pause_writing(self) -> None:
        """Wait for the page to read."""
        super().pause_writing()
        self._stuck.set(self.loop, self.transport)

    def resume_writing(self) -> None:
        """Go on."""
        super().resume_writing()
        self._stuck.call_off()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._admission.call_off()
        self._stuck.call_off()
        super().connection_lost(exc)

    async def send(self, message: ASGISendEvent) -> None:
        """Send what the application says; a page that is let go is not waited for."""
        await super().send(message)
        if message["type"] == "websocket.accept":
            self._admission.call_off()
        if message["type"] == "websocket.close":
            self.transport.close()

    def handle_ping(self) -> None:
        """Answer a ping, unless the page reads no answers."""
        if self.writable.is_set():
            super().handle_ping()
