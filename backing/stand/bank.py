"""Banks of sounds for the page: single notes in one audio file, with an index; and their store.

Conventions: a bank has every third key of a player's range, which the page plays a semitone lower
or higher too, and every drum. Each note has a soft and a firm layer, since velocity changes more
than loudness. The sound is mono; the page pans it. A sketch, made in a tenth of the time, is sent
before a bank that has not been made yet: every sixth key, firm and short. On disk a bank is named
by a digest of its sources.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
from contextlib import suppress
from dataclasses import astuple, dataclass
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Final

from backing.errors import OutputError
from backing.notes import Player
from backing.out.channels import CHANNELS, presets
from backing.out.files import write_file
from backing.out.renderer import RATE, check_sound_font, render_pcm
from backing.out.tracks import MidiLength, midi_file, track_chunk, variable_length
from backing.style.library import find_style
from backing.style.model import DRUM_KEYS

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy as np
    from numpy.typing import NDArray


FOLDER_VARIABLE = "BACKING_CACHE"
"""The environment variable that names another cache folder."""

INDEX, SOUND = ".json", ".flac"
MOST_BYTES: Final = 256 << 20
"""The most bytes on disk; the least recently used files are deleted first."""

_MOST_RECENT = 4
"""How many files are kept in memory, so that many readers share one copy."""

_NAME = re.compile("[0-9a-f]{40}")


class Store:
    """Stores banks.

    Args:
        folder: where; None for the system's cache folder.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder or _usual_folder()
        self._in_memory: dict[str, bytes] = {}
        self._recent: dict[str, bytes] = {}

    def has(self, name: str) -> bool:
        """Whether a bank is complete: index and sound."""
        return all(self.get(name, suffix) is not None for suffix in (INDEX, SOUND))

    def get(self, name: str, suffix: str) -> bytes | None:
        """Return a bank's index or its sound; None when there is no such bank."""
        if not _NAME.fullmatch(name) or suffix not in (INDEX, SOUND):
            return None
        if (data := self._in_memory.get(name + suffix)) is not None:
            return data
        path = self._folder / (name + suffix)
        data = self._recent.get(path.name) or _read(path)
        if data:
            self._recent = dict([*self._recent.items(), (path.name, data)][-_MOST_RECENT:])
            with suppress(OSError):
                os.utime(path)
        return data

    def put(self, name: str, index: bytes, sound: bytes) -> None:
        """Store a bank; in memory where it cannot be written to disk."""
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            write_file(self._folder / (name + SOUND), sound, force=True)
            write_file(self._folder / (name + INDEX), index, force=True)
        except (OSError, OutputError):
            self._in_memory |= {name + INDEX: index, name + SOUND: sound}
            return
        self._make_room(name)

    def _make_room(self, name: str) -> None:
        """Delete the least recently used files, but never the bank with this name."""
        files = []
        for path in self._folder.glob("*"):
            with suppress(OSError):
                about = path.stat()
                if path.suffix in (INDEX, SOUND) and _NAME.fullmatch(path.stem):
                    files.append((path.stem != name, -about.st_mtime, about.st_size, path))
        left = MOST_BYTES
        for is_old, _, size, path in sorted(files):
            left -= size
            if left < 0 and is_old:
                path.unlink(missing_ok=True)


def _read(path: Path) -> bytes | None:
    try:
        return path.read_bytes() or None
    except OSError:
        return None


def _usual_folder() -> Path:
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        return Path(named) / "bank"
    import platformdirs

    return platformdirs.user_cache_path("backing", appauthor=False) / "bank"


RANGES = {
    Player.BASS: range(29, 60, 3),
    Player.CHOP: range(41, 87, 3),
    Player.LEAD: range(37, 104, 3),
}
"""The MIDI keys that are rendered: a bass up to B3, the chop of guitar and mandolin, any lead."""

LAYERS = (60, 105)
"""The MIDI velocities of the layers: the middle of soft and of firm playing."""

