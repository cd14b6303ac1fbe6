"""What pages ask for: one function a message.

What cannot be done is told to the page that asked, and changes nothing. Files are not for pages: an
instrument and a style are named, never given by their paths.
"""

from __future__ import annotations

import asyncio
import time
from dataclasses import replace
from typing import TYPE_CHECKING

from backing.errors import BackingError
from backing.fretboard.instrument import instrument_files
from backing.stand import sets
from backing.stand.sheet import NAMES, NO_INSTRUMENT, THE_BAND
from backing.stand.stand import StandError
from backing.style.library import style_files

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Iterable

    from backing.stand.page import Page
    from backing.stand.songbook import Songbook
    from backing.stand.stand import Stand
    from backing.stand.telling import Message

LONGEST_TEXT = 200
"""The most characters of a verb's line, and of a name."""

_FAR = 1e12
"""Seconds that no clock of ours has."""

_NOT_FOR_PAGES = {"quit"}

_NAMED: dict[str, Callable[[], Iterable[str]]] = {
    "instrument": instrument_files,
    "style": style_files,
}
"""Verbs whose argument may be a file for who plays in the terminal, and the names for pages."""

_OWN = "own"


async def take(stand: Stand, page: Page, message: Message) -> None:
    """Carry out a message of a page."""
    work = _TAKES.get(message["type"])
    try:
        if work is None:
            raise StandError(f"'{message['type'][:40]}' is no message: {', '.join(_TAKES)} are")
        await work(stand, page, message)
    except BackingError as error:
        page.send({"type": "fault", "text": stand.plain(str(error))})


async def _ping(stand: Stand, page: Page, message: Message) -> None:
    mine = _moment(message.get("mine"))
    page.send({"type": "pong", "mine": mine, "time": time.perf_counter()})


async def _say(stand: Stand, page: Page, message: Message) -> None:
    stand.is_fresh = False
    await _carry_out(stand, _text(message, "line"), _moment(message.get("at")))


async def _again(stand: Stand, page: Page, message: Message) -> None:
    """Restore what a page knows of a server before this one."""
    tune, output = _text(message, "tune"), _text(message, "output")
    faults = await stand.restore(tune, output, message.get("snapshot"))
    if faults:
        text = "; ".join(faults)
        page.send({"type": "fault", "text": stand.plain(f"not all is as it was: {text}")})


async def _carry_out(stand: Stand, line: str, at: float | None) -> None:
    for each in line.split("|"):
        verb, _, name = each.strip().partition(" ")
        if verb.lower() in _NOT_FOR_PAGES:
            raise StandError("a page cannot end the band for all: close the page")
        if files := _NAMED.get(verb.lower()):
            _check_named(verb.lower(), name.strip(), files())
    await stand.carry_out(line, at)


def _check_named(verb: str, name: str, files: Iterable[str]) -> None:
    """Refuse what is not in the list: a path would tell a page what other files hold."""
    if name != _OWN and name not in files:
        raise StandError(f"{verb} '{name[:80]}' is not in the list: choose from it, or own")


async def _open(stand: Stand, page: Page, message: Message) -> None:
    stand.is_fresh = False
    await stand.open(_text(message, "tune"))


async def _set(stand: Stand, page: Page, message: Message) -> None:
    """Change a set, and tell all pages."""
    change = _SETS.get(_text(message, "do"))
    if change is None:
        raise StandError(f"do wants one of {', '.join(_SETS)}")
    await asyncio.to_thread(change, stand.songbook, _text(message, "name"), message)
    stand.saved()


def _place(message: Message, name: str = "place") -> int:
    place = message.get(name)
    if not isinstance(place, int):
        raise StandError(f"{name} wants a whole number")
    return place


_SETS: dict[str, Callable[[Songbook, str, Message], None]] = {
    "new": lambda book, name, message: sets.new_set(book, name),
    "delete": lambda book, name, message: sets.delete_set(book, name),
    "rename": lambda book, name, message: sets.rename_set(book, name, _text(message, "to")),
    "add": lambda book, name, message: sets.add_tune(book, name, _text(message, "tune")),
    "out": lambda book, name, message: sets.take_out(
        book, name, _place(message), _text(message, "tune")
    ),
    "move": lambda book, name, message: sets.move_tune(
        book, name, _place(message), _text(message, "tune"), _place(message, "to")
    ),
}


async def _listen(stand: Stand, page: Page, message: Message) -> None:
    page.listens = bool(message.get("on"))


async def _output(stand: Stand, page: Page, message: Message) -> None:
    await stand.choose_output(_text(message, "name"))


async def _names(stand: Stand, page: Page, message: Message) -> None:
    names = _text(message, "as")
    if names not in NAMES:
        raise StandError(f"'{names}': chords are shown in {', '.join(NAMES)}")
    page.view = replace(page.view, names=names)
    await stand.send_sheet(page)


async def _shapes(stand: Stand, page: Page, message: Message) -> None:
    """Show the shapes of an instrument, which the chop then plays; those it plays now; or none."""
    shapes = bool(message.get("shown"))
    if "instrument" in message:
        instrument = _text(message, "instrument")
        shapes = instrument != NO_INSTRUMENT
        if shapes:
            named = _OWN if instrument == THE_BAND else instrument
            await _carry_out(stand, f"instrument {named}", None)
    page.view = replace(page.view, shapes=shapes, left=bool(message.get("left")))
    await stand.send_sheet(page)


_TAKES: dict[str, Callable[[Stand, Page, Message], Awaitable[None]]] = {
    "say": _say,
    "again": _again,
    "open": _open,
    "ping": _ping,
    "set": _set,
    "listen": _listen,
    "output": _output,
    "names": _names,
    "shapes": _shapes,
}


def _moment(at: object) -> float | None:
    """Return a time in seconds; None for what is none."""
    if not isinstance(at, int | float) or not -_FAR < at < _FAR:
        return None
    return float(at)


def _text(message: Message, name: str) -> str:
    text = message.get(name)
    if not isinstance(text, str) or len(text) > LONGEST_TEXT:
        raise StandError(f"{name} wants a text of at most {LONGEST_TEXT} characters")
    if not text.isascii() and any("\ud800" <= sign <= "\udfff" for sign in text):
        raise StandError(f"{name} has half a character in it: send whole ones")
    return text
