"""Samples into sound files, through soundfile, by the ending of the name."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np

from backing.out.renderer import RATE

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from backing.out.formats import Format

MOST_FRAMES_AT_ONCE = 65_536
"""The OGG encoder breaks at one long write."""

_FULL_SCALE = np.float32(32_768)


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
                block = piece[start : start + MOST_FRAMES_AT_ONCE]
                # The MP3 encoder (libsndfile 1.2) distorts whole numbers and takes fractions well.
                file.write(block if kind.exact else block / _FULL_SCALE)
    data.seek(0)
    return data
