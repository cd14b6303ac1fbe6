"""Banks of sounds: complete, in tune, at the offsets of the index; a store of limited size."""

from __future__ import annotations

import io
import json
import os
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile

from backing.errors import BackingError
from backing.fretboard.instrument import find_instrument
from backing.notes import Player
from backing.out.channels import presets
from backing.out.renderer import usual_sound_font
from backing.stand import bank as banks
from backing.stand.bank import LAYERS, Banks, Store, make_bank, tones_of
from backing.style.library import all_styles
from backing.style.model import DRUM_KEYS

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from backing.style.model import ChopStyle


@pytest.fixture(scope="module")
def bank() -> tuple[dict[str, Any], NDArray[np.float64]]:
    """Return the index and the samples of a bank."""
    index, data = make_bank(tones_of(["two-beat"]), usual_sound_font())
    samples, rate = soundfile.read(io.BytesIO(data))
    assert rate == index["rate"] == 48_000
    assert samples.shape == (index["frames"],)
    return index, samples


def test_the_index_covers_every_sample(bank: tuple[dict[str, Any], NDArray[np.float64]]) -> None:
    """Layers follow each other without gap or overlap to the end of the file."""
    index, _ = bank
    end = 0
    for sound in index["sounds"]:
        assert [layer["velocity"] for layer in sound["layers"]] == list(LAYERS)
        for layer in sound["layers"]:
            assert layer["offset"] == end
            assert layer["length"] > 0
            end += layer["length"]
    assert end == index["frames"]


@pytest.mark.parametrize("player", [Player.BASS, Player.CHOP])
def test_notes_are_in_tune(
    bank: tuple[dict[str, Any], NDArray[np.float64]], player: Player
) -> None:
    """The strongest partial is within 15 cents of equal temperament (A4 = 440 Hz).

    Measured among the first four partials of a firm note, over 1.4 seconds behind the attack.
    """
    index, samples = bank
    frequency = np.fft.rfftfreq(1 << 19, 1 / 48_000)
    for sound in index["sounds"]:
        if sound["player"] != player:
            continue
        start = sound["layers"][-1]["offset"] + 4800
        part = samples[start : start + 65_536]
        spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), 1 << 19))
        wanted = 440 * 2 ** ((sound["pitch"] - 69) / 12) * np.arange(1, 5)
        peaks = []
        for partial in wanted:
            near = (frequency > partial * 0.94) & (frequency < partial * 1.06)
            place = np.argmax(spectrum[near])
            peaks.append((spectrum[near][place], 1200 * np.log2(frequency[near][place] / partial)))
        cents = max(peaks)[1]
        assert abs(cents) < 15, f"{player} {sound['pitch']}: {cents:.0f} cents off"


def test_notes_begin_where_the_index_says(
    bank: tuple[dict[str, Any], NDArray[np.float64]],
) -> None:
    """A note reaches a tenth of its peak within 20 ms; a period of the lowest takes 27 ms."""
    index, samples = bank
    for sound in index["sounds"]:
        for layer in sound["layers"]:
            note = np.abs(samples[layer["offset"] : layer["offset"] + layer["length"]])
            onset = int(np.argmax(note > 0.1 * note.max())) / 48_000
            assert onset < 0.02, f"{sound['player']} {sound['pitch']}: {onset * 1000:.1f} ms"


def test_firm_is_louder_than_soft_and_nothing_is_clipped(
    bank: tuple[dict[str, Any], NDArray[np.float64]],
) -> None:
    """Loudness follows about the square of velocity, as in many synthesizers.

    Dannenberg 2006, "The Interpretation of MIDI Velocity", ICMC, abstract: measured of many.
    """
    index, samples = bank
    for sound in index["sounds"]:
        soft, firm = (
            np.abs(samples[each["offset"] : each["offset"] + each["length"]]).max()
            for each in sound["layers"]
        )
        assert 1.5 < firm / soft < 12, f"{sound['player']} {sound['pitch']}"
    assert 0.1 < np.abs(samples).max() < 0.99


def test_every_note_of_every_style_has_a_sound_near() -> None:
    """Bass and chop have a sound within a semitone over their ranges; every drum has its own."""
    styles = all_styles()[0]
    tones = tones_of(style.name for style in styles)
    for style in styles:
        for player, low, high in (
            (Player.BASS, *style.bass.range),
            (Player.CHOP, *_neck(style.chop)),
        ):
            program = presets(style)[player].program
            known = {t.pitch for t in tones if (t.player, t.program) == (player, program)}
            for pitch in range(low, high + 1):
                assert min(abs(pitch - each) for each in known) <= 1, (style.name, player, pitch)
    drums = {tone.pitch for tone in tones if tone.player is Player.DRUMS}
    assert drums == set(DRUM_KEYS.values())


