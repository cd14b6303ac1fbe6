"""Write performances as Standard MIDI Files: events through mido, strokes as bytes.

Conventions: format 1, 960 ticks a quarter note. Track 0 holds title, tempo, meters, keys, markers
and chord names; then a track for each player, on channels 1, 2, 3 and 10 (counted from 1; mido
counts from 0). A note-off comes before a note-on at the same tick. All tracks end on the last bar
line. Source of the format: Standard MIDI Files 1.0; text is written as
UTF-8, which the standard leaves open.
"""

from __future__ import annotations

import contextlib
import gc
import io
from functools import lru_cache
from operator import itemgetter
from typing import TYPE_CHECKING, Protocol, TypeAlias

import mido

from backing.harmony.chord import chord_text
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName
from backing.notes import Note, Player, without_overlaps
from backing.out.channels import CHANNELS, PAN, VOLUME, presets
from backing.out.tracks import MidiLength, MidiTracks, track_chunk, variable_length
from backing.performance.tempo import TempoMap
from backing.timing import TICKS_PER_QUARTER, microseconds_a_quarter

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.chart.model import Chart
    from backing.performance.performance import PlayedBar
    from backing.style.model import Preset, Style

_MINOR_ABOVE_MAJOR = 3
_PITCH, _TICK, _ON = 7, 15, 1 << 14
_DATA, _STROKE = (1 << _PITCH) - 1, (1 << _TICK) - 1
"""Bit positions of pitch and tick and the bit of a note-on in a packed stroke."""

_HEADER_BYTES, _AT_ONCE, _END = 14 + 8, b"\0", b"\xff\x2f\0"
"""Length of the header chunk and the head of the first track, no time, the end of a track, and the
status bytes of channel 1 (Standard MIDI Files 1.0)."""

_NOTE_OFF, _NOTE_ON = 0x80, 0x90

_MINUTE = 60_000_000
"""Microseconds."""

_Message: TypeAlias = "mido.Message | mido.MetaMessage"
Timed = tuple[int, _Message]


class Played(Protocol):
    """What can be written: a `Performance` or a `LadderPerformance`.

    Attributes:
        chart: the chart.
        style: the style whose presets are used.
        bpm: the first tempo, in quarter notes a minute.
    """

    chart: Chart
    style: Style
    bpm: float

    def bars(self) -> Iterator[PlayedBar]:
        """Yield every bar, in order."""


def midi_bytes(performance: Played) -> bytes:
    """Return a performance as a Standard MIDI File."""
    return midi_tracks(performance).file()


@contextlib.contextmanager
def _no_garbage_collection() -> Iterator[None]:
    """Pause the garbage collector: notes hold no cycles.

    Scanning them took a tenth of the time (tests/benchmarks/measure.py).
    """
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_enabled:
            gc.enable()


@_no_garbage_collection()
def midi_tracks(performance: Played, progress: Callable[[], object] = lambda: None) -> MidiTracks:
    """Return a performance as MIDI tracks.

    Args:
        performance: the performance.
        progress: called after each bar.
    """
    conductor: list[Timed] = [(0, mido.MetaMessage("track_name", name=performance.chart.title))]
    notes: list[Note] = []
    previous: PlayedBar | None = None
    last_name: str | None = None
    for bar in performance.bars():
        conductor += _bar_events(bar, previous)
        for tick, chord in bar.chords:
            name = chord_text(chord)
            if name != last_name:
                conductor.append((tick, mido.MetaMessage("text", text=name)))
                last_name = name
        notes += bar.notes
        previous = bar
        progress()
    end = previous.end if previous else 0
    rest = end - max(tick for tick, _ in conductor)
    return MidiTracks(
        track_chunk(_events(_track(conductor)) + variable_length(rest) + _END),
        dict(_player_chunks(without_overlaps(notes), performance.style, end)),
        _length(conductor, end),
    )


def _length(conductor: list[Timed], end: int) -> MidiLength:
    """Return the length at the tempi of the file, in whole microseconds a quarter note."""
    tempi = [(tick, each.tempo) for tick, each in conductor if each.type == "set_tempo"]
    tempo = TempoMap.of((tick, _MINUTE / micros) for tick, micros in tempi)
    return MidiLength(end, tempo.seconds_at(end), 1e6 / tempi[-1][1] * TICKS_PER_QUARTER)


