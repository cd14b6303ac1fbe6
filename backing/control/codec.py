"""Codecs: write a field as plain JSON and read it back, checked.

Conventions: a reader raises a `BackingError` for other data and never guesses. Integers are those
that every reader of JSON keeps exactly (RFC 8259, section 6).
"""

from __future__ import annotations

import reprlib
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.errors import BackingError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

LARGEST = 2**53 - 1
_LONGEST_TEXT = 200

_KEYS = {"voicing": "level", "previous_players": "before"}
"""The JSON keys of fields that have another name."""


class CodecError(BackingError):
    """Data that a codec cannot read."""


class Codec(NamedTuple):
    """A pair of functions that write and read a value.

    Attributes:
        write: returns the data, plain JSON values.
        read: returns the value, or raises a `BackingError` for other data.

    """

    write: Callable[[Any], Any]
    read: Callable[[Any], Any]


def unchanged(value: Any) -> Any:
    """Return the value, which is plain JSON already."""
    return value


def invalid(value: object, wanted: str) -> CodecError:
    """Return the error for data other than expected; long data are shortened."""
    return CodecError(f"found {reprlib.repr(value)} instead of {wanted}")


def integer(least: int, most: int = LARGEST) -> Codec:
    """Return the codec of an integer."""

    def read(value: Any) -> int:
        if type(value) is not int or not least <= value <= most:
            raise invalid(value, f"a whole number from {least} to {most}")
        return value

    return Codec(unchanged, read)


def number(least: float, most: float) -> Codec:
    """Return the codec of a number."""

    def read(value: Any) -> float:
        if type(value) not in (int, float) or not least <= value <= most:
            raise invalid(value, f"a number from {least:g} to {most:g}")
        return float(value)

    return Codec(unchanged, read)


def _boolean(value: Any) -> bool:
    if not isinstance(value, bool):
        raise invalid(value, "true or false")
    return value


BOOLEAN = Codec(unchanged, _boolean)


def _text(value: Any) -> str:
    if not isinstance(value, str) or len(value) > _LONGEST_TEXT:
        raise invalid(value, f"a text of at most {_LONGEST_TEXT} characters")
    return value


TEXT = Codec(unchanged, _text)


def one_of(names: Callable[[], Iterable[str]]) -> Codec:
    """Return the codec of a name from a list."""

    def read(value: Any) -> str:
        allowed = list(names())
        if not isinstance(value, str) or value not in allowed:
            raise invalid(value, f"one of {', '.join(allowed)}")
        return value

    return Codec(str, read)


def or_none(codec: Codec) -> Codec:
    """Return the codec of a value or None."""
    return Codec(
        lambda value: None if value is None else codec.write(value),
        lambda value: None if value is None else codec.read(value),
    )


def row(*codecs: Codec) -> Codec:
    """Return the codec of a tuple with a codec for each item."""

    def write(values: tuple[Any, ...]) -> list[Any]:
        return [codec.write(each) for codec, each in zip(codecs, values, strict=True)]

    def read(value: Any) -> tuple[Any, ...]:
        if not isinstance(value, list) or len(value) != len(codecs):
            raise invalid(value, f"a list of {len(codecs)}")
        return tuple(codec.read(each) for codec, each in zip(codecs, value, strict=True))

    return Codec(write, read)


def record(make: Callable[..., Any], codecs: Mapping[str, Codec]) -> Codec:
    """Return the codec of an object with a codec for each field."""

    def read(value: Any) -> Any:
        keys = [key_of(name) for name in codecs]
        if not isinstance(value, dict) or value.keys() != set(keys):
            raise invalid(value, f"an object with {', '.join(keys)}")
        return make(**{name: _read(key_of(name), codecs[name], value) for name in codecs})

    return Codec(lambda value: to_data(value, codecs), read)


def to_data(value: object, codecs: Mapping[str, Codec], part: object = None) -> dict[str, Any]:
    """Return the fields of a value, and of a part of it, as plain JSON values."""
    return {
        key_of(name): codec.write(getattr(value if hasattr(value, name) else part, name))
        for name, codec in codecs.items()
    }


def key_of(name: str) -> str:
    """Return the JSON key of a field."""
    return _KEYS.get(name, name)


def _read(key: str, codec: Codec, value: dict[str, Any]) -> Any:
    """Read a field; errors begin with its key."""
    try:
        return codec.read(value[key])
    except BackingError as error:
        raise CodecError(f"{key}: {error}") from None
