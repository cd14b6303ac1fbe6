"""The MIDI messages of a take: notes, programs, pan, volumes, and the clock for a follower.

Conventions of the clock (MIDI 1.0): 24 clocks a quarter note, also during the count-in, so that a
follower, such as a drum machine or a sequencer, knows the tempo before it starts. Start comes with
the first bar of the tune; after a pause or a stall come stop, song position in sixteenths and
continue. Song position counts the music played since the start, loops included.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backing.live.source import COUNT_IN
from backing.out.channels import CHANNELS, PAN, VOLUME, presets
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.control.settings import LiveSettings
    from backing.live.agenda import End, Event
    from backing.live.source import LiveBar
    from backing.notes import Player
    from backing.style.model import Preset, Style


CLOCK, START, CONTINUE, STOP, SONG_POSITION = 0xF8, 0xFA, 0xFB, 0xFC, 0xF2
CLOCK_TICKS = TICKS_PER_QUARTER // 24

_SONG_POSITION_TICKS = TICKS_PER_QUARTER // 4
_LAST_SONG_POSITION = 0x3FFF


class Follower:
    """Sends start, stop, position and clock.

    Args:
        send: receives each message.

    """

    def __init__(self, send: Callable[[bytes], None]) -> None:
        self._send = send
        self._running = False

    def tick(self, *, too_late: bool) -> None:
        """Send a clock; if it is too late, stop the follower, which would stay behind."""
        if too_late:
            self.stop()
        else:
            self._send(bytes((CLOCK,)))

    def follow(self, bar: LiveBar, *, too_late: bool) -> None:
        """Start or continue the follower at a bar of music; stop it for a count-in."""
        if bar.part == COUNT_IN:
            self.stop()
        elif not self._running and not too_late:
            sixteenths = min(bar.position.ticks // _SONG_POSITION_TICKS, _LAST_SONG_POSITION)
            if sixteenths:
                self._send(bytes((SONG_POSITION, sixteenths & 0x7F, sixteenths >> 7)))
            self._send(bytes((CONTINUE if sixteenths else START,)))
            self._running = True

    def stop(self) -> None:
        """Stop the follower if it is running."""
        if self._running:
            self._send(bytes((STOP,)))
            self._running = False


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
