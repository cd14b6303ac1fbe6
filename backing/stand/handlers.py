"""The handlers of clients' messages, one function each.

A request that fails changes nothing, and only its sender is told why. A client names instruments
and styles from the lists and cannot give paths of files.
"""

from __future__ import annotations

import asyncio
import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from backing.control.commands import COMMANDS, split_line
from backing.errors import BackingError
from backing.stand import sets
from backing.stand.codec import WANTED, decode
from backing.stand.messages import (
    ChangeSet,
    ChooseOutput,
    CommandLine,
    Fault,
    NameChords,
    OpenTune,
    Ping,
    Pong,
    Request,
    Restore,
    ShowShapes,
)
from backing.stand.sheet import NO_INSTRUMENT, THE_BAND
from backing.stand.stand import StandError

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Iterable

    from backing.stand.client import Client
    from backing.stand.songbook import Songbook
    from backing.stand.stand import Stand

_OWN = "own"

_Value = TypeVar("_Value", int, str)


async def handle(stand: Stand, client: Client, text: str) -> None:
    """Carry out a message of a client; send it a `Fault` where that fails."""
    try:
        request = decode(text)
        await _HANDLERS[type(request)](stand, client, request)
    except BackingError as error:
        client.send(Fault(stand.plain(str(error))))


async def _ping(stand: Stand, client: Client, ping: Ping) -> None:
    client.send(Pong(ping.mine, time.perf_counter()))


async def _command(stand: Stand, client: Client, command: CommandLine) -> None:
    stand.is_fresh = False
    await _carry_out(stand, command.line, command.at)


async def _restore(stand: Stand, client: Client, before: Restore) -> None:
    """Restore the state of an earlier server, which the client remembers."""
    faults = await stand.restore(before.tune, before.output, before.snapshot)
    if faults:
        client.send(Fault(stand.plain(f"not everything could be restored: {'; '.join(faults)}")))


async def _carry_out(stand: Stand, line: str, at: float | None) -> None:
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


async def _open(stand: Stand, client: Client, request: OpenTune) -> None:
    stand.is_fresh = False
    await stand.open(request.tune)


async def _set(stand: Stand, client: Client, change: ChangeSet) -> None:
    """Change a set; all clients are sent the new listing."""
    await asyncio.to_thread(_SETS[change.do], stand.songbook, change.name, change)
    stand.folder.scan_soon()


def _needed(change: ChangeSet, field: str, kind: type[_Value]) -> _Value:
    """Return a field that this kind of change needs.

    Raises:
        StandError: when it is missing or of another type.
    """
    value = getattr(change, field)
    if not isinstance(value, kind):
        raise StandError(f"{field} needs {WANTED[kind]}")
    return value


_SETS: dict[str, Callable[[Songbook, str, ChangeSet], None]] = {
    "new": lambda book, name, _: sets.new_set(book, name),
    "delete": lambda book, name, _: sets.delete_set(book, name),
    "rename": lambda book, name, change: sets.rename_set(book, name, _needed(change, "to", str)),
    "add": lambda book, name, change: sets.add_tune(book, name, _needed(change, "tune", str)),
    "out": lambda book, name, change: sets.remove_tune(
        book, name, _needed(change, "place", int), _needed(change, "tune", str)
    ),
    "move": lambda book, name, change: sets.move_tune(
        book,
        name,
        _needed(change, "place", int),
        _needed(change, "tune", str),
        _needed(change, "to", int),
    ),
}


async def _output(stand: Stand, client: Client, request: ChooseOutput) -> None:
    await stand.choose_output(request.name)


async def _names(stand: Stand, client: Client, request: NameChords) -> None:
    client.view = replace(client.view, names=request.names)
    await stand.send_sheet(client)


async def _shapes(stand: Stand, client: Client, request: ShowShapes) -> None:
    """Show the chord shapes of an instrument, which the chop then plays; or hide them."""
    shapes, instrument = request.shown, request.instrument
    if instrument is not None:
        shapes = instrument != NO_INSTRUMENT
        if shapes:
            named = _OWN if instrument == THE_BAND else instrument
            await _carry_out(stand, f"instrument {named}", None)
    client.view = replace(client.view, shapes=shapes, left=request.left)
    await stand.send_sheet(client)


_HANDLERS: dict[type[Request], Callable[[Stand, Client, Any], Awaitable[None]]] = {
    CommandLine: _command,
    Restore: _restore,
    OpenTune: _open,
    Ping: _ping,
    ChangeSet: _set,
    ChooseOutput: _output,
    NameChords: _names,
    ShowShapes: _shapes,
}
