"""Reads the values of options from their texts."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, TypeVar, overload

from backing.errors import SettingsError, SymbolError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.notes import Player
    from backing.timing import WrittenTempo

NONE = "none"

MOST_TEMPI = 12
"""The most tempi of a pack or a sheet."""

_Default = TypeVar("_Default")

_WHOLE = re.compile("[+-]?[0-9]{1,18}", re.ASCII)
_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,9}(?:\.[0-9]{0,9})?|\.[0-9]{1,9})", re.ASCII)
_RANGE = re.compile("([0-9]{1,2})-([0-9]{1,2})", re.ASCII)


@overload
def whole_number(option: str, text: str) -> int: ...
@overload
def whole_number(option: str, text: str | None, default: _Default) -> int | _Default: ...
def whole_number(option: str, text: str | None, default: object = None) -> object:
    """Read a whole number; return the default value for None.

    Raises:
        SettingsError: when the text is no whole number.
    """
    if text is None:
        return default
    if not _WHOLE.fullmatch(text.strip()):
        raise SettingsError(f"{option} {text}: write a whole number, such as {option} 4")
    return int(text)


def number(option: str, text: str) -> float:
    """Read a number.

    Raises:
        SettingsError: when the text is no number.
    """
    if not _NUMBER.fullmatch(text.strip()):
        raise SettingsError(f"{option} {text}: write a number, such as {option} 0.5")
    return float(text)


def fret_range(option: str, text: str | None) -> tuple[int, int | None]:
    """Read a range of frets such as 1-7 as (lowest, highest); for None return (1, None).

    Raises:
        SettingsError: when the text is no such range.
    """
    if text is None:
        return 1, None
    match = _RANGE.fullmatch(text)
    if not match:
        raise SettingsError(f"{option} {text}: write two frets, such as {option} 1-7")
    return int(match[1]), int(match[2])


def one_of(option: str, text: str, allowed: Iterable[str]) -> str:
    """Read one of some words; capital and small letters are equal.

    Raises:
        SettingsError: for another word.
    """
    if text.lower() not in allowed:
        raise SettingsError(f"{option} {text}: choose from {', '.join(allowed)}")
    return text.lower()


def is_none(text: str) -> bool:
    """Return whether a text is the word "none"."""
    return text.strip().lower() == NONE


def listed(option: str, text: str | None) -> tuple[str, ...]:
    """Return the values between the commas of a text; none for None.

    Raises:
        SettingsError: when a value is empty.
    """
    found = () if text is None else tuple(each.strip() for each in text.split(","))
    if not all(found):
        raise SettingsError(f"{option} {text}: write values with a comma between them")
    return found


def tempo(text: str | None) -> WrittenTempo | None:
    """Read a tempo, whose unit may depend on a chart that is not read yet.

    Raises:
        SettingsError: when the text is no tempo.
    """
    from backing.timing import WrittenTempo

    try:
        return None if text is None else WrittenTempo.parse(text)
    except SymbolError as error:
        raise SettingsError(str(error)) from None


def tempi(option: str, text: str | None) -> tuple[WrittenTempo, ...]:
    """Read tempi, such as 120,160 or half=80,half=100.

    Raises:
        SettingsError: when a text is no tempo, or there are too many.
    """
    found = tuple(map(tempo, listed(option, text)))
    if len(found) > MOST_TEMPI:
        raise SettingsError(f"{option}: {len(found)} tempi; at most {MOST_TEMPI} are allowed")
    return tuple(each for each in found if each)


def players(text: str) -> frozenset[Player]:
    """Read names of players, with commas between them.

    Raises:
        SettingsError: for a name that is not in the band.
    """
    return frozenset(_player(name.strip()) for name in text.split(",") if name.strip())


def _player(name: str) -> Player:
    from backing.notes import Player

    try:
        return Player(name.lower())
    except ValueError:
        raise SettingsError(
            f"'{name}' is not in the band: choose from {', '.join(Player)}"
        ) from None
