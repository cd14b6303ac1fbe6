"""FluidSynth, by its library, sounds where the band plays."""

from __future__ import annotations

import os
from typing import Any

import numpy as np
import pytest

from backing.chart.read import read_chart
from backing.control.settings import LiveSettings
from backing.live.session import Session
from backing.notes import RHYTHM
from backing.out.channels import CHANNELS, VOLUME
from backing.out.port import PortError
from backing.out.synth import Synth
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.timing import ticks_to_seconds

RATE = 44_100
CHART = read_chart("key: C\nstyle: two-beat\ntempo: 120\ncount-in: 0\n[A] 4\n| C | F | G7 | C |\n")


@pytest.fixture
def synth() -> Any:
    """Yield a synthesizer without an audio driver; skip without the library, except in CI."""
    try:
        made = Synth(driver="")
    except PortError as error:
        if os.environ.get("CI"):
            raise
        pytest.skip(str(error))
    yield made
    made.close()


def test_the_sound_begins_where_the_notes_do(synth: Synth) -> None:
    """The sound grows within 15 ms of each bass note."""
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


class RenderedOutput:
    """FluidSynth as the output of a session, rendered up to the current time.

    Attributes:
        struck: (frame, channel, key) of every note-on.
        name, is_there: as in any output.

    """

    name = "FluidSynth"
    is_there = True

    def __init__(self, synth: Synth, only: int | None = None) -> None:
        self.struck: list[tuple[int, int, int]] = []
        self._synth = synth
        self._only = only
        self._pieces: list[Any] = []
        self._at = 0

    def run_to(self, seconds: float) -> None:
        """Render up to a time."""
        frames = round(seconds * RATE) - self._at
        if frames > 0:
            self._pieces.append(np.array(self._synth.samples(frames)))
            self._at += frames

    def send(self, message: bytes) -> None:
        """Play a message; the volume of all other players than `only` is 0."""
        channel = message[0] & 15
        if message[0] >> 4 == 9:
            self.struck.append((self._at, channel, message[1]))
        if self._only not in (None, channel) and message[0] >> 4 == 0xB and message[1] == VOLUME:
            message = bytes((message[0], VOLUME, 0))
        self._synth.send(message)

    def reconnect(self) -> bool:
        """Return True."""
        return True

    def close(self) -> None:
        """Do nothing: the fixture closes the synthesizer."""

    def sound(self) -> Any:
        """Return all sound, both channels summed."""
        return np.concatenate(self._pieces).astype(float).reshape(-1, 2).sum(axis=1)


def rendered_take(synth: Synth, only: int | None = None) -> RenderedOutput:
    """Return a take at simulated time: count-in, two choruses, ending."""
    output = RenderedOutput(synth, only)
    base = Settings(bpm=120.0, choruses=2, count_in=1, looseness=0.0)
    session = Session("-", LiveSettings.of(CHART, base, endless=False), output)
    session.transport.play(0.0)
    now = 0.0
    while not session.transport.ended:
        session.transport.fill()
        due = session.transport.pump(now)
        if due is not None:
            now = due
            output.run_to(now)
    output.run_to(now + 0.5)
    session.close()
    assert session.broken is None
    assert session.messages == []
    return output


def swells(sound: Any, at: int) -> bool:
    """Return whether the slope of the sound is steeper in the 15 ms after a frame than before.

    The slope shows the click of a stroke, while earlier notes ring smoothly.
    """
    window = RATE * 15 // 1000
    slope = np.abs(np.diff(sound))
    return bool(slope[at : at + window].max() > slope[at - window : at].max())


def test_a_whole_take_is_heard(synth: Synth) -> None:
    """No bar of count-in, two choruses and ending is silent, and all three players strike."""
    output = rendered_take(synth)
    sound = output.sound()
    bars = len(sound) // (2 * RATE)  # 4/4 at 120

    assert {channel for _, channel, _ in output.struck} == {CHANNELS[player] for player in RHYTHM}
    assert bars >= 9
    for bar in range(9):
        assert np.abs(sound[bar * 2 * RATE : (bar + 1) * 2 * RATE]).max() > 1000


@pytest.mark.parametrize("player", ["bass", "chop", "drums"])
def test_every_stroke_of_a_take_is_heard(synth: Synth, player: str) -> None:
    """With the others turned down, the sound grows within 15 ms of every stroke of a player."""
    channel = next(number for name, number in CHANNELS.items() if name == player)
    output = rendered_take(synth, channel)
    sound = output.sound()
    strokes = sorted({at for at, where, _ in output.struck if where == channel})
    missed = [at / RATE for at in strokes if not swells(sound, at)]

    assert len(strokes) >= 16
    assert missed == []


def test_without_a_sound_device_there_is_a_sentence(synth: Synth) -> None:
    """A driver that does not open gives an error, or the band would play on silently."""
    with pytest.raises(PortError, match="FluidSynth finds no sound device"):
        Synth(driver="no such driver")
