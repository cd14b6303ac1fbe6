"""The narrow waist: what players return and what every sink takes."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable


class Player(StrEnum):
    """Who plays a note."""

    BASS = "bass"
    CHOP = "chop"
    DRUMS = "drums"
    LEAD = "lead"


RHYTHM = (Player.BASS, Player.CHOP, Player.DRUMS)
"""The rhythm section, which every chart has; the lead wants a melody."""


class Note(NamedTuple):
    """One note of one player; a named tuple, since there are tens of thousands of them.

    Attributes:
        tick: where it starts, in ticks from the start of the performance.
        player: who plays it.
        pitch: MIDI key, 0 to 127; for drums the General MIDI percussion key.
        velocity: 1 to 127.
        length: in ticks, at least 1.

    """

    tick: int
    player: Player
    pitch: int
    velocity: int
    length: int

    @property
    def end(self) -> int:
        """The tick at which the note ends."""
        return self.tick + self.length


def without_overlaps(notes: Iterable[Note]) -> list[Note]:
    """Return the notes in order of ticks, no key of a player struck while it sounds.

    A note that is still sounding when its key is struck again is shortened to end there; of two
    strokes of one key on one tick the louder stays.
    """
    kept: list[Note] = []
    sounding: dict[tuple[Player, int], int] = {}
    for note in sorted(notes):
        key = (note.player, note.pitch)
        at = sounding.get(key)
        if at is not None and kept[at].tick == note.tick:
            kept[at] = note  # of two on one tick the louder sorts last
            continue
        if at is not None and kept[at].end > note.tick:
            kept[at] = kept[at]._replace(length=note.tick - kept[at].tick)
        sounding[key] = len(kept)
        kept.append(note)
    return kept
