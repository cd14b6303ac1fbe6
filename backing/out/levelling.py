"""How loud sound is made: one gain over time, which every player's own track shares.

Conventions: a peak is a true peak, that of the wave four times oversampled (ITU-R BS.1770-4, annex
2). What would be too high at the wished loudness is turned down for a moment: the gain falls ahead
of the peak and comes back behind it, so that no wave is bent, and tracks that were turned by the
same gain still add up to the mix. Gains are known every 64 frames and run straight in between.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from backing.out.loudness import FULL_SCALE, HOP, hop_energies, lufs

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Samples = NDArray[np.int16]
    """16-bit samples at 48 kHz, of shape (frames, 1 or 2)."""

TARGET_LUFS = -16.0
"""Music that is levelled by the track is to be no louder: AES TD1008, as Radio World reports it in
"Streaming Audio Loudness Guidelines Explained"."""

HIGHEST_PEAK_DB = -1.0
"""The highest true peak: ours."""

STEP = 64
"""Frames between two gains."""

_MARGIN_DB = 0.2
"""How much lower than the highest peak we aim: the gain may move under a wave."""

_REACH = 6
"""Steps (8 ms) ahead of a peak at which the gain begins to fall, and behind it at which it is
back."""

_NEAR = 0.6
"""Share of the highest peak from which on a step is oversampled: between two samples music rises
by no more than that."""

_OVERSAMPLED = 4
_AROUND = 2
"""Steps on either side that the oversampling looks at, too."""

_ROUNDS = 6
_NEAR_ENOUGH_LU = 0.02
_MOST_GAIN_DB = 60.0
_AT_ONCE = 4096
"""Steps that are worked on together."""


@dataclass(frozen=True, slots=True)
class Gain:
    """A gain over time.

    Attributes:
        steps: the gain at every 64th frame, one more than there are steps.
        lufs: the loudness that comes of it, by our own meter; minus infinity for silence.
    """

    steps: NDArray[np.float32]
    lufs: float

    def applied(self, samples: Samples) -> Iterator[Samples]:
        """Yield the samples made so loud, some seconds at a time; what is too high is cut off."""
        with ThreadPoolExecutor(2) as pool:
            firsts = range(0, len(self.steps) - 1, _AT_ONCE)
            yield from pool.map(lambda first: self._piece(samples, first), firsts)

    def _piece(self, samples: Samples, first: int) -> Samples:
        piece = samples[first * STEP : (first + _AT_ONCE) * STEP]
        gain = _between(self.steps[first : first + _AT_ONCE + 1])[: len(piece)]
        louder = piece * gain[:, None]
        np.rint(louder, out=louder)
        np.clip(louder, -FULL_SCALE, FULL_SCALE - 1, out=louder)
        return louder.astype(np.int16)


def gain_for(
    samples: Samples,
    shape: NDArray[np.float32] | None = None,
    *,
    target_lufs: float = TARGET_LUFS,
    highest_db: float = HIGHEST_PEAK_DB,
) -> Gain:
    """Return the gain that makes a recording as loud as wished, its peaks no higher than wished.

    Args:
        samples: the recording.
        shape: a gain from 0 to 1 at every step that is wished anyhow, such as a fade.
        target_lufs: the loudness.
        highest_db: the highest true peak, below full scale.
    """
    steps = -(-len(samples) // STEP)
    given = np.ones(steps + 1, np.float32) if shape is None else shape
    energies = hop_energies(samples)
    ceiling = FULL_SCALE * 10 ** ((highest_db - _MARGIN_DB) / 20)
    peaks = _sample_peaks(samples, steps)
    known = np.zeros(steps, bool)
    wished = 0.0
    for _ in range(_ROUNDS):
        gain = _kept_below(samples, peaks, known, given * np.float32(10 ** (wished / 20)), ceiling)
        heard = lufs(energies * _hop_power(gain, len(energies)))
        if not np.isfinite(heard) or abs(target_lufs - heard) < _NEAR_ENOUGH_LU:
            break
        wished = min(wished + target_lufs - heard, _MOST_GAIN_DB)
    return Gain(gain, heard)


def _kept_below(
    samples: Samples,
    peaks: NDArray[np.float32],
    known: NDArray[np.bool_],
    gain: NDArray[np.float32],
    ceiling: float,
) -> NDArray[np.float32]:
    """Return the gain, less where a wave would get higher than the ceiling.

    Args:
        samples: the recording.
        peaks: the peak of each step; true ones take the place of those of the samples.
        known: where they have done so.
        gain: the gain at every step.
        ceiling: the highest peak, as samples have it.
    """
    highest = np.maximum(gain[:-1], gain[1:])
    near = np.flatnonzero((peaks * highest > _NEAR * ceiling) & ~known)
    if len(near):
        peaks[near] = np.maximum(peaks[near], _true_peaks(samples, near))
        known[near] = True
    share = np.minimum(1, ceiling / np.maximum(peaks * highest, 1e-9)).astype(np.float32)
    return gain * _smoothed(share)


def _smoothed(share: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return a gain at every step's edge that is nowhere above what the steps allow.

    The least of all steps within reach, then the mean over the reach: where one step asks for
    little, every value that the mean is made of is that little.
    """
    if not (share < 1).any():
        return np.ones(len(share) + 1, np.float32)
    around = np.pad(share, 2 * _REACH + 1, constant_values=1)
    least = sliding_window_view(around, 2 * _REACH + 2).min(axis=1)
    mean: NDArray[np.float32] = sliding_window_view(least, 2 * _REACH + 1).mean(axis=1)
    return mean


