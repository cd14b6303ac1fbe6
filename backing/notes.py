"""Notes: what players return and every output takes."""

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
"""The rhythm section, which plays every chart; the lead needs a melody."""


class Note(NamedTuple):
    """One note of one player; a named tuple, because there are tens of thousands.

    Attributes:
        tick: its start, in ticks from the start of the performance.
        player: its player.
        pitch: MIDI key, 0 to 127; for drums the General MIDI percussion key.
        velocity: 1 to 127.
        length: its length in ticks, at least 1.

    """

    tick: int
    player: Player
    pitch: int
    velocity: int
    length: int

    @property
    def end(self) -> int:
        """Its end in ticks."""
        return self.tick + self.length


def without_overlaps(notes: Iterable[Note]) -> list[Note]:
    """Return the notes in order of ticks, without overlaps of one key of a player.

    A note that sounds when its key is struck again ends there; of two notes of one key on one tick
    the louder stays.
    """
    kept: list[Note] = []
    sounding: dict[tuple[Player, int], int] = {}
    for note in sorted(notes):
        tick, player, pitch, _, _ = note
        key = player, pitch
        at = sounding.get(key)
        if at is not None:
            before = kept[at]
            if before.tick == tick:
                kept[at] = note  # the louder sorts last
                continue
            if before.tick + before.length > tick:
                kept[at] = before._replace(length=tick - before.tick)
        sounding[key] = len(kept)
        kept.append(note)
    return kept
