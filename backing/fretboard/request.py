"""Requests for shapes, and fretting: the instrument and the hand that they apply to.

Conventions: levels are common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.errors import SettingsError
from backing.fretboard.hand import AVERAGE_HAND, Hand
from backing.fretboard.instrument import find_instrument
from backing.fretboard.voices import LEVEL_ADDS

if TYPE_CHECKING:
    from backing.fretboard.instrument import Instrument

EASY, FULL, SWING = "easy", "full", "swing"


@dataclass(frozen=True, slots=True)
class Level:
    """The number of strings of a level.

    Attributes:
        about: one line about it.
        least, most: least and most strings that sound.
        wanted: number of strings from which on none is missing.
    """

    about: str
    least: int
    most: int
    wanted: int


LEVELS = {
    EASY: Level("two or three strings", 2, 3, 3),
    FULL: Level("four-string chops", 3, 8, 4),
    SWING: Level("sixths and sevenths; shells on the guitar", 3, 4, 3),
}

FEWEST = 2
"""Least number of strings of a shape."""


@dataclass(frozen=True, slots=True)
class ShapeRequest:
    """A request for shapes.

    Attributes:
        level: one of `LEVELS`.
        rootless: whether the root may be left to the bass.
        strings: how many strings sound, 2 to 8; or which ones, counted from the treble side as
            players do, such as (6, 4, 3); or None for the level's number.
        lowest, highest: range of frets for the fingers, from 1; None means the whole neck.
    """

    level: str = FULL
    rootless: bool = False
    strings: int | tuple[int, ...] | None = None
    lowest: int = 1
    highest: int | None = None

    def __post_init__(self) -> None:
        """Check the request.

        Raises:
            SettingsError: for an unknown level, too few strings, or frets out of order.
        """
        if self.level not in LEVELS:
            raise SettingsError(f"'{self.level}' is not a voicing: choose from {', '.join(LEVELS)}")
        if self.count is not None and self.count < FEWEST:
            raise SettingsError(f"{self.count} strings: a shape has at least {FEWEST}")
        if self.lowest < 1 or (self.highest is not None and self.highest < self.lowest):
            raise SettingsError(
                f"frets {self.lowest} to {self.highest}: write the lower one first, 1 or more"
            )

    @property
    def count(self) -> int | None:
        """The requested number of strings, or None."""
        return len(self.strings) if isinstance(self.strings, tuple) else self.strings


def read_strings(text: str) -> int | tuple[int, ...]:
    """Read how many strings sound, `3`, or which, counted from the treble side, `6-4-3`.

    Raises:
        SettingsError: if it is neither.
    """
    if re.fullmatch("[0-9]{1,2}", text, re.ASCII):
        return int(text)
    if re.fullmatch("[1-9](-[1-9])+", text, re.ASCII):
        found = tuple(map(int, text.split("-")))
        if len(set(found)) == len(found):
            return tuple(sorted(found, reverse=True))
    raise SettingsError(
        f"strings {text}: write how many sound, such as 3, or which, the treble string being 1, "
        "such as 6-4-3"
    )


USUAL_INSTRUMENT = "mandolin"


@dataclass(frozen=True, slots=True)
class Fretting:
    """An instrument, a hand and a request.

    Attributes:
        instrument: the instrument.
        hand: the player's hand.
        request: level, strings, position.
        adds: degrees added to plain chords, as in `as_played`.
    """

    instrument: Instrument
    hand: Hand
    request: ShapeRequest
    adds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FrettingSettings:
    """A player's settings of shapes; None means the style's.

    Attributes:
        instrument: a name or path, as in `find_instrument`.
        capo: the capo's fret, 0 without one.
        level: one of `LEVELS`.
        hand: the player's hand.
        rootless: whether the root may be left to the bass.
        strings: how many sound, or which, as in `ShapeRequest`.
        lowest, highest: range of frets for the fingers, from 1; None means the whole neck.
    """

    instrument: str | None = None
    capo: int = 0
    level: str | None = None
    hand: Hand = AVERAGE_HAND
    rootless: bool = False
    strings: int | tuple[int, ...] | None = None
    lowest: int = 1
    highest: int | None = None

    def over(self, usual: Fretting | None = None) -> Fretting:
        """Return these settings applied over a style's fretting, or over the defaults.

        An instrument discards the style's strings and frets; a level discards its strings and adds
        the level's own degrees.

        Raises:
            SettingsError: for an invalid instrument, level, strings or frets.
        """
        level = self.level or (usual.request.level if usual else FULL)
        strings, highest = self.strings, self.highest
        if usual and not self.instrument:
            highest = highest or usual.request.highest
            strings = strings or (None if self.level else usual.request.strings)
        adds = usual.adds if usual else ()
        if usual and not self.instrument:
            instrument = usual.instrument
        else:
            instrument = find_instrument(self.instrument or USUAL_INSTRUMENT)
        return Fretting(
            instrument=instrument.with_capo(self.capo),
            hand=self.hand,
            request=ShapeRequest(level, self.rootless, strings, self.lowest, highest),
            adds=(*adds, *LEVEL_ADDS.get(self.level or "", ())),
        )


AS_THE_STYLE = FrettingSettings()
"""The style's own fretting."""
