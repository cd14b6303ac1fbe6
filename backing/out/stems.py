"""One player's part of a MIDI file of ours: the first track, and that player's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.out.channels import CHANNELS

if TYPE_CHECKING:
    from backing.notes import Player

_HEADER_BYTES, _NAME_BYTES = 14, 8
_PROGRAM = 0xC0
"""What a player's track sets first (MIDI 1.0), after its name."""


def stems_of(midi: bytes) -> dict[Player, bytes]:
    """Return the file of each player who has a track, as long as the whole.

    Args:
        midi: a file that `midifile.midi_bytes` made.
    """
    conductor, *tracks = _tracks(midi)
    head = midi[:10] + (2).to_bytes(2) + midi[12:_HEADER_BYTES]
    players = {channel: player for player, channel in CHANNELS.items()}
    return {players[_channel(track)]: head + conductor + track for track in tracks}


def _tracks(midi: bytes) -> list[bytes]:
    found, place = [], _HEADER_BYTES
    while place < len(midi):
        size = int.from_bytes(midi[place + 4 : place + _NAME_BYTES])
        found.append(midi[place : place + _NAME_BYTES + size])
        place += _NAME_BYTES + size
    return found


def _channel(track: bytes) -> int:
    """Return the channel of a track, which the event behind its name has."""
    behind_name = _NAME_BYTES + 4 + track[_NAME_BYTES + 3]
    status = track[behind_name + 1]
    if status & 0xF0 != _PROGRAM:
        raise ValueError("a track of ours sets its program behind its name")
    return status & 0x0F
