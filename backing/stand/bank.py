"""The sounds that a page plays: single notes, rendered once, in one file with an index.

Conventions: a note for every third key of a player's range, which the page plays a semitone lower
or higher; every drum by itself. Each is rendered softly and firmly, since a firm note does not
only sound louder. Two channels are made one: where a player stands is the page's business. Where
no sounds have been made yet, a sketch comes first: every sixth key, firm and short, in a tenth of
the time.
"""

from __future__ import annotations

import hashlib
import io
import json
from dataclasses import astuple, dataclass
from threading import Lock
from typing import TYPE_CHECKING

from backing.notes import Player
from backing.out.channels import CHANNELS, presets
from backing.out.renderer import RATE, check_sound_font, render_pcm
from backing.out.tracks import MidiLength, midi_file, track_chunk, variable_length
from backing.stand.store import Store
from backing.style.library import find_style
from backing.style.model import DRUM_KEYS

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

RANGES = {
    Player.BASS: range(29, 60, 3),
    Player.CHOP: range(41, 87, 3),
    Player.LEAD: range(37, 104, 3),
}
"""The MIDI keys that are rendered: a bass up to B3, the chop of guitar and mandolin, any lead."""

LAYERS = (60, 105)
"""How firmly each note is struck, as MIDI has it: the middle of soft and of firm playing."""

SECONDS = {Player.BASS: 3.5, Player.CHOP: 3.0, Player.DRUMS: 1.0, Player.LEAD: 3.0}
"""How long a note is held, if it sounds for so long."""

LONG_DRUMS = {46: 2.0, 49: 3.0, 51: 2.0, 53: 2.0, 55: 2.0}
"""Cymbals and the open hat, in seconds."""

SKETCH_SECONDS = 1.2
"""How long a note of a sketch is held at most."""

GAIN = 2.0
"""The renderer leaves much room: it may have to mix many notes."""

_GAP_SECONDS = 0.2
_VERSION = 1
"""Another number where the same sounds are made in another way."""

_TICKS = RATE // 2
"""Ticks a quarter note: at 120 beats a minute a tick is a frame."""

_SILENCE = 3
"""What is not louder than that, of 32768, is silence."""

_FADE_FRAMES = RATE // 50


@dataclass(frozen=True, slots=True)
class Tone:
    """A note of the bank.

    Attributes:
        player: who plays it.
        program: General MIDI program, 1 to 128; of drums the kit.
        pitch: MIDI key.
        velocity: 1 to 127.
        seconds: how long it is held.
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
        lead: whether there is a melody to be played.
        sketch: whether as few and as short notes will do as give the music.

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
    """Makes banks, each once.

    Args:
        sound_font: a SoundFont 2 file.
        store: where they are kept.

    Raises:
        RenderError: when the sound font will not do.
    """

    def __init__(self, sound_font: Path, store: Store | None = None) -> None:
        check_sound_font(sound_font)
        self.store = store or Store()
        self._sound_font = sound_font
        self._font_digest: str | None = None
        self._making = Lock()

    def has(self, styles: tuple[str, ...], *, lead: bool = False) -> bool:
        """Whether the bank for some styles has been made."""
        return self.store.has(self._name(tones_of(styles, lead=lead)))

    def make(self, styles: tuple[str, ...], *, lead: bool = False, sketch: bool = False) -> str:
        """Return the address of the bank for some styles, which is made if need be; takes a second.

        Args:
            styles: names of styles.
            lead: whether there is a melody to be played.
            sketch: whether a quick one will do for now.

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
        """Return a digest of all that a bank depends on."""
        if self._font_digest is None:
            with self._sound_font.open("rb") as file:
                self._font_digest = hashlib.file_digest(file, "sha256").hexdigest()
        recipe = [_VERSION, GAIN, self._font_digest, [astuple(tone) for tone in tones]]
        return hashlib.sha256(json.dumps(recipe).encode()).hexdigest()[:40]


def make_bank(tones: list[Tone], sound_font: Path) -> tuple[dict[str, object], bytes]:
    """Return the index of a bank and its sound, a FLAC file of one channel.

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
    """Return where each note is, in frames."""
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
    """Return the samples of notes of one player, each by itself."""
    import numpy as np

    sound = render_pcm(*_midi(tones), sound_font).astype(np.int32)
    loud = np.clip(sound.sum(axis=1) * (GAIN / 2), -32768, 32767).astype(np.int16)
    found = []
    start = 0
    for tone in tones:
        frames = round(tone.seconds * RATE)
        found.append(_trimmed(loud[start : start + frames]))
        start += frames + round(_GAP_SECONDS * RATE)
    return found


def _trimmed(samples: NDArray[np.int16]) -> NDArray[np.int16]:
    """Return samples without the silence at their end, faded out where they break off."""
    import numpy as np

    heard = np.flatnonzero(np.abs(samples.astype(np.int32)) > _SILENCE)
    end = int(heard[-1]) + 1 if heard.size else 1
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
