"""A connected client: a bounded queue of messages to it, and the handlers of its messages.

It may send a limited number of messages a second. A request that fails changes nothing, and only
its sender is told why. A client names instruments and styles from the lists and cannot give paths
of files.
"""

from __future__ import annotations

import asyncio
import time
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

from starlette.websockets import WebSocketDisconnect

from backing.control.commands import COMMANDS, split_line
from backing.errors import BackingError
from backing.stand import messages, sets
from backing.stand.codec import WANTED, decode, encode
from backing.stand.sheet import NO_INSTRUMENT, THE_BAND, View
from backing.stand.stand import StandError

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Iterable

    from starlette.websockets import WebSocket

    from backing.stand.stand import Stand


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

    def send(self, message: messages.Announcement) -> None:
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


_OWN = "own"

_SETS: dict[str, tuple[Callable[..., None], dict[str, type]]] = {
    "new": (sets.new_set, {}),
    "delete": (sets.delete_set, {}),
    "rename": (sets.rename_set, {"to": str}),
    "add": (sets.add_tune, {"tune": str}),
    "out": (sets.remove_tune, {"place": int, "tune": str}),
    "move": (sets.move_tune, {"place": int, "tune": str, "to": int}),
}
"""The function of each change of a set, and the fields that it needs, with their types."""


async def handle(stand: Stand, client: Client, text: str) -> None:
    """Carry out a message of a client; send it a `Fault` where that fails."""
    try:
        await _carry_out(stand, client, decode(text))
    except BackingError as error:
        client.send(messages.Fault(stand.plain(str(error))))


async def _carry_out(stand: Stand, client: Client, request: messages.Request) -> None:
    match request:
        case messages.Ping():
            client.send(messages.Pong(request.mine, time.perf_counter()))
        case messages.CommandLine():
            stand.is_fresh = False
            await _say(stand, request.line, request.at)
        case messages.OpenTune():
            stand.is_fresh = False
            await stand.open(request.tune)
        case messages.Restore():
            faults = await stand.restore(request.tune, request.output, request.snapshot)
            if faults:
                raise StandError(f"not everything could be restored: {'; '.join(faults)}")
        case messages.ChooseOutput():
            await stand.choose_output(request.name)
        case messages.NameChords():
            client.view = replace(client.view, names=request.names)
            await stand.send_sheet(client)
        case messages.ShowShapes():
            await _show_shapes(stand, client, request)
        case messages.ChangeSet():
            await _change_set(stand, request)


async def _say(stand: Stand, line: str, at: float | None) -> None:
    for name, *words in filter(None, split_line(line)):
        command = COMMANDS.get(name.lower())
        if command and not command.for_pages:
            raise StandError("a page cannot end the band for all: close the page")
        if command and command.choices:
            _check_named(command.name, " ".join(words), command.choices())
    await stand.carry_out(line, at)


def _check_named(command: str, name: str, files: Iterable[str]) -> None:
    """Refuse a name that is not in the list: a path would reveal other files' contents."""
    if name != _OWN and name not in files:
        raise StandError(f"{command} '{name[:80]}' is not in the list: choose from it, or own")


async def _change_set(stand: Stand, change: messages.ChangeSet) -> None:
    """Change a set; all clients are sent the new listing.

    Raises:
        BackingError: when a field is missing or of another type, or the change is not possible.
    """
    function, needed = _SETS[change.do]
    values = [getattr(change, field) for field in needed]
    for (field, kind), value in zip(needed.items(), values, strict=True):
        if not isinstance(value, kind):
            raise StandError(f"{field} needs {WANTED[kind]}")
    await asyncio.to_thread(function, stand.songbook, change.name, *values)
    stand.folder.scan_soon()


async def _show_shapes(stand: Stand, client: Client, request: messages.ShowShapes) -> None:
    """Show the chord shapes of an instrument, which the chop then plays; or hide them."""
    shapes, instrument = request.shown, request.instrument
    if instrument is not None:
        shapes = instrument != NO_INSTRUMENT
        if shapes:
            named = _OWN if instrument == THE_BAND else instrument
            await _say(stand, f"instrument {named}", None)
    client.view = replace(client.view, shapes=shapes, left=request.left)
    await stand.send_sheet(client)
