"""Fretting: the instrument, the hand and the request that decide which shapes there are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.fretboard.hand import AVERAGE_HAND, Hand
from backing.fretboard.instrument import find_instrument
from backing.fretboard.request import FULL, ShapeRequest
from backing.fretboard.voices import VOICING_ADDS

if TYPE_CHECKING:
    from backing.fretboard.instrument import Instrument

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
