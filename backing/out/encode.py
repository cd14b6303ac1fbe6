"""Encode samples as sound files, through soundfile."""

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
