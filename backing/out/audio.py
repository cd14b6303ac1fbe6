"""Sound files of a MIDI file: rendered, levelled, faded, tagged, and the players' own tracks.

Conventions: 48 kHz, 16 bit. A recording is as long as its MIDI file and what rings on behind it,
of which the last half second fades; or, where a fade is wished, as long as the MIDI file. Mix and
stems share one gain, so that the stems add up to the mix.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backing.errors import SettingsError
from backing.out.encode import encode
from backing.out.formats import FORMATS
from backing.out.levelling import STEP, gain_for
from backing.out.renderer import RATE, TAIL_SECONDS, RenderError, render_pcm
from backing.out.tags import Tags, write_tags

if TYPE_CHECKING:
    import io
    from pathlib import Path

    from numpy.typing import NDArray

    from backing.notes import Player
    from backing.out.formats import Format
    from backing.out.levelling import Gain, Samples
    from backing.out.tracks import MidiTracks

MOST_FADE_SECONDS = 60.0

_LAST_SECONDS = 0.5
"""How long what still rings at the end takes to fall silent."""


@dataclass(frozen=True, slots=True)
class RecordingSettings:
    """How a recording is to sound.

    Attributes:
        font: a SoundFont 2 file.
        mono: whether left and right are made one.
        fade: seconds over which it fades out before its end, 0 to 60; with 0 it rings out.
    """

    font: Path
    mono: bool = False
    fade: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a fade that is none."""
        if not 0 <= self.fade <= MOST_FADE_SECONDS:
            raise SettingsError(
                f"a fade of {self.fade:g} seconds: choose from 0 to {MOST_FADE_SECONDS:g}"
            )


@dataclass(frozen=True, slots=True)
class Recording:
    """Sound files in memory.

    Attributes:
        mix: the file with all players.
        stems: a file for each player, where they were asked for.
        seconds: how long they are.
        lufs: how loud the mix is; minus infinity for silence.
    """

    mix: io.BytesIO
    stems: dict[Player, io.BytesIO]
    seconds: float
    lufs: float


def record(
    midi: MidiTracks, kind: Format, sound: RecordingSettings, tags: Tags, *, stems: bool
) -> Recording:
    """Return a performance as sound files.

    Args:
        midi: the performance.
        kind: which file the mix is.
        sound: how it is to sound.
        tags: what the file says about itself.
        stems: whether each player gets a file, too: the same kind as the mix if that is exact,
            else FLAC.

    Raises:
        BackingError: when nobody has a note, or it cannot be rendered.
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
    gain = gain_for(mix, _shape(frames, sound.fade), highest_db=kind.highest_db)
    stem_kind = kind if kind.exact else FORMATS["flac"]
    return Recording(
        mix=_file(mix, gain, kind, tags),
        stems={player: _file(each, gain, stem_kind, tags) for player, each in own.items()},
        seconds=frames / RATE,
        lufs=gain.lufs,
    )


def _fit(samples: Samples, sound: RecordingSettings, frames: int) -> Samples:
    """Return samples of just so many frames, in one channel where that is wished."""
    kept = samples[:frames]
    if len(kept) < frames:
        kept = np.concatenate((kept, np.zeros((frames - len(kept), 2), np.int16)))
    if not sound.mono:
        return kept
    both: Samples = (kept.sum(axis=1, dtype=np.int32, keepdims=True) // 2).astype(np.int16)
    return both


def _sum(tracks: list[Samples]) -> Samples:
    """Return tracks added up; the renderer leaves so much room that nothing is cut."""
    total = tracks[0].astype(np.int32)
    for each in tracks[1:]:
        total += each
    return np.clip(total, -32768, 32767).astype(np.int16)


def _shape(frames: int, fade: float) -> NDArray[np.float32]:
    """Return the fade at every step: 1, and from 1 to 0 towards the end, as a cosine falls."""
    steps = -(-frames // STEP) + 1
    length = min((fade or _LAST_SECONDS) * RATE, frames)
    left = (frames - np.arange(steps) * STEP) / max(length, 1)
    shape: NDArray[np.float32] = np.sin(np.clip(left, 0, 1) * np.pi / 2).astype(np.float32) ** 2
    return shape


def _file(samples: Samples, gain: Gain, kind: Format, tags: Tags) -> io.BytesIO:
    file = encode(gain.applied(samples), samples.shape[1], kind)
    write_tags(file, kind.kind, tags)
    return file
