"""The MIDI channel and the preset of each player, for files and ports."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.notes import Player
from backing.style.model import Preset

if TYPE_CHECKING:
    from backing.style.model import Style

CHANNELS = {Player.BASS: 0, Player.CHOP: 1, Player.LEAD: 2, Player.DRUMS: 9}
"""The channel of each player, counted from 0; 9 is General MIDI percussion."""

LEAD_PRESET = Preset(program=41, volume=84, pan=44)
"""The lead is a violin (General MIDI 1: 41) in every style, panned away from the chop."""

VOLUME, PAN = 7, 10
"""Control changes (MIDI 1.0)."""


def presets(style: Style) -> dict[Player, Preset]:
    """Return the preset of each player."""
    return {
        Player.BASS: style.bass.sound,
        Player.CHOP: style.chop.sound,
        Player.DRUMS: style.drums.sound,
        Player.LEAD: LEAD_PRESET,
    }