def _sample_peaks(samples: Samples, steps: int) -> NDArray[np.float32]:
    peaks = np.zeros(steps, np.float32)
    whole = len(samples) // STEP
    pairs = samples[: whole * STEP].reshape(whole, STEP * samples.shape[1])
    peaks[:whole] = np.maximum(pairs.max(axis=1), -pairs.min(axis=1).astype(np.int32))
    if whole < steps:
        peaks[-1] = np.abs(samples[whole * STEP :].astype(np.int32)).max()
    return peaks


def _true_peaks(samples: Samples, steps: NDArray[np.intp]) -> NDArray[np.float32]:
    """Return the true peaks of some steps, by their spectrum with nothing above it."""
    frames = (2 * _AROUND + 1) * STEP
    window = np.arange(-_AROUND * STEP, (_AROUND + 1) * STEP)
    inside = slice(_AROUND * STEP * _OVERSAMPLED, (_AROUND + 1) * STEP * _OVERSAMPLED)
    taper = np.ones(frames, np.float32)
    taper[:STEP] = np.sin(np.linspace(0, np.pi / 2, STEP, endpoint=False)) ** 2
    taper[-STEP:] = taper[:STEP][::-1]
    found = []
    for first in range(0, len(steps), _AT_ONCE):
        places = steps[first : first + _AT_ONCE, None] * STEP + window
        pieces = samples[np.clip(places, 0, len(samples) - 1)].astype(np.float32)
        pieces *= taper[:, None]
        spectra = np.fft.rfft(pieces, axis=1)
        fine = np.fft.irfft(spectra, frames * _OVERSAMPLED, axis=1)[:, inside] * _OVERSAMPLED
        found.append(np.abs(fine).max(axis=(1, 2)))
    return np.concatenate(found).astype(np.float32)


def _hop_power(gain: NDArray[np.float32], hops: int) -> NDArray[np.float64]:
    """Return the mean of the squared gain over every 100 ms."""
    steps = HOP // STEP
    squares = gain[: hops * steps].astype(np.float64) ** 2
    power: NDArray[np.float64] = squares.reshape(hops, steps).mean(axis=1)
    return power


def _between(steps: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the gain of every frame from those of the steps' edges."""
    way = np.arange(STEP, dtype=np.float32) / STEP
    gain = steps[:-1, None] + np.diff(steps)[:, None] * way
    return gain.reshape(-1).astype(np.float32, copy=False)
