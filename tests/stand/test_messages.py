"""The codec of messages, and their declarations for the page's scripts.

`static/messages.d.ts` is written from the dataclasses. After a change of them write it again:

    BACKING_GOLDEN=write pytest -n 0 tests/stand/test_messages.py
"""

from __future__ import annotations

import json
import os
from dataclasses import MISSING, fields, is_dataclass
from enum import EnumType
from types import NoneType
from typing import TYPE_CHECKING, Any, Literal, get_args, get_origin, get_type_hints

import pytest

from backing.notes import Player
from backing.stand import messages
from backing.stand.app import STATIC
from backing.stand.codec import MessageError, decode, encode, key_of
from backing.stand.messages import (
    Announcement,
    ChangeSet,
    CommandLine,
    Idle,
    LiveBar,
    NameChords,
    Ping,
    Request,
    Restore,
    ShowShapes,
)
from backing.stand.output import BROWSER
from backing.stand.sheet import NAMES
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.stand.server import Server

FILE = STATIC / "messages.d.ts"
PLAIN = {str: "string", int: "number", float: "number", bool: "boolean", NoneType: "null"}


def test_the_page_has_the_declarations_of_all_messages() -> None:
    """`messages.d.ts` has the names, types and constants of the server."""
    if os.environ.get("BACKING_GOLDEN") == "write":
        FILE.write_text(declared(), encoding="utf-8")
    assert FILE.read_text(encoding="utf-8") == declared()


def test_every_way_to_name_chords_can_be_asked_for() -> None:
    """Messages and the sheet have the same kinds of names."""
    assert get_args(messages.NameStyle) == tuple(NAMES)


@pytest.mark.parametrize(
    "data, request_",
    [
        ({"type": "say", "line": "play"}, CommandLine("play")),
        ({"type": "say", "line": "stop", "at": 4}, CommandLine("stop", 4.0)),
        ({"type": "say", "line": "stop", "at": "now"}, CommandLine("stop")),
        ({"type": "say", "line": "stop", "at": True}, CommandLine("stop")),
        ({"type": "ping", "mine": 1e12}, Ping(None)),
        ({"type": "names", "as": "roman", "more": 1}, NameChords("roman")),
        ({"type": "shapes", "shown": True}, ShowShapes(None, shown=True)),
        ({"type": "shapes", "instrument": None}, ShowShapes()),
        (
            {"type": "again", "tune": "a", "output": "b", "snapshot": [{}]},
            Restore("a", "b", [{}]),
        ),
        (
            {"type": "set", "do": "move", "name": "Friday", "tune": "a", "place": 0, "to": 1},
            ChangeSet("move", "Friday", "a", 0, 1),
        ),
        ({"type": "set", "do": "rename", "name": "a", "to": "b"}, ChangeSet("rename", "a", to="b")),
    ],
)
def test_a_message_is_read(data: dict[str, Any], request_: Request) -> None:
    """Unknown keys are ignored; an invalid time is read as None."""
    assert decode(json.dumps(data)) == request_


@pytest.mark.parametrize(
    "data, sentence",
    [
        ({"type": "say", "line": 4}, "line needs a text of at most 200 characters"),
        ({"type": "say", "line": "x" * 201}, "line needs a text of at most 200 characters"),
        ({"type": "say", "line": "\udc00"}, "line has a lone surrogate"),
        ({"type": "shapes", "left": 1}, "left needs true or false"),
        ({"type": "names", "as": "Roman"}, "as needs one of letters, numbers, roman"),
        ({"type": "names", "as": ["roman"]}, "as needs one of"),
        ({"type": "set", "do": "out", "name": "a", "place": True}, "place needs a whole number"),
        (
            {"type": "set", "do": "out", "name": "a", "to": []},
            "to needs a whole number or a",
        ),
        ({"type": "dance"}, "'dance' is not a message: send say, again, set"),
        ([], "not a message: send a JSON object"),
    ],
)
def test_an_invalid_message_is_refused(data: object, sentence: str) -> None:
    """The sentence has the key and what is allowed."""
    with pytest.raises(MessageError, match=sentence):
        decode(json.dumps(data))


def test_none_is_left_out_or_null() -> None:
    """An optional field is left out where it is None; a required one is null."""
    idle = json.loads(encode(Idle("browser", "", 1, tune=None, playing=False)))
    assert idle["tune"] is None
    assert "late_ms" not in idle


