"""The tempo map, against mido and pretty_midi."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import mido
import pretty_midi
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.performance.tempo import TempoMap
from backing.timing import TICKS_PER_QUARTER, microseconds_a_quarter

if TYPE_CHECKING:
    from pathlib import Path


@st.composite
def tempo_maps(draw: st.DrawFn) -> TempoMap:
    """Return a tempo map of up to eight changes, each a whole number of microseconds a quarter."""
    gaps = draw(st.lists(st.integers(1, 20 * TICKS_PER_QUARTER), max_size=7))
    ticks = [sum(gaps[:count]) for count in range(len(gaps) + 1)]
    tempi = st.integers(120_000, 3_000_000).map(lambda tempo: 60_000_000 / tempo)
    return TempoMap.of((tick, draw(tempi)) for tick in ticks)


def midi_file(tempo_map: TempoMap) -> mido.MidiFile:
    """Return a MIDI file with the tempo events of a map and a note long after the last."""
    track = mido.MidiTrack()
    last = 0
    for change in tempo_map.changes:
        tempo = microseconds_a_quarter(change.bpm)
        track.append(mido.MetaMessage("set_tempo", tempo=tempo, time=change.tick - last))
        last = change.tick
    track.append(mido.Message("note_on", note=60, velocity=64, time=0))
    track.append(mido.Message("note_off", note=60, time=200 * TICKS_PER_QUARTER))
    return mido.MidiFile(ticks_per_beat=TICKS_PER_QUARTER, tracks=[track])


@given(tempo_map=tempo_maps(), tick=st.integers(0, 200 * TICKS_PER_QUARTER))
def test_tempo_map_equals_mido(tempo_map: TempoMap, tick: int) -> None:
    """The time of a tick is the sum, change by change, of what mido gives for each stretch."""
    expected = 0.0
    starts = [each.tick for each in tempo_map.changes]
    borders = [*starts[1:], max(tick, starts[-1])]
    for change, border in zip(tempo_map.changes, borders, strict=True):
        stretch = max(min(tick, border) - change.tick, 0)
        tempo = microseconds_a_quarter(change.bpm)
        expected += mido.tick2second(stretch, TICKS_PER_QUARTER, tempo)
    assert expected == pytest.approx(tempo_map.seconds_at(tick), abs=1e-9)


@pytest.mark.parametrize(
    "changes",
    [
        ((0, 120.0),),
        ((0, 60.0), (960, 240.0)),
        ((0, 120.0), (480, 100.0), (481, 300.0), (9600, 48.0)),
        ((0, 200.0), (3840, 150.0), (7680, 200.0)),
    ],
)
def test_tempo_map_equals_pretty_midi(
    changes: tuple[tuple[int, float], ...], tmp_path: Path
) -> None:
    """A file with the same tempo events has the same seconds at every quarter in pretty_midi."""
    tempo_map = TempoMap.of(changes)
    path = tmp_path / "tempi.mid"
    midi_file(tempo_map).save(str(path))
    theirs = pretty_midi.PrettyMIDI(str(path))
    for tick in range(0, 100 * TICKS_PER_QUARTER, 240):
        assert theirs.tick_to_time(tick) == pytest.approx(tempo_map.seconds_at(tick), abs=1e-6)


@given(tempo_map=tempo_maps())
def test_length_of_a_file_equals_mido(tempo_map: TempoMap) -> None:
    """The map gives a file with its tempo events the length that mido gives it."""
    stream = io.BytesIO()
    midi_file(tempo_map).save(file=stream)
    length = mido.MidiFile(file=io.BytesIO(stream.getvalue())).length
    end = tempo_map.changes[-1].tick + 200 * TICKS_PER_QUARTER
    assert length == pytest.approx(tempo_map.seconds_at(end), rel=1e-9)


def test_tempo_map_by_hand() -> None:
    """One bar of 4/4 at 120 lasts two seconds and the next at 240 one (arithmetic)."""
    tempo_map = TempoMap.of(((0, 120.0), (3840, 240.0)))
    times, ticks = [0.0, 2.0, 3.0], [0.0, 3840.0, 7680.0]
    assert times == [tempo_map.seconds_at(tick) for tick in ticks]
    assert ticks == [tempo_map.tick_at(seconds) for seconds in times]


@given(tempo_map=tempo_maps(), tick=st.floats(0, 200 * TICKS_PER_QUARTER))
def test_tick_at_undoes_seconds_at(tempo_map: TempoMap, tick: float) -> None:
    """The tick at the time of a tick is that tick."""
    assert tick == pytest.approx(tempo_map.tick_at(tempo_map.seconds_at(tick)), abs=1e-6)


@given(tempo_map=tempo_maps(), tick=st.integers(0, 10**6), later=st.integers(1, 10**4))
def test_time_never_runs_back(tempo_map: TempoMap, tick: int, later: int) -> None:
    """A later tick sounds later."""
    assert tempo_map.seconds_at(tick) < tempo_map.seconds_at(tick + later)


@given(tempo_map=tempo_maps(), gap=st.integers(0, 9600), bpm=st.floats(20, 500))
def test_another_tempo_behind_changes_nothing_before(
    tempo_map: TempoMap, gap: int, bpm: float
) -> None:
    """Earlier ticks keep their times; from the tick on the other tempo holds."""
    start = tempo_map.changes[-1].tick + gap
    longer = tempo_map.then(start, bpm)
    for tick in (0, start / 2, start):
        assert longer.seconds_at(tick) == tempo_map.seconds_at(tick)
    quarter = longer.seconds_at(start + TICKS_PER_QUARTER) - longer.seconds_at(start)
    assert quarter == pytest.approx(60 / bpm)
