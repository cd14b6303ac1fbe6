"""The MIDI messages of a take: notes, programs, pan and volumes."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backing.out.channels import CHANNELS, PAN, VOLUME, presets

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.control.settings import LiveSettings
    from backing.live.agenda import End, Event
    from backing.notes import Player
    from backing.style.model import Preset, Style

_ALL_NOTES_OFF = 123


@dataclass(slots=True)
class Lateness:
    """How late notes were sent, in seconds.

    Attributes:
        last: the last 512 notes.
        worst: the maximum of all notes.
        left_out: notes not sent because they were too late.

    """

    last: deque[float] = field(default_factory=lambda: deque(maxlen=512))
    worst: float = 0.0
    left_out: int = 0

    def note(self, seconds: float) -> None:
        """Add a note."""
        self.last.append(seconds)
        self.worst = max(self.worst, seconds)


class MidiOutput:
    """Sends the messages of a band, and knows which keys are down; the owner holds a lock.

    Args:
        send: receives each message.

    """

    def __init__(self, send: Callable[[bytes], None]) -> None:
        self._send = send
        self._down: dict[tuple[int, int], int] = {}
        self._sounds: dict[Player, Preset] = {}
        self._style: Style | None = None
        self._band: tuple[Player, ...] = ()

    def note_on(self, event: Event) -> None:
        """Begin a note; first release its key if it is down."""
        key = (event.channel, event.pitch)
        if key in self._down:
            self._release(*key)
        self._down[key] = event.order
        self._send(bytes((0x90 | event.channel, event.pitch, event.velocity)))

    def note_off(self, end: End) -> None:
        """End a note, unless another note has its key."""
        if self._down.get((end.channel, end.pitch)) == end.note_order:
            self._release(end.channel, end.pitch)

    def release_all(self) -> None:
        """Release every key."""
        for channel, pitch in list(self._down):
            self._release(channel, pitch)

    def _release(self, channel: int, pitch: int) -> None:
        del self._down[channel, pitch]
        self._send(bytes((0x80 | channel, pitch, 0)))

    def all_notes_off(self) -> None:
        """Send All Notes Off on each channel."""
        for channel in CHANNELS.values():
            self._send(bytes((0xB0 | channel, _ALL_NOTES_OFF, 0)))

    def set_up(self, style: Style, settings: LiveSettings) -> None:
        """Send programs, pan and volumes of a style unless they are set already."""
        if (style, settings.band) != (self._style, self._band):
            self._style, self._band = style, settings.band
            self._sounds = {player: presets(style)[player] for player in self._band}
            for player, sound in self._sounds.items():
                channel = CHANNELS[player]
                self._send(bytes((0xC0 | channel, sound.program - 1)))
                self._send(bytes((0xB0 | channel, PAN, sound.pan)))
            self.send_volumes(settings)

    def resend_setup(self, settings: LiveSettings) -> None:
        """Send programs, pan and volumes again, if a style is set."""
        style, self._style = self._style, None
        if style:
            self.set_up(style, settings)

    def send_volumes(self, settings: LiveSettings) -> None:
        """Send the volume of each player."""
        for player, sound in self._sounds.items():
            volume = min(round(sound.volume * settings.volume(player)), 127)
            self._send(bytes((0xB0 | CHANNELS[player], VOLUME, volume)))
