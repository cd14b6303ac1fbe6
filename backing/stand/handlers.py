"""The handlers of what clients send: one function a message.

What cannot be done is told to the client that asked, and changes nothing. Files are not for
clients: an instrument and a style are named, never given by their paths.
"""

from __future__ import annotations

import asyncio
import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from backing.control.commands import COMMANDS, split_line
from backing.errors import BackingError
from backing.stand import sets
from backing.stand.codec import decode
from backing.stand.messages import (
    ChangeSet,
    ChooseOutput,
    Command,
    Fault,
    Listen,
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

    from backing.stand.client import Page
    from backing.stand.songbook import Songbook
    from backing.stand.stand import Stand

_OWN = "own"

_Value = TypeVar("_Value", int, str)


async def take(stand: Stand, page: Page, text: str) -> None:
    """Carry out a message of a page."""
    try:
        request = decode(text)
        await _HANDLERS[type(request)](stand, page, request)
    except BackingError as error:
        page.send(Fault(stand.plain(str(error))))


async def _ping(stand: Stand, page: Page, ping: Ping) -> None:
    page.send(Pong(ping.mine, time.perf_counter()))


async def _command(stand: Stand, page: Page, command: Command) -> None:
    stand.is_fresh = False
    await _carry_out(stand, command.line, command.at)


async def _restore(stand: Stand, page: Page, before: Restore) -> None:
    """Restore what a page knows of a server before this one."""
    faults = await stand.restore(before.tune, before.output, before.snapshot)
    if faults:
        page.send(Fault(stand.plain(f"not all is as it was: {'; '.join(faults)}")))


async def _carry_out(stand: Stand, line: str, at: float | None) -> None:
    for name, *words in filter(None, split_line(line)):
        command = COMMANDS.get(name.lower())
        if command and not command.for_pages:
            raise StandError("a page cannot end the band for all: close the page")
        if command and command.choices:
            _check_named(command.name, " ".join(words), command.choices())
    await stand.carry_out(line, at)


def _check_named(command: str, name: str, files: Iterable[str]) -> None:
    """Refuse what is not in the list: a path would tell a page what other files hold."""
    if name != _OWN and name not in files:
        raise StandError(f"{command} '{name[:80]}' is not in the list: choose from it, or own")


async def _open(stand: Stand, page: Page, request: OpenTune) -> None:
    stand.is_fresh = False
    await stand.open(request.tune)


async def _set(stand: Stand, page: Page, change: ChangeSet) -> None:
    """Change a set, and tell all pages."""
    await asyncio.to_thread(_SETS[change.do], stand.songbook, change.name, change)
    stand.saved()


def _needed(change: ChangeSet, field: str, kind: type[_Value]) -> _Value:
    """Return a field that a change of a set cannot do without."""
    value = getattr(change, field)
    if not isinstance(value, kind):
        raise StandError(f"{field} wants a {'text' if kind is str else 'whole number'}")
    return value


_SETS: dict[str, Callable[[Songbook, str, ChangeSet], None]] = {
    "new": lambda book, name, _: sets.new_set(book, name),
    "delete": lambda book, name, _: sets.delete_set(book, name),
    "rename": lambda book, name, change: sets.rename_set(book, name, _needed(change, "to", str)),
    "add": lambda book, name, change: sets.add_tune(book, name, _needed(change, "tune", str)),
    "out": lambda book, name, change: sets.take_out(
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


async def _listen(stand: Stand, page: Page, request: Listen) -> None:
    page.listens = request.on


async def _output(stand: Stand, page: Page, request: ChooseOutput) -> None:
    await stand.choose_output(request.name)


async def _names(stand: Stand, page: Page, request: NameChords) -> None:
    page.view = replace(page.view, names=request.names)
    await stand.send_sheet(page)


async def _shapes(stand: Stand, page: Page, request: ShowShapes) -> None:
    """Show the shapes of an instrument, which the chop then plays; those it plays now; or none."""
    shapes, instrument = request.shown, request.instrument
    if instrument is not None:
        shapes = instrument != NO_INSTRUMENT
        if shapes:
            named = _OWN if instrument == THE_BAND else instrument
            await _carry_out(stand, f"instrument {named}", None)
    page.view = replace(page.view, shapes=shapes, left=request.left)
    await stand.send_sheet(page)


_HANDLERS: dict[type[Request], Callable[[Stand, Page, Any], Awaitable[None]]] = {
    Command: _command,
    Restore: _restore,
    OpenTune: _open,
    Ping: _ping,
    ChangeSet: _set,
    Listen: _listen,
    ChooseOutput: _output,
    NameChords: _names,
    ShowShapes: _shapes,
}
