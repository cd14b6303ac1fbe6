"""The tracks of a MIDI file and its length, for those who write it and those who render it.

Source of the format: Standard MIDI Files 1.0.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from backing.notes import Player


@dataclass(frozen=True, slots=True)
class MidiLength:
    """The length of a MIDI file.

    Attributes:
        ticks: the end of its longest track.
        seconds: the same in seconds.
        ticks_per_second: at the tempo that holds at the end.
    """

    ticks: int
    seconds: float
    ticks_per_second: float


@dataclass(frozen=True, slots=True)
class MidiTracks:
    """A performance as tracks that are equally long.

    Attributes:
        conductor: the chunk of the first track: title, tempi, meters, keys, markers, chord names.
        players: the chunk of each player who has notes.
        length: how long they are.
    """

    conductor: bytes
    players: dict[Player, bytes]
    length: MidiLength

    def file(self) -> bytes:
        """Return a MIDI file of all players."""
        return midi_file(self.conductor, *self.players.values())

    def stem(self, player: Player) -> bytes:
        """Return a MIDI file of one player."""
        return midi_file(self.conductor, self.players[player])


def midi_file(*chunks: bytes, division: int = TICKS_PER_QUARTER) -> bytes:
    """Return a MIDI file of format 1.

    Args:
        chunks: its tracks.
        division: ticks per quarter note.
    """
    head = b"MThd\0\0\0\6\0\1" + len(chunks).to_bytes(2) + division.to_bytes(2)
    return head + b"".join(chunks)


def track_chunk(events: bytes) -> bytes:
    """Return the chunk of a track, the last event of which ends it."""
    return b"MTrk" + len(events).to_bytes(4) + events


def variable_length(value: int) -> bytes:
    """Return a number as a variable-length quantity: seven bits a byte, the highest first."""
    parts = [value & 0x7F]
    while value := value >> 7:
        parts.append(value & 0x7F | 0x80)
    return bytes(reversed(parts))
