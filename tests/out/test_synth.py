"""FluidSynth by its library hears what the band plays."""

from __future__ import annotations

import os
from typing import Any

import numpy as np
import pytest

from backing.chart.read import read_chart
from backing.out.channels import CHANNELS
from backing.out.port import PortError
from backing.out.synth import Synth
from backing.performance import Performance, Settings
from backing.timing import ticks_to_seconds

RATE = 44_100
CHART = read_chart("key: C\nstyle: two-beat\ntempo: 120\ncount-in: 0\n[A] 4\n| C | F | G7 | C |\n")


@pytest.fixture
def synth() -> Any:
    """Return a synthesizer without an audio driver, or skip; in the gate it must be there."""
    try:
        made = Synth(driver="")
    except PortError as error:
        if os.environ.get("CI"):
            raise
        pytest.skip(str(error))
    yield made
    made.close()


def test_the_sound_begins_where_the_notes_do(synth: Synth) -> None:
    """Each bass note is heard: the sound swells within 15 ms of where it is struck."""
    bars = list(Performance(CHART, Settings(choruses=1, looseness=0.0)).bars())
    style = Performance(CHART, Settings()).style
    synth.send(bytes((0xC0, style.bass.sound.program - 1)))
    notes = [note for bar in bars for note in bar.notes if note.player == "bass"]
    edges = sorted(
        edge
        for note in notes
        for edge in (
            (ticks_to_seconds(note.tick, 120), 1, note),
            (ticks_to_seconds(note.end, 120) - 0.001, 0, note),
        )
    )
    pieces, at = [], 0.0
    for when, on, note in edges:
        pieces.append(synth.samples(max(round((when - at) * RATE), 0)))
        at = when
        kind = 0x90 if on else 0x80
        synth.send(bytes((kind | CHANNELS[note.player], note.pitch, note.velocity if on else 0)))
    pieces.append(synth.samples(RATE // 2))
    sound = np.concatenate(pieces).astype(float)[::2]

    assert np.abs(sound).max() > 500
    window = RATE * 15 // 1000
    for note in notes[1:]:
        struck = round(ticks_to_seconds(note.tick, 120) * RATE)
        before = np.abs(sound[struck - window : struck]).max()
        after = np.abs(sound[struck : struck + window]).max()
        assert after > before


def test_without_a_sound_device_there_is_a_sentence(synth: Synth) -> None:
    """A driver that does not open is told: the band would play on unheard."""
    with pytest.raises(PortError, match="FluidSynth finds no sound device"):
        Synth(driver="no such driver")