def test_announcements_match_their_declarations(server: Server) -> None:
    """Every message of a take has exactly the declared keys and types."""
    kinds: dict[str, list[Any]] = {}
    for kind in get_args(Announcement):
        kinds.setdefault(kind.type, []).append(kind)
    with server.page() as page:
        page.send(type="shapes", instrument="mandolin")
        page.command("fly")
        page.command("loop A")
        page.command("play")
        page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
        page.command("key +2")
        page.receive("bars", lambda each: bool(each["drop"]))
        page.state(semitones=2)
        page.time()
        for line in ("stop", "key own", "loop off"):
            page.command(line)
        page.state(playing=False)
    heard = {message["type"] for message in page.received}
    assert heard >= {"hello", "songbook", "chart", "bars", "time", "state", "pong", "fault"}
    for message in page.received:
        assert any(_fits(message, kind) for kind in kinds[message["type"]]), message


def test_mismatches_are_found() -> None:
    """The check above finds surplus keys, missing keys and other types."""
    right = {"type": "say", "line": "play"}
    assert _fits(right, CommandLine)
    for wrong in ({"line": 1}, {"more": 1}, {"at": "x"}):
        assert not _fits(right | wrong, CommandLine)
    assert not _fits({"type": "say"}, CommandLine)
    assert not _fits({"id": 1}, LiveBar)


def _fits(value: Any, of: Any) -> bool:
    """Return whether a JSON value has a type."""
    origin, inner = get_origin(of), get_args(of)
    if is_dataclass(of):
        hints = {key_of(each): get_type_hints(of)[each.name] for each in fields(of)}
        optional = {key_of(each) for each in fields(of) if each.default is not MISSING}
        keys = set(value) - {"type"}
        return hints.keys() - optional <= keys <= hints.keys() and all(
            _fits(value[key], hints[key]) for key in keys
        )
    if origin is list:
        return isinstance(value, list) and all(_fits(each, inner[0]) for each in value)
    if origin is tuple:
        return (
            isinstance(value, list)
            and len(value) == len(inner)
            and all(_fits(*each) for each in zip(value, inner, strict=True))
        )
    if origin is dict:
        return isinstance(value, dict) and all(
            _fits(key, inner[0]) and _fits(each, inner[1]) for key, each in value.items()
        )
    if origin is Literal:
        return value in inner
    if isinstance(of, EnumType):
        return value in set(of)
    if inner:
        return any(_fits(value, each) for each in inner)
    numbers = (int, float) if of is float else of
    return of is object or (isinstance(value, numbers) and (of is bool or value is not True))


def declared() -> str:
    """Return the declarations of all messages for TypeScript."""
    classes = [each for each in vars(messages).values() if is_dataclass(each)]
    unions = {
        "Request": [each.__name__ for each in get_args(Request)],
        "Announcement": [each.__name__ for each in get_args(Announcement)],
        "Player": [json.dumps(player) for player in Player],
        "NameStyle": [json.dumps(name) for name in get_args(messages.NameStyle)],
        "Browser": [json.dumps(BROWSER)],
        "TicksPerQuarter": [str(TICKS_PER_QUARTER)],
    }
    return "\n".join(
        [
            "// The messages between server and page, and the server's constants: written from",
            "// backing/stand/messages.py by tests/stand/test_messages.py.",
            "",
            *(f"export type {name} = {' | '.join(kinds)};" for name, kinds in unions.items()),
            *(line for each in classes for line in _interface(each)),
            "",
        ]
    )


def _interface(kind: Any) -> Iterator[str]:
    hints = get_type_hints(kind)
    yield ""
    yield f"export interface {kind.__name__} {{"
    if hasattr(kind, "type"):
        yield f"  type: {json.dumps(kind.type)};"
    for each in fields(kind):
        may_miss = each.default is not MISSING
        of = _type(hints[each.name])
        if each.default is None:
            of = of.removesuffix(" | null")
        yield f"  {key_of(each)}{'?' if may_miss else ''}: {of};"
    yield "}"


def _type(of: Any) -> str:
    """Return a type in TypeScript."""
    if of is object:
        return "unknown"
    if is_dataclass(of) or isinstance(of, EnumType):
        return of.__name__
    origin, inner = get_origin(of), get_args(of)
    if origin is Literal:
        return " | ".join(json.dumps(each) for each in inner)
    if origin is dict:
        record = f"Record<{_type(inner[0])}, {_type(inner[1])}>"
        return record if inner[0] is str else f"Partial<{record}>"
    if origin is list:
        item = _type(inner[0])
        return f"({item})[]" if " | " in item else f"{item}[]"
    if origin is tuple:
        return f"[{', '.join(map(_type, inner))}]"
    return PLAIN[of] if of in PLAIN else " | ".join(map(_type, inner))
