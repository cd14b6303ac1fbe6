"""Record a performance: render its MIDI tracks, level, fade and tag the mix and the stems.

Conventions: 48 kHz, 16 bit. A recording lasts `TAIL_SECONDS` longer than its MIDI file, and the
last half second fades; with a fade it is as long as the MIDI file. The mix and the stems share one
gain, so that the stems add up to the mix.
"""

from __future__ import annotations

import io
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backing.errors import SettingsError
from backing.out.formats import FORMATS
from backing.out.levelling import STEP, TARGET_LUFS, gain_for
from backing.out.midifile import midi_tracks
from backing.out.renderer import RATE, TAIL_SECONDS, RenderError, render_pcm
from backing.out.tags import Tags, tags_of, write_tags

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from numpy.typing import NDArray

    from backing.notes import Player
    from backing.out.formats import Format
    from backing.out.levelling import Gain, Samples
    from backing.out.midifile import Played
    from backing.out.tracks import MidiTracks


MOST_FRAMES_AT_ONCE = 65_536
"""The OGG encoder crashes on one long write."""

_FULL_SCALE = np.float32(32_768)


def encode(pieces: Iterable[NDArray[np.int16]], channels: int, file_format: Format) -> io.BytesIO:
    """Return a sound file of successive pieces, positioned at its start.

    Args:
        pieces: 16-bit samples at 48 kHz, each of shape (frames, channels).
        channels: 1 or 2.
        file_format: the format of the file.
    """
    import soundfile

    data = io.BytesIO()
    with soundfile.SoundFile(
        data, "w", RATE, channels, format=file_format.container, subtype=file_format.encoding
    ) as file:
        for piece in pieces:
            for start in range(0, len(piece), MOST_FRAMES_AT_ONCE):
                block = piece[start : start + MOST_FRAMES_AT_ONCE]
                # The MP3 encoder (libsndfile 1.2) distorts integers but not floats.
                file.write(block if file_format.exact else block / _FULL_SCALE)
    data.seek(0)
    return data


MOST_FADE_SECONDS = 60.0

_TOO_QUIET_LU = 0.5
"""How far below the usual loudness a recording may be without a remark, in LU."""

_LAST_SECONDS = 0.5
"""Length of the fade that ends a recording without a fade of its own."""


@dataclass(frozen=True, slots=True)
class RecordingSettings:
    """How a recording sounds.

    Attributes:
        font: a SoundFont 2 file.
        mono: whether left and right are mixed into one channel.
        fade: length of the fade-out in seconds, 0 to 60; 0 lets the last notes ring.
    """

    font: Path
    mono: bool = False
    fade: float = 0.0

    def __post_init__(self) -> None:
        """Check the length of the fade."""
        if not 0 <= self.fade <= MOST_FADE_SECONDS:
            raise SettingsError(
                f"a fade of {self.fade:g} seconds: choose from 0 to {MOST_FADE_SECONDS:g}"
            )


@dataclass(frozen=True, slots=True)
class Recording:
    """The sound files of a performance, in memory.

    Attributes:
        mix: the file of all players.
        stems: the file of each player, or none.
        seconds: the length of each file.
        lufs: the loudness of the mix in LUFS; minus infinity for silence.
    """

    mix: io.BytesIO
    stems: dict[Player, io.BytesIO]
    seconds: float
    lufs: float

    def remarks(self) -> tuple[str, ...]:
        """Return a remark on a mix that is quieter than usual."""
        if self.lufs >= TARGET_LUFS - _TOO_QUIET_LU:
            return ()
        return (f"{self.lufs:.1f} LUFS, as loud as its peaks allow; usually {TARGET_LUFS:g}",)


def sound_bytes(
    played: Played, file_format: Format, sound: RecordingSettings, seed: int, about: str = ""
) -> bytes:
    """Return the sound file of a performance.

    Args:
        played: the performance.
        file_format: the format.
        sound: how the recording sounds.
        seed: the number of the take, for its tags.
        about: which part of the tune it is; "" for the whole tune.

    Raises:
        BackingError: as `record`.
    """
    tags = tags_of(played, seed, about)
    return record(midi_tracks(played), file_format, sound, tags, stems=False).mix.getvalue()


def record(
    midi: MidiTracks, file_format: Format, sound: RecordingSettings, tags: Tags, *, stems: bool
) -> Recording:
    """Render a performance to sound files.

    Args:
        midi: the performance.
        file_format: the format of the mix.
        sound: how the recording sounds.
        tags: the tags of each file.
        stems: whether to make a file of each player, too: in the format of the mix if that is
            lossless, else FLAC.

    Raises:
        BackingError: when there are no notes, or rendering fails.
    """
    if not midi.players:
        raise RenderError("nobody has a note to play here: let more players play")
    frames = round((midi.length.seconds + (0 if sound.fade else TAIL_SECONDS)) * RATE)

    def rendered(file: bytes) -> Samples:
        return _fit(render_pcm(file, midi.length, sound.font), sound, frames)

    own: dict[Player, Samples] = {}
    if stems:
        with ThreadPoolExecutor(2) as pool:
            tracks = pool.map(rendered, map(midi.stem, midi.players))
            own = dict(zip(midi.players, tracks, strict=True))
    mix = _sum(list(own.values())) if stems else rendered(midi.file())
    gain = gain_for(mix, _shape(frames, sound.fade), highest_db=file_format.highest_db)
    stem_kind = file_format if file_format.exact else FORMATS["flac"]
    return Recording(
        mix=_file(mix, gain, file_format, tags),
        stems={player: _file(each, gain, stem_kind, tags) for player, each in own.items()},
        seconds=frames / RATE,
        lufs=gain.lufs,
    )


def _fit(samples: Samples, sound: RecordingSettings, frames: int) -> Samples:
    """Return samples cut or padded to a number of frames, in one channel for a mono recording."""
    kept = samples[:frames]
    if len(kept) < frames:
        kept = np.concatenate((kept, np.zeros((frames - len(kept), 2), np.int16)))
    if not sound.mono:
        return kept
    both: Samples = (kept.sum(axis=1, dtype=np.int32, keepdims=True) // 2).astype(np.int16)
    return both


def _sum(tracks: list[Samples]) -> Samples:
    """Return the sum of tracks; the renderer leaves enough headroom for it."""
    total = tracks[0].astype(np.int32)
    for each in tracks[1:]:
        total += each
    return np.clip(total, -32768, 32767).astype(np.int16)


def _shape(frames: int, fade: float) -> NDArray[np.float32]:
    """Return the gain of the fade at every step: 1, then from 1 to 0 along a squared sine."""
    steps = -(-frames // STEP) + 1
    length = min((fade or _LAST_SECONDS) * RATE, frames)
    left = (frames - np.arange(steps) * STEP) / max(length, 1)
    shape: NDArray[np.float32] = np.sin(np.clip(left, 0, 1) * np.pi / 2).astype(np.float32) ** 2
    return shape


def _file(samples: Samples, gain: Gain, file_format: Format, tags: Tags) -> io.BytesIO:
    file = encode(gain.applied(samples), samples.shape[1], file_format)
    write_tags(file, file_format.container, tags)
    return file
