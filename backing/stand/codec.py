"""The codec of messages: dataclasses are written as JSON, and a client's JSON is read into them.

The types of the fields are the schema: a value of another type is refused with a sentence, unknown
keys are ignored. The codecs of `control/codec.py`, for snapshots, are strict instead: they state
ranges and refuse unknown keys.
"""

from __future__ import annotations

import json
from dataclasses import fields
from functools import lru_cache
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Any, Literal, get_args, get_origin, get_type_hints

from backing.errors import BackingError
from backing.stand.messages import Request

if TYPE_CHECKING:
    from backing.stand.messages import Announcement

LONGEST_TEXT = 200
"""The most characters in a text of a client."""

FARTHEST_SECONDS = 1e12
"""The largest plausible time; one beyond it is read as None."""


class MessageError(BackingError):
    """A message of a client that cannot be read."""


def encode(message: Announcement) -> str:
    """Return a message as ASCII JSON, which can carry lone surrogates, unlike UTF-8."""
    return json.dumps(message, default=_object, separators=(",", ":"))


def _object(value: Any) -> dict[str, Any]:
    """Return a dataclass as a JSON object."""
    kind = {"type": value.type} if hasattr(value, "type") else {}
    named = {key_of(each): getattr(value, each.name) for each in fields(value)}
    optional = {key_of(each) for each in fields(value) if each.default is None}
    return kind | {
        key: each for key, each in named.items() if each is not None or key not in optional
    }


def key_of(name: Any) -> str:
    """Return the JSON key of a dataclass field."""
    return str(name.metadata.get("key", name.name))


def decode(text: str) -> Request:
    """Return a client's message.

    Raises:
        MessageError: when it is not a message.
    """
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict) or not isinstance(data.get("type"), str):
        raise MessageError("this is not a message: send a JSON object with a type")
    kind = REQUESTS.get(data["type"])
    if kind is None:
        raise MessageError(f"'{data['type'][:40]}' is not a message: send {', '.join(REQUESTS)}")
    request: Request = kind(
        **{
            name: _read(key, wanted, data.get(key, default))
            for name, key, wanted, default in _fields(kind)
        }
    )
    return request


REQUESTS: dict[str, Any] = {kind.type: kind for kind in get_args(Request)}


@lru_cache
def _fields(kind: Any) -> list[tuple[str, str, Any, Any]]:
    """Return name, key, type and default of each field of a dataclass."""
    hints = get_type_hints(kind)
    return [
        (each.name, key_of(each), hints[each.name], _default(each.default)) for each in fields(kind)
    ]


def _default(value: Any) -> Any:
    return value if isinstance(value, bool) else None


WANTED = {
    str: f"a text of at most {LONGEST_TEXT} characters",
    int: "a whole number",
    bool: "true or false",
}
"""What a field of a type holds, in words."""


def _read(key: str, wanted: Any, value: Any) -> Any:
    """Return the value of a field.

    Raises:
        MessageError: when it is of another type.
    """
    if get_origin(wanted) is Literal:
        if value not in get_args(wanted):
            raise MessageError(f"{key} needs one of {', '.join(get_args(wanted))}")
        return value
    kinds = get_args(wanted) if isinstance(wanted, UnionType) else (wanted,)
    if wanted is object or (value is None and NoneType in kinds):
        return value
    if float in kinds:
        return _moment(value)
    if type(value) not in kinds or (isinstance(value, str) and len(value) > LONGEST_TEXT):
        allowed = " or ".join(WANTED[each] for each in kinds if each in WANTED)
        raise MessageError(f"{key} needs {allowed}")
    if isinstance(value, str) and any("\ud800" <= sign <= "\udfff" for sign in value):
        raise MessageError(f"{key} has a lone surrogate: send valid Unicode")
    return value


def _moment(value: Any) -> float | None:
    """Return a time in seconds; None for a value that is no plausible time."""
    if type(value) not in (int, float) or not -FARTHEST_SECONDS < value < FARTHEST_SECONDS:
        return None
    return float(value)
