"""Standard MIDI files, through mido.

Conventions: format 1, 960 ticks a quarter note. Track 0 holds title, tempo, meters, keys, markers
and chord names; then a track for each player, on channels 1, 2, 3 and 10 (counted from 1; mido
and the wire count from 0). Where an end and a beginning share a tick the end comes first. All
tracks end on the last bar line. Source of the format: Standard MIDI Files 1.0; text is written as
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
"""Where pitch, beginning and tick stand in a packed stroke; data bytes have seven bits."""

_HEADER_BYTES = 14
"""Length of the header chunk (Standard MIDI Files 1.0)."""

_MINUTE = 60_000_000
"""Microseconds."""

_Message: TypeAlias = "mido.Message | mido.MetaMessage"
Timed = tuple[int, _Message]


class Played(Protocol):
    """What can be written: a `Performance`, or several that follow each other.

    Attributes:
        chart: what is played.
        style: whose sounds are heard.
        bpm: its tempo, or the first of them, in quarter notes a minute.
    """

    chart: Chart
    style: Style
    bpm: float

    def bars(self) -> Iterator[PlayedBar]:
        """Yield every bar, in order."""


class _Stroke(mido.Message):  # type: ignore[misc]  # mido has no types
    """A message that is written many times: encoded once, only its time set anew each time.

    mido writes each message before it asks for the next, so that one can serve again and again; its
    values are checked when it is made, its times are whole numbers that grow.
    """

    is_realtime = False
    __setattr__ = object.__setattr__

    def __init__(self, kind: str, **values: int) -> None:
        super().__init__(kind, **values)
        self._encoded: list[int] = super().bytes()

    def bytes(self) -> list[int]:
        """Return its bytes as they were when it was made; the time is not among them."""
        return self._encoded


def midi_bytes(performance: Played) -> bytes:
    """Return a performance as a Standard MIDI File."""
    return midi_tracks(performance).file()


def midi_tracks(performance: Played, progress: Callable[[], object] = lambda: None) -> MidiTracks:
    """Return a performance as MIDI tracks.

    Args:
        performance: what is played.
        progress: called after each bar.
    """
    with _without_collector():
        return _midi_tracks(performance, progress)


@contextlib.contextmanager
def _without_collector() -> Iterator[None]:
    """Pause the garbage collector: tens of thousands of messages hold no cycles.

    Looking through them again and again cost a tenth of the whole (tests/benchmarks/measure.py).
    """
    pauses = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if pauses:
            gc.enable()


def _midi_tracks(performance: Played, progress: Callable[[], object]) -> MidiTracks:
    conductor: list[Timed] = [(0, mido.MetaMessage("track_name", name=performance.chart.title))]
    notes: list[Note] = []
    before: PlayedBar | None = None
    said: str | None = None
    for bar in performance.bars():
        conductor += _signposts(bar, before)
        for tick, chord in bar.chords:
            name = chord_text(chord)
            if name != said:
                conductor.append((tick, mido.MetaMessage("text", text=name)))
                said = name
        notes += bar.notes
        before = bar
        progress()
    end = before.end if before else 0
    players = _player_tracks(without_overlaps(notes), performance.style, end)
    return MidiTracks(
        _chunk(_track(conductor, end)),
        {player: _chunk(track) for player, track in players},
        _length(conductor, end),
    )


def _length(conductor: list[Timed], end: int) -> MidiLength:
    """Return the length by the tempi as the file has them: whole microseconds a quarter note."""
    tempi = [(tick, each.tempo) for tick, each in conductor if each.type == "set_tempo"]
    tempo = TempoMap.of((tick, _MINUTE / micros) for tick, micros in tempi)
    return MidiLength(end, tempo.seconds_at(end), 1e6 / tempi[-1][1] * TICKS_PER_QUARTER)


def _chunk(track: Iterable[_Message]) -> bytes:
    """Return the chunk of a track, saved by itself so that its messages need not be kept."""
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8", tracks=[track])
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()[_HEADER_BYTES:]


def _signposts(bar: PlayedBar, before: PlayedBar | None) -> list[Timed]:
    """Return tempo, meter, key and marker of a bar, as far as they are new."""
    found: list[mido.MetaMessage] = []
    if before is None or _last_bpm(before) != bar.bpm:
        found.append(_tempo(bar.bpm))
    if before is None or before.meter != bar.meter:
        found.append(
            mido.MetaMessage(
                "time_signature",
                numerator=bar.meter.count,
                denominator=bar.meter.unit,
                clocks_per_click=bar.meter.beat_ticks * 24 // TICKS_PER_QUARTER,
            )
        )
    if before is None or before.key != bar.key:
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
    """Return the major or minor key that stands for a key's signature: D for A mixolydian.

    A MIDI key signature holds sharps or flats and whether it is minor; of the modes those with a
    minor third are written as minor.
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
    """Yield note-ons and note-offs in order, ends before beginnings on one tick.

    One message serves for all strokes of one key and velocity: see `_Stroke`. What is to be sorted
    is packed into one number: tick, whether it begins, pitch, velocity.
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
    known: dict[int, _Stroke] = {}
    last = 0
    for edge in edges:
        tick, stroke = edge >> _TICK, edge & _STROKE
        message = known.get(stroke)
        if message is None:
            message = known[stroke] = _Stroke(
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
    """Return the messages of events, put in the order of their ticks; perhaps with an end."""
    messages = []
    last = 0
    for tick, message in sorted(events, key=itemgetter(0)):
        message.time = tick - last
        last = tick
        messages.append(message)
    if end is not None:
        messages.append(mido.MetaMessage("end_of_track", time=end - last))
    return messages
