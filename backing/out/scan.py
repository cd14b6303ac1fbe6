"""Looks through a Standard MIDI File before it is given to a renderer that trusts every byte.

Source of the format: Standard MIDI Files 1.0. Formats 0 and 1 with ticks a quarter note are taken;
format 2 and divisions in frames a second are not music of ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from operator import itemgetter

from backing.errors import BackingError
from backing.performance.tempo import TempoMap
from backing.timing import TICKS_PER_QUARTER

_HEADER_BYTES = 14
_FOUR_BYTES, _SEVEN_BITS = 4, 7
_DATA_BYTES = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
_META, _SYSEX, _SYSEX_ON, _TEMPO, _END = 0xFF, 0xF0, 0xF7, 0x51, 0x2F
_USUAL_TEMPO, _MINUTE = 500_000, 60_000_000
"""Microseconds a quarter note where a file has no tempo, and a minute."""


class MidiFileError(BackingError):
    """A MIDI file that is not well formed."""


@dataclass(frozen=True, slots=True)
class Scan:
    """What is in a MIDI file.

    Attributes:
        division: ticks a quarter note, 1 to 32767.
        ticks: length of the longest track.
        seconds: the same by its tempi.
        last_tempo: microseconds a quarter note at the end.
        notes: strokes that sound.
    """

    division: int
    ticks: int
    seconds: float
    last_tempo: int
    notes: int


def scan(data: bytes) -> Scan:
    """Return what is in a MIDI file, every byte of which has been looked at.

    Raises:
        MidiFileError: when it is not well formed, has no notes, or a tempo of 0.
    """
    if data[:8] != b"MThd\0\0\0\6" or len(data) < _HEADER_BYTES:
        raise _faulty("it does not begin with a header")
    kind, tracks, division = (int.from_bytes(data[at : at + 2]) for at in (8, 10, 12))
    if kind > 1 or not 0 < division < 0x8000:
        raise _faulty("format 0 or 1 with ticks a quarter note is wanted")
    found = _Found()
    place = _HEADER_BYTES
    for _ in range(tracks):
        size = int.from_bytes(data[place + 4 : place + 8])
        body = data[place + 8 : place + 8 + size]
        if data[place : place + 4] != b"MTrk" or len(body) != size:
            raise _faulty("a track is cut off")
        _Track(body, found).read()
        place += 8 + size
    if place != len(data):
        raise _faulty("something follows the last track")
    if not found.notes:
        raise _faulty("there are no notes in it")
    tempi = [(0, _USUAL_TEMPO), *sorted(found.tempi, key=itemgetter(0))]
    quarter = TICKS_PER_QUARTER / division
    tempo = TempoMap.of((tick * quarter, _MINUTE / tempo) for tick, tempo in tempi)
    seconds = tempo.seconds_at(found.ticks * quarter)
    return Scan(division, found.ticks, seconds, tempi[-1][1], found.notes)


class _Found:
    """What is gathered from all tracks."""

    def __init__(self) -> None:
        self.ticks = 0
        self.notes = 0
        self.tempi: list[tuple[int, int]] = []


class _Track:
    """Reads one track from its first byte to its last."""

    def __init__(self, body: bytes, found: _Found) -> None:
        self._body = body
        self._place = 0
        self._found = found

    def read(self) -> None:
        tick, status, ended = 0, 0, False
        while self._place < len(self._body) and not ended:
            tick += self._number()
            if self._body[self._place : self._place + 1] >= b"\x80":
                status = self._byte()
            ended = self._event(status, tick)
            if status >= _SYSEX:
                status = 0  # what is no music ends a running status
        if not ended or self._place != len(self._body):
            raise _faulty("a track does not end where it says")
        self._found.ticks = max(self._found.ticks, tick)

    def _event(self, status: int, tick: int) -> bool:
        """Read one event; return whether it ends the track."""
        if status == _META:
            kind, data = self._byte(), self._bytes(self._number())
            if kind == _TEMPO:
                self._found.tempi.append((tick, _tempo(data)))
            return kind == _END
        if status in (_SYSEX, _SYSEX_ON):
            self._bytes(self._number())
            return False
        if status >> 4 not in _DATA_BYTES:
            raise _faulty(f"the byte 0x{status:02X} is no event")
        data = self._bytes(_DATA_BYTES[status >> 4])
        if any(byte & 0x80 for byte in data):
            raise _faulty("a value has more than seven bits")
        self._found.notes += status >> 4 == 0x9 and data[1] > 0
        return False

    def _byte(self) -> int:
        return self._bytes(1)[0]

    def _bytes(self, count: int) -> bytes:
        end = self._place + count
        if end > len(self._body):
            raise _faulty("a track breaks off in the middle of an event")
        taken, self._place = self._body[self._place : end], end
        return taken

    def _number(self) -> int:
        value = 0
        for _ in range(_FOUR_BYTES):
            byte = self._byte()
            value = value << _SEVEN_BITS | byte & 0x7F
            if byte < 0x80:
                return value
        raise _faulty("a length has more than four bytes")


def _tempo(data: bytes) -> int:
    tempo = int.from_bytes(data)
    if len(data) != 3 or not tempo:
        raise _faulty("a tempo is 0 or no number")
    return tempo


def _faulty(what: str) -> MidiFileError:
    return MidiFileError(f"the MIDI file cannot be rendered: {what}")