def test_a_lead_has_sounds_where_there_is_a_melody() -> None:
    """With a melody the lead has sounds within a semitone from C2 to E7, without one none."""
    known = {t.pitch for t in tones_of(["swing"], lead=True) if t.player is Player.LEAD}

    assert all(min(abs(pitch - each) for each in known) <= 1 for pitch in range(36, 101))
    assert all(tone.player is not Player.LEAD for tone in tones_of(["swing"]))


def _neck(style: ChopStyle) -> tuple[int, int]:
    """Return the lowest and the highest MIDI key that a chop can reach."""
    strings = find_instrument(style.instrument).strings
    return min(strings), max(strings) + style.highest


def test_a_sketch_is_small_and_has_every_player() -> None:
    """A sketch lasts at most a quarter as long, and has a sound within three semitones."""
    whole, sketch = tones_of(["swing"]), tones_of(["swing"], sketch=True)

    assert sum(tone.seconds for tone in sketch) < sum(tone.seconds for tone in whole) / 4
    for player, low, high in ((Player.BASS, 29, 57), (Player.CHOP, 41, 86)):
        known = {tone.pitch for tone in sketch if tone.player is player}
        assert max(min(abs(pitch - each) for each in known) for pitch in range(low, high + 1)) <= 3
    assert {tone.pitch for tone in sketch if tone.player is Player.DRUMS} == set(DRUM_KEYS.values())


def test_a_bank_is_made_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another server finds the bank on disk; another sound font makes another bank."""
    made = []

    def fake(tones: object, font: Path) -> tuple[dict[str, object], bytes]:
        made.append(font)
        return {"sounds": []}, b"fLaC"

    monkeypatch.setattr("backing.stand.bank.make_bank", fake)
    other = tmp_path / "other.sf2"
    other.write_bytes(usual_sound_font().read_bytes() + b"\0")
    store = tmp_path / "store"

    url = Banks(usual_sound_font(), Store(store)).make(("swing",))
    again = Banks(usual_sound_font(), Store(store))
    assert again.make(("swing",)) == url
    assert len(made) == 1
    name = url.removeprefix("/bank/").removesuffix(".json")
    index = json.loads(again.store.get(name, ".json") or b"")
    assert index["url"] == f"/bank/{name}.flac"
    assert Banks(other, Store(store)).make(("swing",)) != url
    assert len(made) == 2


def test_a_missing_sound_font_is_refused(tmp_path: Path) -> None:
    """The error comes before the server starts."""
    with pytest.raises(BackingError, match=r"none\.sf2 cannot be read"):
        Banks(tmp_path / "none.sf2")


def test_the_store_is_limited_in_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The least recently used banks are deleted; other files stay."""
    monkeypatch.setattr(banks, "MOST_BYTES", 3000)
    other = tmp_path / "mine.flac"
    other.write_bytes(b"m" * 9000)
    store = Store(tmp_path)
    names = [f"{number:040x}" for number in range(4)]
    for age, name in enumerate(names[:3]):
        store.put(name, b"{}", b"s" * 900)
        for suffix in (".json", ".flac"):
            os.utime(tmp_path / (name + suffix), (1000 + age, 1000 + age))
    store.get(names[0], ".flac")  # used again
    store.get(names[0], ".json")

    store.put(names[3], b"{}", b"s" * 900)

    assert [store.has(name) for name in names] == [True, False, True, True]
    assert other.exists()


@pytest.mark.parametrize(
    "name, suffix", [("..", ".flac"), ("0" * 40, ".txt"), ("x" * 40, ".json"), ("", ".json")]
)
def test_the_store_returns_nothing_else(tmp_path: Path, name: str, suffix: str) -> None:
    """The store returns only files with names of its own form."""
    (tmp_path / (name.replace(".", "") + suffix)).write_text("secret")
    assert Store(tmp_path).get(name, suffix) is None


def test_without_a_place_on_disk_sounds_are_held_in_memory(tmp_path: Path) -> None:
    """A store that cannot write to disk keeps banks in memory."""
    nowhere = tmp_path / "file"
    nowhere.write_text("no folder")
    store = Store(nowhere / "below")

    store.put("0" * 40, b"{}", b"sound")

    assert store.has("0" * 40)
    assert store.get("0" * 40, ".flac") == b"sound"