SECONDS = {Player.BASS: 3.5, Player.CHOP: 3.0, Player.DRUMS: 1.0, Player.LEAD: 3.0}
"""The longest duration of a note, in seconds."""

LONG_DRUMS = {46: 2.0, 49: 3.0, 51: 2.0, 53: 2.0, 55: 2.0}
"""The durations of cymbals and the open hat, in seconds, by MIDI key."""

SKETCH_SECONDS = 1.2
"""The longest duration of a note of a sketch."""

GAIN = 2.0
"""Single notes are raised by this factor: the renderer leaves headroom for many at once."""

_GAP_SECONDS = 0.2
_VERSION = 1
"""Part of a bank's name: raise it when the same notes are rendered differently."""

_TICKS = RATE // 2
"""Ticks a quarter note: at 120 a minute a tick is one frame."""

_SILENCE = 3
"""The loudest sample that counts as silence, of 32768."""

_FADE_FRAMES = RATE // 50


@dataclass(frozen=True, slots=True)
class Tone:
    """A note of the bank.

    Attributes:
        player: who plays it.
        program: General MIDI program, 1 to 128; for drums the kit.
        pitch: MIDI key.
        velocity: 1 to 127.
        seconds: its duration.
    """

    player: Player
    program: int
    pitch: int
    velocity: int
    seconds: float


def tones_of(styles: Iterable[str], *, lead: bool = False, sketch: bool = False) -> list[Tone]:
    """Return the notes that some styles need.

    Args:
        styles: names of styles.
        lead: whether the lead plays a melody.
        sketch: whether fewer and shorter notes are enough.

    Raises:
        BackingError: when there is no such style.
    """
    programs = sorted(
        {
            (player, preset.program)
            for style in styles
            for player, preset in presets(find_style(style)).items()
            if lead or player is not Player.LEAD
        }
    )
    return [
        Tone(player, program, pitch, velocity, _seconds(player, pitch, sketch=sketch))
        for player, program in programs
        for pitch in _pitches(player, sketch=sketch)
        for velocity in (LAYERS[-1:] if sketch else LAYERS)
    ]


def _pitches(player: Player, *, sketch: bool) -> Iterable[int]:
    if player not in RANGES:
        return sorted(DRUM_KEYS.values())
    return RANGES[player][1::2] if sketch else RANGES[player]


def _seconds(player: Player, pitch: int, *, sketch: bool) -> float:
    if sketch:
        return min(SECONDS[player], SKETCH_SECONDS)
    if player is Player.DRUMS:
        return LONG_DRUMS.get(pitch, SECONDS[player])
    return SECONDS[player]


class Banks:
    """Makes each bank once.

    Args:
        sound_font: a SoundFont 2 file.
        store: where banks are stored.

    Raises:
        RenderError: when the sound font cannot be used.
    """

    def __init__(self, sound_font: Path, store: Store | None = None) -> None:
        check_sound_font(sound_font)
        self.store = store or Store()
        self._sound_font = sound_font
        self._font_digest: str | None = None
        self._making = Lock()

    def has(self, styles: tuple[str, ...], *, lead: bool = False) -> bool:
        """Whether the bank of some styles has been made."""
        return self.store.has(self._name(tones_of(styles, lead=lead)))

    def make(self, styles: tuple[str, ...], *, lead: bool = False, sketch: bool = False) -> str:
        """Return the address of the bank of some styles; make it if needed, which takes seconds.

        Args:
            styles: names of styles.
            lead: whether the lead plays a melody.
            sketch: whether to make a sketch.

        Raises:
            BackingError: when it cannot be made.
        """
        tones = tones_of(styles, lead=lead, sketch=sketch)
        with self._making:
            name = self._name(tones)
            if not self.store.has(name):
                index, sound = make_bank(tones, self._sound_font)
                index["url"] = f"/bank/{name}.flac"
                self.store.put(name, json.dumps(index).encode(), sound)
        return f"/bank/{name}.json"

    def _name(self, tones: list[Tone]) -> str:
        """Return a digest of everything that a bank is made from."""
        if self._font_digest is None:
            with self._sound_font.open("rb") as file:
                self._font_digest = hashlib.file_digest(file, "sha256").hexdigest()
        sources = [_VERSION, GAIN, self._font_digest, [astuple(tone) for tone in tones]]
        return hashlib.sha256(json.dumps(sources).encode()).hexdigest()[:40]


