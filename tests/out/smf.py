"""A reader of Standard MIDI Files, written from the standard alone, to check our writer.

Source: Standard MIDI Files 1.0 (MIDI Manufacturers Association). It reads channel voice
messages and meta events and refuses everything else.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

TEXT, TRACK_NAME, MARKER = 0x01, 0x03, 0x06
END_OF_TRACK, TEMPO, TIME_SIGNATURE, KEY_SIGNATURE = 0x2F, 0x51, 0x58, 0x59

#: data bytes of each kind of channel message (MIDI 1.0)
_DATA_BYTES = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}


@dataclass(frozen=True, slots=True)
class Event:
    """An event: its tick from the start of the track, its status byte and its data.

    A meta event has status 0xFF, its type and the data after its length.
    """

    tick: int
    status: int
    data: bytes
    meta: int | None = None

    @property
    def kind(self) -> int:
        """The upper half of the status byte: 8 note off, 9 note on, B controller, C program."""
        return self.status >> 4

    @property
    def channel(self) -> int:
        """The channel, counted from 0."""
        return self.status & 0x0F

    @property
    def text(self) -> str:
        """The data as UTF-8."""
        return self.data.decode("utf-8")


@dataclass(frozen=True, slots=True)
class Sound:
    """A note from its note-on to its note-off."""

    tick: int
    pitch: int
    velocity: int
    length: int


@dataclass
class Track:
    """The events of an MTrk chunk in order."""

    events: list[Event] = field(default_factory=list)

    def metas(self, kind: int) -> list[Event]:
        """Return the meta events of one type."""
        return [each for each in self.events if each.meta == kind]

    def of_kind(self, kind: int) -> list[Event]:
        """Return the channel messages of one kind."""
        return [each for each in self.events if each.meta is None and each.kind == kind]

    @property
    def name(self) -> str:
        """The track's name, or "" without one."""
        names = self.metas(TRACK_NAME)
        return names[0].text if names else ""

    @property
    def end(self) -> int:
        """The tick at which the track ends."""
        return self.events[-1].tick

    def sounds(self) -> list[Sound]:
        """Return the notes in the order of their note-ons.

        Raises:
            ValueError: when a key is struck while it is down, released while it is up, or left
                down at the end.

        """
        down: dict[tuple[int, int], Event] = {}
        found: list[Sound] = []
        for event in self.of_kind(0x8) + self.of_kind(0x9):
            if event.kind == 0x9 and event.data[1] == 0:
                raise ValueError(f"a note-on of velocity 0 at {event.tick}: write a note-off")
        for event in self.events:
            if event.meta is not None or event.kind not in (0x8, 0x9):
                continue
            key = event.channel, event.data[0]
            if event.kind == 0x9:
                if key in down:
                    raise ValueError(f"key {key} struck at {event.tick} while it is down")
                down[key] = event
            else:
                if key not in down:
                    raise ValueError(f"key {key} released at {event.tick} while it is up")
                on = down.pop(key)
                found.append(Sound(on.tick, key[1], on.data[1], event.tick - on.tick))
        if down:
            raise ValueError(f"keys left down: {sorted(down)}")
        return sorted(found, key=lambda each: (each.tick, each.pitch))


@dataclass
class File:
    """A file: the three numbers of its header, and its tracks."""

    format: int
    division: int
    tracks: list[Track]

    def track(self, name: str) -> Track:
        """Return the track with this name, or an empty one."""
        return next((each for each in self.tracks if each.name == name), Track())


def read_smf(data: bytes) -> File:
    """Read a file.

    Raises:
        ValueError: when it breaks the standard.
    """
    # <Header Chunk> = <chunk type "MThd"><length 6><format><ntrks><division>, high byte first
    if data[:4] != b"MThd" or _number(data[4:8]) != 6:
        raise ValueError("no header chunk of six bytes")
    kind, count, division = (_number(data[at : at + 2]) for at in (8, 10, 12))
    if division & 0x8000:
        raise ValueError("the division is in frames, not in ticks a quarter note")
    tracks, at = [], 14
    while at < len(data):
        # <Track Chunk> = <chunk type "MTrk"><length><MTrk event>+
        if data[at : at + 4] != b"MTrk":
            raise ValueError(f"no track chunk at byte {at}")
        length = _number(data[at + 4 : at + 8])
        body = data[at + 8 : at + 8 + length]
        if len(body) != length:
            raise ValueError("a track is cut off")
        tracks.append(Track(list(_events(body))))
        at += 8 + length
    if len(tracks) != count:
        raise ValueError(f"{len(tracks)} tracks, the header says {count}")
    return File(kind, division, tracks)


def _events(body: bytes) -> Iterator[Event]:
    # <MTrk event> = <delta-time><event>; status bytes of channel messages may be left out when
    # they repeat (running status), meta events cancel it
    at, tick, running = 0, 0, 0
    while at < len(body):
        delta, at = variable_length(body, at)
        tick += delta
        status = body[at]
        if status == 0xFF:  # FF <type> <length> <bytes>
            meta = body[at + 1]
            length, at = variable_length(body, at + 2)
            event = Event(tick, status, body[at : at + length], meta)
            at += length
            running = 0
        else:
            if status & 0x80:
                running = status
                at += 1
            if running >> 4 not in _DATA_BYTES:
                raise ValueError(f"status {running:02X} does not belong here")
            size = _DATA_BYTES[running >> 4]
            event = Event(tick, running, body[at : at + size])
            at += size
        if event.meta is None and any(byte > 0x7F for byte in event.data):
            raise ValueError("a data byte above 7F")
        yield event
        if event.meta == END_OF_TRACK:
            break
    else:
        raise ValueError("a track without an end")
    if at != len(body):
        raise ValueError("bytes behind the end of a track")


def variable_length(data: bytes, at: int) -> tuple[int, int]:
    """Return a variable-length quantity and the position after it.

    Seven bits a byte, most significant first; bit 7 is set in all but the last; four bytes at most.
    """
    value = 0
    for place in range(at, at + 4):
        value = value << 7 | data[place] & 0x7F
        if not data[place] & 0x80:
            return value, place + 1
    raise ValueError("a variable-length quantity of more than four bytes")


def _number(data: bytes) -> int:
    return int.from_bytes(data, "big")
