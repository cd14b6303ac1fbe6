"""Who frets chords on what: everything that decides which shapes there are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.fretboard.hand import AVERAGE_HAND, Hand
from backing.fretboard.instrument import find_instrument
from backing.fretboard.request import FULL, ShapeRequest
from backing.fretboard.voices import LEVEL_ADDS

if TYPE_CHECKING:
    from backing.fretboard.instrument import Instrument

USUAL_INSTRUMENT = "mandolin"


@dataclass(frozen=True, slots=True)
class Fretting:
    """An instrument, a hand on it, and the shapes that are wanted.

    Attributes:
        instrument: what it is played on.
        hand: whose hand plays.
        wish: level, strings, position.
        adds: what plain chords get, as in `as_played`.
    """

    instrument: Instrument
    hand: Hand
    wish: ShapeRequest
    adds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FrettingSettings:
    """What a player asks of shapes; None leaves it to the style.

    Attributes:
        instrument: a name of `find_instrument`, or a file.
        capo: the fret it lies on, 0 without.
        level: one of `shapes.LEVELS`.
        hand: whose hand plays.
        rootless: whether the root may be left to the bass.
        strings: how many sound, or which, as in `ShapeRequest`.
        lowest, highest: the frets between which fingers press, 1 or more; None is the whole neck.
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
        """Return what holds where a style has its own, or nothing is said of one.

        An instrument that is asked for leaves the style's strings and frets behind; a level leaves
        its strings behind and brings its own sixths.

        Raises:
            SettingsError: for an instrument, a level, strings or frets that cannot be.
        """
        level = self.level or (usual.wish.level if usual else FULL)
        strings, highest = self.strings, self.highest
        if usual and not self.instrument:
            highest = highest or usual.wish.highest
            strings = strings or (None if self.level else usual.wish.strings)
        adds = usual.adds if usual else ()
        if usual and not self.instrument:
            instrument = usual.instrument
        else:
            instrument = find_instrument(self.instrument or USUAL_INSTRUMENT)
        return Fretting(
            instrument=instrument.with_capo(self.capo),
            hand=self.hand,
            wish=ShapeRequest(level, self.rootless, strings, self.lowest, highest),
            adds=(*adds, *LEVEL_ADDS.get(self.level or "", ())),
        )


AS_THE_STYLE = FrettingSettings()
"""Nothing is asked for."""