def make_bank(tones: list[Tone], sound_font: Path) -> tuple[dict[str, object], bytes]:
    """Return the index of a bank and its sound, a mono FLAC file.

    Raises:
        BackingError: when it cannot be rendered.
    """
    from concurrent.futures import ThreadPoolExecutor

    import numpy as np
    import soundfile

    groups: dict[tuple[Player, int], list[Tone]] = {}
    for tone in tones:
        groups.setdefault((tone.player, tone.program), []).append(tone)
    with ThreadPoolExecutor(len(groups)) as pool:
        pieces = pool.map(lambda group: _rendered(group, sound_font), groups.values())
        cut = [piece for group in pieces for piece in group]
    file = io.BytesIO()
    soundfile.write(file, np.concatenate(cut), RATE, format="FLAC", subtype="PCM_16")
    ordered = [tone for group in groups.values() for tone in group]
    return _index(ordered, [len(samples) for samples in cut]), file.getvalue()


def _index(tones: list[Tone], lengths: list[int]) -> dict[str, object]:
    """Return the index: offset and length of each note, in frames."""
    listed: dict[tuple[Player, int, int], list[dict[str, int]]] = {}
    offset = 0
    for tone, length in zip(tones, lengths, strict=True):
        layer = {"velocity": tone.velocity, "offset": offset, "length": length}
        listed.setdefault((tone.player, tone.program, tone.pitch), []).append(layer)
        offset += length
    sounds = [
        {"player": player, "program": program, "pitch": pitch, "layers": layers}
        for (player, program, pitch), layers in listed.items()
    ]
    return {"rate": RATE, "frames": offset, "sounds": sounds}


def _rendered(tones: list[Tone], sound_font: Path) -> list[NDArray[np.int16]]:
    """Return the samples of each note of one player."""
    import numpy as np

    stereo = render_pcm(*_midi(tones), sound_font).astype(np.int32)
    mono = np.clip(stereo.sum(axis=1) * (GAIN / 2), -32768, 32767).astype(np.int16)
    found = []
    start = 0
    for tone in tones:
        frames = round(tone.seconds * RATE)
        found.append(_trimmed(mono[start : start + frames]))
        start += frames + round(_GAP_SECONDS * RATE)
    return found


def _trimmed(samples: NDArray[np.int16]) -> NDArray[np.int16]:
    """Return samples without silence at their end, and with a short fade."""
    import numpy as np

    audible = np.flatnonzero(np.abs(samples.astype(np.int32)) > _SILENCE)
    end = int(audible[-1]) + 1 if audible.size else 1
    kept = samples[:end].astype(np.float64)
    fade = min(_FADE_FRAMES, end)
    kept[end - fade :] *= np.linspace(1, 0, fade)
    return kept.astype(np.int16)


def _midi(tones: list[Tone]) -> tuple[bytes, MidiLength]:
    """Return a MIDI file of notes one after the other, and its length; a tick is a frame."""
    player, program = tones[0].player, tones[0].program
    channel = CHANNELS[player]
    track = b"\0\xff\x51\x03" + (500_000).to_bytes(3) + bytes((0, 0xC0 | channel, program - 1))
    gap = ticks = 0
    for tone in tones:
        frames = round(tone.seconds * RATE)
        ticks += gap + frames
        track += variable_length(gap) + bytes((0x90 | channel, tone.pitch, tone.velocity))
        track += variable_length(frames) + bytes((0x80 | channel, tone.pitch, 0))
        gap = round(_GAP_SECONDS * RATE)
    ticks += gap
    track += variable_length(gap) + b"\xff\x2f\0"
    length = MidiLength(ticks, ticks / RATE, RATE)
    return midi_file(track_chunk(track), division=_TICKS), length
