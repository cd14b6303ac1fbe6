"""Meters for the tests, computed in other ways than the program's.

Sources: ITU-R BS.1770-4 annex 1 (loudness, run through the samples by scipy's filter), annex 2
(true peak, by scipy's polyphase filter, eight times); spectral flux: half-wave rectified growth of
the magnitude from frame to frame (common practice in onset detection).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter, resample_poly

Samples = NDArray[np.float64]


def loudness(samples: Samples) -> float:
    """Return the integrated loudness of samples at 48 kHz in LUFS."""
    shelf = [1.53512485958697, -2.69169618940638, 1.19839281085285]
    weighted = lfilter(shelf, [1, -1.69065929318241, 0.73248077421585], samples, axis=0)
    weighted = lfilter([1, -2, 1], [1, -1.99004745483398, 0.99007225036621], weighted, axis=0)
    blocks = np.array(
        [
            (weighted[start : start + 19_200] ** 2).mean(axis=0).sum()
            for start in range(0, len(samples) - 19_199, 4_800)
        ]
    )
    in_lufs = -0.691 + 10 * np.log10(np.maximum(blocks, 1e-20))
    absolute = blocks[in_lufs > -70]
    gate = -0.691 + 10 * np.log10(absolute.mean()) - 10
    return float(-0.691 + 10 * np.log10(blocks[in_lufs > max(gate, -70)].mean()))


def true_peak_db(samples: Samples) -> float:
    """Return the highest true peak in dB relative to full scale."""
    return float(20 * np.log10(np.abs(resample_poly(samples, 8, 1, axis=0)).max()))


def rms(samples: Samples) -> float:
    """Return the root mean square."""
    return float(np.sqrt((samples**2).mean()))


def onsets(samples: Samples, rate: int, near: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for each time in seconds the time of the highest spectral flux within 40 ms."""
    hop, size, silence = rate // 1000, 256, rate // 10
    mono = np.concatenate((np.zeros(silence), samples.mean(axis=1)))
    frames = np.lib.stride_tricks.sliding_window_view(mono, size)[::hop] * np.hanning(size)
    magnitude = np.abs(np.fft.rfft(frames, axis=1))
    flux = np.maximum(np.diff(np.log1p(1000 * magnitude), axis=0), 0).sum(axis=1)
    found = []
    for time in near:
        start = int((time * rate + silence - size / 2) / hop) - 40
        peak = start + int(np.argmax(flux[start : start + 80]))
        found.append(((peak + 1) * hop + size / 2 - silence) / rate)
    return np.array(found)
