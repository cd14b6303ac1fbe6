"""Requests for shapes, and fretting: the instrument and the hand that they apply to.

Conventions: the voicings are common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.errors import SettingsError
from backing.fretboard.hand import AVERAGE_HAND, Hand
from backing.fretboard.instrument import find_instrument
from backing.fretboard.voices import VOICING_ADDS

if TYPE_CHECKING:
    from backing.fretboard.instrument import Instrument

EASY, FULL, SWING = "easy", "full", "swing"


@dataclass(frozen=True, slots=True)
class StringCounts:
    """The number of strings of a voicing.

    Attributes:
        least, most: least and most strings that sound.
        wanted: number of strings from which on none is missing.
    """

    least: int
    most: int
    wanted: int


VOICINGS = {
    EASY: StringCounts(2, 3, 3),
    FULL: StringCounts(3, 8, 4),  # four-string chops
    SWING: StringCounts(3, 4, 3),  # sixths and sevenths; shells on the guitar
}

FEWEST = 2
"""Least number of strings of a shape."""


@dataclass(frozen=True, slots=True)
class ShapeRequest:
    """A request for shapes.

    Attributes:
        voicing: one of `VOICINGS`.
        rootless: whether the root may be left to the bass.
        strings: how many strings sound, 2 to 8; or which ones, counted from the treble side as
            players do, such as (6, 4, 3); or None for the voicing's number.
        lowest, highest: range of frets for the fingers, from 1; None means the whole neck.
    """

    voicing: str = FULL
    rootless: bool = False
    strings: int | tuple[int, ...] | None = None
    lowest: int = 1
    highest: int | None = None

    def __post_init__(self) -> None:
        """Check the request.

        Raises:
            SettingsError: for an unknown voicing, too few strings, or frets out of order.
        """
        if self.voicing not in VOICINGS:
            raise SettingsError(
                f"'{self.voicing}' is not a voicing: choose from {', '.join(VOICINGS)}"
            )
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
        request: voicing, strings, position.
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
        voicing: one of `VOICINGS`.
        hand: the player's hand.
        rootless: whether the root may be left to the bass.
        strings: how many sound, or which, as in `ShapeRequest`.
        lowest, highest: range of frets for the fingers, from 1; None means the whole neck.
    """

    instrument: str | None = None
    capo: int = 0
    voicing: str | None = None
    hand: Hand = AVERAGE_HAND
    rootless: bool = False
    strings: int | tuple[int, ...] | None = None
    lowest: int = 1
    highest: int | None = None

    @property
    def fixes_shapes(self) -> bool:
        """Whether the player chooses the kind of shape, so that each chord has one."""
        return bool(self.voicing or self.strings or self.lowest > 1 or self.highest)

    def over(self, usual: Fretting | None = None) -> Fretting:
        """Return these settings applied over a style's fretting, or over the defaults.

        An instrument discards the style's strings and frets; a voicing discards its strings and
        adds its own degrees.

        Raises:
            SettingsError: for an invalid instrument, voicing, strings or frets.
        """
        voicing = self.voicing or (usual.request.voicing if usual else FULL)
        strings, highest = self.strings, self.highest
        if usual and not self.instrument:
            highest = highest or usual.request.highest
            strings = strings or (None if self.voicing else usual.request.strings)
        adds = usual.adds if usual else ()
        if usual and not self.instrument:
            instrument = usual.instrument
        else:
            instrument = find_instrument(self.instrument or USUAL_INSTRUMENT)
        return Fretting(
            instrument=instrument.with_capo(self.capo),
            hand=self.hand,
            request=ShapeRequest(voicing, self.rootless, strings, self.lowest, highest),
            adds=(*adds, *VOICING_ADDS.get(self.voicing or "", ())),
        )


AS_THE_STYLE = FrettingSettings()
"""The style's own fretting."""
