"""uvicorn's connections, with timeouts for peers that send or read too slowly.

uvicorn waits without limit for the head of a request, for the body of an upgrade, and for a peer to
read. A peer that has vanished or is hostile would hold a connection and memory. So each of these
waits has a deadline, and some connections are reserved for this computer, so that others cannot
shut it out.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any, ClassVar

from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from backing.stand.access import is_local

if TYPE_CHECKING:
    from asyncio.transports import BaseTransport

    from uvicorn._types import ASGISendEvent

HEAD_SECONDS = 10.0
"""The longest that a request's head may take to arrive."""

STUCK_SECONDS = 10.0
"""The longest that a peer may read nothing while data wait for it."""

MOST_SILENT = 64
"""Connections without a request, of this computer and of others; beyond it the oldest is closed."""

MOST_CONNECTIONS = 256
"""The most connections in all."""

RESERVED_CONNECTIONS = 64
"""How many of these are for this computer alone."""


class _Deadline:
    """A timer that closes a connection unless it is cancelled."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._timer: asyncio.TimerHandle | None = None

    def start(self, loop: asyncio.AbstractEventLoop, transport: asyncio.Transport) -> None:
        """Start the timer unless it is running."""
        if self._timer is None:
            self._timer = loop.call_later(self._seconds, transport.abort)

    def cancel(self) -> None:
        """Stop the timer."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None


class _ReadingProtocol(asyncio.Protocol):
    """A protocol that closes the connection when its peer does not read."""

    loop: asyncio.AbstractEventLoop
    transport: asyncio.Transport

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._stuck = _Deadline(STUCK_SECONDS)

    def pause_writing(self) -> None:
        """Start the timer: the peer does not read."""
        super().pause_writing()
        self._stuck.start(self.loop, self.transport)

    def resume_writing(self) -> None:
        """Stop the timer."""
        super().resume_writing()
        self._stuck.cancel()


class Connection(_ReadingProtocol, H11Protocol):
    """An HTTP connection."""

    _silent: ClassVar[dict[bool, dict[Connection, None]]] = {True: {}, False: {}}
    """Connections without a request, oldest first; of this computer (True) and of others."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._head = _Deadline(HEAD_SECONDS)

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Accept a connection, unless there are too many."""
        super().connection_made(transport)
        if self._is_too_many():
            transport.abort()
            return
        self._head.start(self.loop, transport)
        silent = self._silent[is_local(self.server)]
        silent[self] = None
        if len(silent) > MOST_SILENT:
            next(iter(silent)).transport.abort()

    def _is_too_many(self) -> bool:
        """Whether this connection exceeds the limit for its side."""
        if is_local(self.server):
            return len(self.connections) > MOST_CONNECTIONS
        local = sum(is_local(getattr(each, "server", None)) for each in self.connections)
        return len(self.connections) - local > MOST_CONNECTIONS - RESERVED_CONNECTIONS

    def data_received(self, data: bytes) -> None:
        """Read bytes; run the timer while the head of a request is incomplete."""
        super().data_received(data)
        if self.transport.get_protocol() is not self:  # it has become a socket
            self._forget()
        elif self.cycle is None or self.cycle.response_complete:
            self._head.start(self.loop, self.transport)
        else:
            self._head.cancel()
            self._silent[is_local(self.server)].pop(self, None)

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._forget()
        super().connection_lost(exc)

    def _forget(self) -> None:
        self._head.cancel()
        self._stuck.cancel()
        self._silent[is_local(self.server)].pop(self, None)


class ClientSocket(_ReadingProtocol, WebSocketsSansIOProtocol):
    """A client's socket."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._admission = _Deadline(HEAD_SECONDS)

    def connection_made(self, transport: BaseTransport) -> None:
        """Accept a connection; run a timer until the application admits it."""
        super().connection_made(transport)
        self._admission.start(self.loop, self.transport)

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._admission.cancel()
        self._stuck.cancel()
        super().connection_lost(exc)

    async def send(self, message: ASGISendEvent) -> None:
        """Send a message of the application; after a close do not wait for the client."""
        await super().send(message)
        if message["type"] == "websocket.accept":
            self._admission.cancel()
        if message["type"] == "websocket.close":
            self.transport.close()

    def handle_ping(self) -> None:
        """Answer a ping, unless the client does not read."""
        if self.writable.is_set():
            super().handle_ping()