def _events(track: list[_Message]) -> bytes:
    """Return the bytes of a track without its end, for which mido saves it by itself."""
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8", tracks=[track])
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()[_HEADER_BYTES : -len(_AT_ONCE + _END)]


def _bar_events(bar: PlayedBar, previous: PlayedBar | None) -> list[Timed]:
    """Return the tempo, meter and key of a bar where they change, its marker and its ritard."""
    found: list[mido.MetaMessage] = []
    if previous is None or _last_bpm(previous) != bar.bpm:
        found.append(_tempo(bar.bpm))
    if previous is None or previous.meter != bar.meter:
        found.append(
            mido.MetaMessage(
                "time_signature",
                numerator=bar.meter.count,
                denominator=bar.meter.unit,
                clocks_per_click=bar.meter.beat_ticks * 24 // TICKS_PER_QUARTER,
            )
        )
    if previous is None or previous.key != bar.key:
        found.append(mido.MetaMessage("key_signature", key=key_signature(bar.key)))
    if bar.marker:
        found.append(mido.MetaMessage("marker", text=bar.marker))
    slower = [(bar.start + tick, _tempo(bpm)) for tick, bpm in bar.slower]
    return [*((bar.start, message) for message in found), *slower]


def _last_bpm(bar: PlayedBar) -> float:
    return bar.slower[-1][1] if bar.slower else bar.bpm


def _tempo(bpm: float) -> mido.MetaMessage:
    return mido.MetaMessage("set_tempo", tempo=microseconds_a_quarter(bpm))


def key_signature(key: Key) -> str:
    """Return the major or minor key with the signature of a key: D for A mixolydian.

    A MIDI key signature has no modes; those with a minor third are written as minor.
    """
    signature = key.plain().signature
    if key.is_minor:
        return str(Key(NoteName(signature + _MINOR_ABOVE_MAJOR), "minor"))
    return str(Key(NoteName(signature)))


def _player_chunks(notes: list[Note], style: Style, end: int) -> Iterator[tuple[Player, bytes]]:
    """Yield each player who has notes with the chunk of the track."""
    sound = presets(style)
    for player, channel in CHANNELS.items():
        own = [note for note in notes if note.player is player]
        if own:
            setup = _events(_setup(player, channel, sound[player]))
            yield player, track_chunk(setup + _strokes(own, channel, end))


def _setup(player: Player, channel: int, sound: Preset) -> list[_Message]:
    return [
        mido.MetaMessage("track_name", name=player.capitalize()),
        mido.Message("program_change", channel=channel, program=sound.program - 1),
        mido.Message("control_change", channel=channel, control=VOLUME, value=sound.volume),
        mido.Message("control_change", channel=channel, control=PAN, value=sound.pan),
    ]


def _strokes(notes: list[Note], channel: int, end: int) -> bytes:
    """Return note-ons, note-offs, which come first at the same tick, and the end of the track.

    Each is sorted as one packed number: tick, whether it is a note-on, pitch, velocity. A status
    byte like the one before is left out (running status).
    """
    edges = [
        (tick << _TICK) + _ON + (pitch << _PITCH) + velocity
        for tick, _, pitch, velocity, _ in notes
    ]
    edges += [
        ((tick + length if tick + length < end else end) << _TICK) + (pitch << _PITCH)
        for tick, _, pitch, _, length in notes
    ]
    edges.sort()
    found: list[bytes] = []
    last, before = 0, -1
    for edge in edges:
        tick, stroke, is_on = edge >> _TICK, edge & _STROKE, edge & _ON
        found.append(_delta(tick - last))
        message = _message(stroke, channel)
        found.append(message[1:] if is_on == before else message)
        last, before = tick, is_on
    return b"".join((*found, variable_length(end - last), _END))


_delta = lru_cache(2048)(variable_length)


@lru_cache(2048)
def _message(stroke: int, channel: int) -> bytes:
    """Return a packed note-on or note-off as the three bytes of its message."""
    status = _NOTE_ON if stroke & _ON else _NOTE_OFF
    return bytes((status | channel, stroke >> _PITCH & _DATA, stroke & _DATA))


def _track(events: list[Timed]) -> list[_Message]:
    """Return events as messages in order, with delta times."""
    messages = []
    last = 0
    for tick, message in sorted(events, key=itemgetter(0)):
        message.time = tick - last
        last = tick
        messages.append(message)
    return messages
