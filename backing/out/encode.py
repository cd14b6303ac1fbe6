"""Samples into sound files, through soundfile, by the ending of the name."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.errors import OutputError
from backing.out.renderer import RATE

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy as np
    from numpy.typing import NDArray

MOST_FRAMES_AT_ONCE = 65_536
"""The OGG encoder breaks at one long write."""


@dataclass(frozen=True, slots=True)
class Format:
    """A kind of sound file.

    Attributes:
        kind, coding: what soundfile calls it.
        exact: whether every sample comes back as it was.
        highest_db: the highest true peak that it is given; what is not exact may come back higher.
    """

    kind: str
    coding: str
    exact: bool
    highest_db: float


FORMATS = {
    "wav": Format("WAV", "PCM_16", exact=True, highest_db=-1.0),
    "flac": Format("FLAC", "PCM_16", exact=True, highest_db=-1.0),
    "mp3": Format("MP3", "MPEG_LAYER_III", exact=False, highest_db=-2.0),
    "ogg": Format("OGG", "VORBIS", exact=False, highest_db=-2.0),
}
"""What can be written, by the ending of the name."""


def format_of(ending: str) -> Format:
    """Return the kind of file that has an ending, with or without its dot.

    Raises:
        OutputError: when no such sound file is written.
    """
    found = FORMATS.get(ending.lower().lstrip("."))
    if found is None:
        raise OutputError(f"'{ending}' is no sound file: choose from {', '.join(FORMATS)}")
    return found


def encode(pieces: Iterable[NDArray[np.int16]], channels: int, kind: Format) -> io.BytesIO:
    """Return a sound file of pieces that follow each other, read from its beginning.

    Args:
        pieces: 16-bit samples at 48 kHz, each of shape (frames, channels).
        channels: 1 or 2.
        kind: which file.
    """
    import soundfile

    data = io.BytesIO()
    with soundfile.SoundFile(
        data, "w", RATE, channels, format=kind.kind, subtype=kind.coding
    ) as file:
        for piece in pieces:
            for start in range(0, len(piece), MOST_FRAMES_AT_ONCE):
                file.write(piece[start : start + MOST_FRAMES_AT_ONCE])
    data.seek(0)
    return data
