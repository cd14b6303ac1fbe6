"""Rendering in a child process: pitch and length, and errors of fonts and of the child."""

from __future__ import annotations

import io
import struct
from dataclasses import replace
from typing import TYPE_CHECKING

import mido
import numpy as np
import pytest

from backing.errors import BackingError
from backing.out import renderer
from backing.out.renderer import RATE, TAIL_SECONDS, render_pcm, usual_sound_font
from backing.out.tracks import MidiLength

if TYPE_CHECKING:
    from pathlib import Path

A4 = 69
LENGTH = MidiLength(ticks=1920, seconds=1.0, ticks_per_second=1920.0)


def _file(*, key: int = A4, tempo: int = 500_000) -> bytes:
    file = mido.MidiFile(type=1, ticks_per_beat=960)
    track = mido.MidiTrack()
    track += [
        mido.MetaMessage("set_tempo", tempo=tempo),
        mido.Message("program_change", program=73),
        mido.Message("note_on", note=key, velocity=100),
        mido.Message("note_off", note=key, time=1920),
    ]
    file.tracks += [mido.MidiTrack(), track]
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


@pytest.mark.parametrize("key", [A4, 81])
def test_a_flute_is_in_tune(key: int) -> None:
    """The strongest partial of a flute is the pitch in equal temperament (A4 = 440 Hz)."""
    sound = render_pcm(_file(key=key), LENGTH, usual_sound_font())
    spectrum = np.abs(np.fft.rfft(sound[:RATE].mean(axis=1) * np.hanning(RATE)))

    pitch_hertz = float(np.argmax(spectrum[50:2000]) + 50)  # one second: a bin is one hertz
    assert sound.dtype == np.int16
    assert abs(1200 * np.log2(pitch_hertz / (440 * 2 ** ((key - A4) / 12)))) < 15


def test_what_rings_on_is_in_the_tail() -> None:
    """The sound is as long as the file and the tail, and ends in silence."""
    data = _file(tempo=250_000)  # a quarter note lasts .25 s

    sound = render_pcm(data, MidiLength(1920, 0.5, 3840.0), usual_sound_font())

    assert len(sound) / RATE == pytest.approx(0.5 + TAIL_SECONDS, abs=0.01)
    assert np.abs(sound[-RATE // 10 :]).max() < 10


def test_more_than_an_hour_is_refused() -> None:
    with pytest.raises(BackingError, match="61 minutes of sound: at most 60"):
        render_pcm(_file(), replace(LENGTH, seconds=3660.0), usual_sound_font())


def test_an_invalid_sound_font_is_refused(tmp_path: Path) -> None:
    """A missing file, another file, a damaged one and a folder each give an error."""
    text = tmp_path / "words.sf2"
    text.write_text("no sounds in here")
    broken = tmp_path / "broken.sf2"
    broken.write_bytes(b"RIFF" + struct.pack("<I", 1000) + b"sfbk" + bytes(1000))

    cut = tmp_path / "cut.sf2"
    cut.write_bytes(usual_sound_font().read_bytes()[:100_000])

    for path, found in (
        (tmp_path / "none.sf2", "cannot be read"),
        (text, "is not a sound font"),
        (broken, "is damaged"),
        (cut, "is damaged"),
        (tmp_path, "cannot be read"),
    ):
        with pytest.raises(BackingError, match=found):
            render_pcm(_file(), LENGTH, path)


@pytest.mark.parametrize(
    "script, found",
    [
        ("import os; os.abort()", "renderer failed"),
        ("import time; time.sleep(60)", "did not finish"),
        ("import sys; sys.stdout.buffer.write(bytes(400))", "gave only"),
        (
            "import sys; sys.path.insert(0, {folder!r}); import rendering\n"
            "rendering.limit(int(sys.argv[2]), 9); bytearray(int(sys.argv[2]))",
            "MemoryError",
        ),
    ],
)
def test_a_failing_child_gives_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, script: str, found: str
) -> None:
    """A crash, a hang, too little sound and too much memory each give an error."""
    folder = renderer.rendering.__file__.rpartition("/")[0]
    child = tmp_path / "child.py"
    child.write_text(script.format(folder=folder))
    monkeypatch.setattr(renderer.rendering, "__file__", str(child))
    monkeypatch.setattr(renderer, "_BASE_SECONDS", 1.0)

    with pytest.raises(BackingError, match=found):
        render_pcm(_file(), LENGTH, usual_sound_font())
