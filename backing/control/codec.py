"""Codecs: how a field becomes plain JSON and is read back, whatever stands there.

Conventions: a reader refuses what it does not want with a sentence, and takes nothing else in its
place. Whole numbers are those that every reader of JSON keeps exactly (RFC 8259, section 6).
"""

from __future__ import annotations

import reprlib
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.errors import BackingError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

LARGEST = 2**53 - 1
_LONGEST_TEXT = 200


class CodecError(BackingError):
    """Data that are not what is wanted."""


class Codec(NamedTuple):
    """How a value becomes data and is read back.

    Attributes:
        write: returns the data, plain JSON values.
        read: returns the value, or raises a `BackingError` for other data.

    """

    write: Callable[[Any], Any]
    read: Callable[[Any], Any]


def same(value: Any) -> Any:
    """Return a value that is data already."""
    return value


def unfit(value: object, wanted: str) -> CodecError:
    """Return the fault of data that are not what is wanted; long data are cut."""
    return CodecError(f"{reprlib.repr(value)} stands where {wanted} is wanted")


def whole(least: int, most: int = LARGEST) -> Codec:
    """Return the codec of a whole number."""

    def read(value: Any) -> int:
        if type(value) is not int or not least <= value <= most:
            raise unfit(value, f"a whole number from {least} to {most}")
        return value

    return Codec(same, read)


def number(least: float, most: float) -> Codec:
    """Return the codec of a number."""

    def read(value: Any) -> float:
        if type(value) not in (int, float) or not least <= value <= most:
            raise unfit(value, f"a number from {least:g} to {most:g}")
        return float(value)

    return Codec(same, read)


def _yes_or_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise unfit(value, "true or false")
    return value


YES_OR_NO = Codec(same, _yes_or_no)


def _text(value: Any) -> str:
    if not isinstance(value, str) or len(value) > _LONGEST_TEXT:
        raise unfit(value, f"a text of at most {_LONGEST_TEXT} characters")
    return value


TEXT = Codec(same, _text)


def one_of(names: Callable[[], Iterable[str]]) -> Codec:
    """Return the codec of a name from a list."""

    def read(value: Any) -> str:
        allowed = list(names())
        if not isinstance(value, str) or value not in allowed:
            raise unfit(value, f"one of {', '.join(allowed)}")
        return value

    return Codec(str, read)


def or_none(codec: Codec) -> Codec:
    """Return the codec of a value or None."""
    return Codec(
        lambda value: None if value is None else codec.write(value),
        lambda value: None if value is None else codec.read(value),
    )


def row(*codecs: Codec) -> Codec:
    """Return the codec of a tuple whose places have codecs of their own."""

    def write(values: tuple[Any, ...]) -> list[Any]:
        return [codec.write(each) for codec, each in zip(codecs, values, strict=True)]

    def read(value: Any) -> tuple[Any, ...]:
        if not isinstance(value, list) or len(value) != len(codecs):
            raise unfit(value, f"a list of {len(codecs)}")
        return tuple(codec.read(each) for codec, each in zip(codecs, value, strict=True))

    return Codec(write, read)


def record(make: Callable[..., Any], codecs: Mapping[str, Codec]) -> Codec:
    """Return the codec of a value whose fields have codecs of their own."""

    def read(value: Any) -> Any:
        if not isinstance(value, dict) or value.keys() != codecs.keys():
            raise unfit(value, f"an object with {', '.join(codecs)}")
        return make(**{name: _read(name, codecs[name], value[name]) for name in codecs})

    return Codec(lambda value: written(value, codecs), read)


def written(value: object, codecs: Mapping[str, Codec]) -> dict[str, Any]:
    """Return the fields of a value as data."""
    return {name: codec.write(getattr(value, name)) for name, codec in codecs.items()}


def _read(name: str, codec: Codec, value: object) -> Any:
    """Return what a field holds; its name stands before what is wrong with it."""
    try:
        return codec.read(value)
    except BackingError as error:
        raise CodecError(f"{name}: {error}") from None
