"""Write performances as Standard MIDI Files, through mido.

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
from itertools import chain
from operator import itemgetter
from typing import TYPE_CHECKING, Protocol, TypeAlias

import mido

from backing.harmony.chord import chord_text
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName
from backing.notes import Note, Player, without_overlaps
from backing.out.channels import CHANNELS, PAN, VOLUME, presets
from backing.out.tracks import MidiLength, MidiTracks
from backing.performance.tempo import TempoMap
from backing.timing import TICKS_PER_QUARTER, microseconds_a_quarter

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from backing.chart.model import Chart
    from backing.performance.performance import PlayedBar
    from backing.style.model import Preset, Style

_MINOR_ABOVE_MAJOR = 3
_PITCH, _TICK, _ON = 7, 15, 1 << 14
_DATA, _STROKE = (1 << _PITCH) - 1, (1 << _TICK) - 1
"""Bit positions of pitch and tick and the bit of a note-on in a packed stroke."""

_HEADER_BYTES = 14
"""Length of the header chunk (Standard MIDI Files 1.0)."""

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


class _EncodedMessage(mido.Message):  # type: ignore[misc]  # mido has no types
    """A message that is encoded once and written many times, with a new time each.

    mido writes each message before it asks for the next one, so that the same object can be reused.
    Setting an attribute skips mido's checks: only `time` is set, to a whole number.
    """

    is_realtime = False
    __setattr__ = object.__setattr__

    def __init__(self, kind: str, **values: int) -> None:
        super().__init__(kind, **values)
        self._encoded: list[int] = super().bytes()

    def bytes(self) -> list[int]:
        """Return the encoded bytes, without the time."""
        return self._encoded


def midi_bytes(performance: Played) -> bytes:
    """Return a performance as a Standard MIDI File."""
    return midi_tracks(performance).file()


@contextlib.contextmanager
def _no_garbage_collection() -> Iterator[None]:
    """Pause the garbage collector: messages hold no cycles.

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
    players = _player_tracks(without_overlaps(notes), performance.style, end)
    return MidiTracks(
        _chunk(_track(conductor, end)),
        {player: _chunk(track) for player, track in players},
        _length(conductor, end),
    )


def _length(conductor: list[Timed], end: int) -> MidiLength:
    """Return the length at the tempi of the file, in whole microseconds a quarter note."""
    tempi = [(tick, each.tempo) for tick, each in conductor if each.type == "set_tempo"]
    tempo = TempoMap.of((tick, _MINUTE / micros) for tick, micros in tempi)
    return MidiLength(end, tempo.seconds_at(end), 1e6 / tempi[-1][1] * TICKS_PER_QUARTER)


def _chunk(track: Iterable[_Message]) -> bytes:
    """Return the chunk of a track, saved by itself so that its messages need not be kept."""
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8", tracks=[track])
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()[_HEADER_BYTES:]


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


def _player_tracks(
    notes: list[Note], style: Style, end: int
) -> Iterator[tuple[Player, Iterable[_Message]]]:
    """Yield each player who has notes with the messages of the track, made one by one."""
    sound = presets(style)
    for player, channel in CHANNELS.items():
        own = [note for note in notes if note.player is player]
        if own:
            setup = _track(_setup(player, channel, sound[player]))
            yield player, chain(setup, _strokes(own, channel, end))


def _setup(player: Player, channel: int, sound: Preset) -> list[Timed]:
    return [
        (0, mido.MetaMessage("track_name", name=player.capitalize())),
        (0, mido.Message("program_change", channel=channel, program=sound.program - 1)),
        (0, mido.Message("control_change", channel=channel, control=VOLUME, value=sound.volume)),
        (0, mido.Message("control_change", channel=channel, control=PAN, value=sound.pan)),
    ]


def _strokes(notes: list[Note], channel: int, end: int) -> Iterator[_Message]:
    """Yield note-ons and note-offs in order, note-offs first at the same tick.

    Each is sorted as one packed number: tick, whether it is a note-on, pitch, velocity. All strokes
    of a key and velocity share one `_EncodedMessage`.
    """
    edges = [
        edge
        for tick, _, pitch, velocity, length in notes
        for edge in (
            (tick << _TICK) + _ON + (pitch << _PITCH) + velocity,
            (min(tick + length, end) << _TICK) + (pitch << _PITCH),
        )
    ]
    edges.sort()
    known: dict[int, _EncodedMessage] = {}
    last = 0
    for edge in edges:
        tick, stroke = edge >> _TICK, edge & _STROKE
        message = known.get(stroke)
        if message is None:
            message = known[stroke] = _EncodedMessage(
                "note_on" if stroke & _ON else "note_off",
                channel=channel,
                note=stroke >> _PITCH & _DATA,
                velocity=stroke & _DATA,
            )
        message.time = tick - last
        last = tick
        yield message
    yield mido.MetaMessage("end_of_track", time=end - last)


def _track(events: list[Timed], end: int | None = None) -> list[_Message]:
    """Return events as messages in order, with delta times; `end` adds the end of the track."""
    messages = []
    last = 0
    for tick, message in sorted(events, key=itemgetter(0)):
        message.time = tick - last
        last = tick
        messages.append(message)
    if end is not None:
        messages.append(mido.MetaMessage("end_of_track", time=end - last))
    return messages
