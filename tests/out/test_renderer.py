"""Rendering in a process of its own: in tune, whole, and no file or font can harm the caller."""

from __future__ import annotations

import io
import struct
from typing import TYPE_CHECKING

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.errors import BackingError
from backing.out import renderer
from backing.out.renderer import RATE, TAIL_SECONDS, render_pcm, usual_sound_font
from backing.out.scan import MidiFileError, scan

if TYPE_CHECKING:
    from pathlib import Path

A4 = 69


def _file(*, key: int = A4, tempo: int = 500_000, division: int = 960, ticks: int = 1920) -> bytes:
    file = mido.MidiFile(type=1, ticks_per_beat=division)
    track = mido.MidiTrack()
    track += [
        mido.MetaMessage("set_tempo", tempo=tempo),
        mido.Message("program_change", program=73),
        mido.Message("note_on", note=key, velocity=100),
        mido.Message("note_off", note=key, time=ticks),
    ]
    file.tracks += [mido.MidiTrack(), track]
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


@pytest.mark.parametrize("key", [A4, 81])
def test_a_flute_is_in_tune(key: int) -> None:
    """The strongest partial of a flute lies where equal temperament has its key (A4 = 440 Hz)."""
    sound = render_pcm(_file(key=key), usual_sound_font())
    spectrum = np.abs(np.fft.rfft(sound[:RATE].mean(axis=1) * np.hanning(RATE)))

    heard = float(np.argmax(spectrum[50:2000]) + 50)  # one second: a bin is one hertz
    assert sound.dtype == np.int16
    assert abs(1200 * np.log2(heard / (440 * 2 ** ((key - A4) / 12)))) < 15


def test_what_rings_on_is_in_the_tail() -> None:
    """The sound is as long as the file by its tempi, and the tail; a moment of silence ends it."""
    data = _file(tempo=250_000)  # a quarter note lasts .25 s

    sound = render_pcm(data, usual_sound_font())

    assert scan(data).seconds == pytest.approx(0.5)
    assert len(sound) / RATE == pytest.approx(0.5 + TAIL_SECONDS, abs=0.01)
    assert np.abs(sound[-RATE // 10 :]).max() < 10


def test_the_length_is_what_another_reader_finds() -> None:
    """Tempi of several tracks add up as mido adds them up."""
    file = mido.MidiFile(file=io.BytesIO(_file()))
    file.tracks[0] += [
        mido.MetaMessage("set_tempo", tempo=400_000, time=100),
        mido.MetaMessage("set_tempo", tempo=900_000, time=1000),
    ]
    buffer = io.BytesIO()
    file.save(file=buffer)

    assert scan(buffer.getvalue()).seconds == pytest.approx(file.length)


@pytest.mark.parametrize(
    "data, found",
    [
        (b"", "a header"),
        (b"RIFF" * 8, "a header"),
        (_file()[:-3], "cut off"),
        (_file() + b"x", "follows the last track"),
        (_file().replace(b"\xff\x51\x03\x07\xa1\x20", b"\xff\x51\x03\0\0\0"), "a tempo is 0"),
        (_file()[:12] + b"\0\0" + _file()[14:], "ticks a quarter note"),
        (_file()[:12] + b"\xe7\x28" + _file()[14:], "ticks a quarter note"),
        (_file().replace(bytes((0x90, A4, 100)), bytes((0x90, A4, 0))), "no notes"),
        (_file().replace(bytes((0x90, A4, 100)), bytes((0x90, A4, 200))), "seven bits"),
        (_file().replace(bytes((0x90, A4)), bytes((0xF4, A4))), "0xF4"),
        (_file(ticks=0x0FFFFFFF), "minutes of sound"),
        (_file(tempo=1, division=0x7FFF), "too many ticks"),
    ],
)
def test_a_file_that_is_none_gets_a_sentence(data: bytes, found: str) -> None:
    """What the renderer would trust, or die of, never reaches it."""
    with pytest.raises(BackingError, match=found):
        render_pcm(data, usual_sound_font())


@examples(300)
@given(st.lists(st.tuples(st.integers(0, 79), st.integers(0, 255)), min_size=1, max_size=4))
def test_a_changed_byte_is_read_or_refused(changes: list[tuple[int, int]]) -> None:
    """Whatever a few bytes become, the file is scanned or told to be faulty."""
    data = bytearray(_file())
    for place, value in changes:
        data[place % len(data)] = value

    try:
        found = scan(bytes(data))
    except MidiFileError:
        return
    assert found.notes > 0
    assert found.seconds >= 0


def test_a_sound_font_that_is_none_gets_a_sentence(tmp_path: Path) -> None:
    """Missing, something else, or broken inside: each is told."""
    text = tmp_path / "words.sf2"
    text.write_text("no sounds in here")
    broken = tmp_path / "broken.sf2"
    broken.write_bytes(b"RIFF" + struct.pack("<I", 1000) + b"sfbk" + bytes(1000))

    cut = tmp_path / "cut.sf2"
    cut.write_bytes(usual_sound_font().read_bytes()[:100_000])

    for path, found in (
        (tmp_path / "none.sf2", "cannot be read"),
        (text, "is no sound font"),
        (broken, "is damaged"),
        (cut, "is damaged"),
        (tmp_path, "cannot be read"),
    ):
        with pytest.raises(BackingError, match=found):
            render_pcm(_file(), path)


@pytest.mark.parametrize(
    "script, found",
    [
        ("import os; os.abort()", "broke off"),
        ("import time; time.sleep(60)", "has not ended"),
        ("import sys; sys.stdout.buffer.write(bytes(400))", "gave only"),
        (
            "import sys; sys.path.insert(0, {folder!r}); import rendering\n"
            "rendering.limit(int(sys.argv[2]), 9); bytearray(int(sys.argv[2]))",
            "MemoryError",
        ),
    ],
)
def test_a_child_that_breaks_hangs_or_swells_harms_nobody(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, script: str, found: str
) -> None:
    """Abort, endless work, half the sound and too much memory each become a sentence."""
    folder = renderer.rendering.__file__.rpartition("/")[0]
    child = tmp_path / "child.py"
    child.write_text(script.format(folder=folder))
    monkeypatch.setattr(renderer.rendering, "__file__", str(child))
    monkeypatch.setattr(renderer, "_BASE_SECONDS", 1.0)

    with pytest.raises(BackingError, match=found):
        render_pcm(_file(), usual_sound_font())
