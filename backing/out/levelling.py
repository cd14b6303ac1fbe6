"""Measure loudness, and find the gain over time that brings a recording to one.

Conventions: loudness is that of EBU R 128, measured by ITU-R BS.1770-4: K-weighted, in blocks of
400 ms every 100 ms, without the blocks below -70 LUFS and those 10 LU below the mean of the others.
Coefficients and gates are the standard's, for 48 kHz. The weighting is applied to the spectrum of
each 100 ms and not as a filter: it is flat from a few kHz on, so only the loss below is computed,
from the spectrum of sums of four frames. That is much faster than the filter and within 0.05 LU of
it for music, and the loudness after a slow gain follows from the same energies.

A peak is a true peak, that of the wave four times oversampled (ITU-R BS.1770-4, annex 2). The gain
falls before a peak that would be too high and rises after it, so that waves are not distorted and
stems with the same gain still add up to the mix. A gain is given every 64 frames and interpolated
linearly in between.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from backing.out.renderer import RATE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Samples = NDArray[np.int16]
    """16-bit samples at 48 kHz, of shape (frames, 1 or 2)."""


HOP = RATE // 10
"""Frames in 100 ms."""

FULL_SCALE = 32_768.0

_SHELF = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285),
    (1.0, -1.69065929318241, 0.73248077421585),
)
_HIGH_PASS = (1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)
"""The two stages of K-weighting at 48 kHz (ITU-R BS.1770-4, tables 1 and 2)."""

_OFFSET = -0.691
_SILENCE, _BELOW_THE_REST = -70.0, -10.0
_HOPS_A_BLOCK = 4

_DECIMATION = 4
"""Frames that are summed before the spectrum is computed."""

_FLAT_HERTZ = 6_000
"""The weighting is taken as flat from here on; it varies by less than 0.1 dB."""

_HOPS_AT_ONCE = 256
"""Hops per batch."""


def hop_energies(samples: NDArray[np.int16]) -> NDArray[np.float64]:
    """Return the K-weighted energy of every 100 ms, summed over the channels; full scale is 1.

    Args:
        samples: 16-bit samples at 48 kHz, of shape (frames, 1 or 2); an incomplete last hop is
            ignored.
    """
    hops = len(samples) // HOP
    top, lost = _weights()
    starts = range(0, hops, _HOPS_AT_ONCE)
    with ThreadPoolExecutor(2) as pool:
        parts = pool.map(
            lambda hop: _energies(samples[hop * HOP :], min(hops - hop, _HOPS_AT_ONCE), top, lost),
            starts,
        )
        return np.concatenate([np.zeros(0), *parts])


def _energies(
    samples: NDArray[np.int16], hops: int, top: float, lost: NDArray[np.float32]
) -> NDArray[np.float64]:
    """Return the energies of the first hops; both channels share one complex transform."""
    values = samples[: hops * HOP].astype(np.float32)
    flat = values.reshape(hops, -1)
    total = np.einsum("ij,ij->i", flat, flat).astype(np.float64)
    if samples.shape[1] == 1:
        values = np.concatenate((values, np.zeros_like(values)), axis=1)
    both = values.view(np.complex64).reshape(-1)
    added = both[::_DECIMATION] + both[1::_DECIMATION] + both[2::_DECIMATION] + both[3::_DECIMATION]
    spectra = np.fft.fft(added.reshape(hops, -1))
    powers = spectra.real**2 + spectra.imag**2
    taken = (powers @ lost).astype(np.float64) / HOP
    energies: NDArray[np.float64] = np.maximum(top * total - taken, 0) / (HOP * FULL_SCALE**2)
    return energies


def _weights() -> tuple[float, NDArray[np.float32]]:
    """Return the flat part of the K-weighting of power, and the loss at each lower frequency.

    The losses are for the spectrum of a hop whose frames were summed by fours.
    """
    turn = np.exp(-2j * np.pi * np.arange(HOP) / HOP)
    power = np.ones(HOP)
    for over, under in (_SHELF, _HIGH_PASS):
        power *= np.abs(np.polyval(over[::-1], turn) / np.polyval(under[::-1], turn)) ** 2
    edge = _FLAT_HERTZ * HOP // RATE
    top = float(power[edge : HOP - edge].mean())
    few = HOP // _DECIMATION
    near = np.r_[0 : few // 2, HOP - few // 2 : HOP]
    dulled = np.abs(np.polyval(np.ones(_DECIMATION) / _DECIMATION, turn[near])) ** 2
    return top, ((top - power[near]) / dulled).astype(np.float32)


def lufs(energies: NDArray[np.float64]) -> float:
    """Return the loudness in LUFS from the energy of every 100 ms; minus infinity for silence."""
    if len(energies) < _HOPS_A_BLOCK:
        blocks = energies[:0]
    else:
        sums = np.cumsum(np.concatenate(([0.0], energies)))
        blocks = (sums[_HOPS_A_BLOCK:] - sums[:-_HOPS_A_BLOCK]) / _HOPS_A_BLOCK
    audible = blocks[blocks > _energy(_SILENCE)]
    if not len(audible):
        return -np.inf
    rest = _loudness(float(audible.mean()))
    return _loudness(float(audible[audible > _energy(rest + _BELOW_THE_REST)].mean()))


def _loudness(energy: float) -> float:
    return float(_OFFSET + 10 * np.log10(energy))


def _energy(loudness: float) -> float:
    return float(10 ** ((loudness - _OFFSET) / 10))


TARGET_LUFS = -16.0
"""The highest loudness of music that is levelled by the track: AES TD1008, as reported by Radio
World, "Streaming Audio Loudness Guidelines Explained"."""

HIGHEST_PEAK_DB = -1.0
"""The highest true peak, our choice."""

STEP = 64
"""Frames between two gains."""

_MARGIN_DB = 0.2
"""Margin below the highest peak, since the gain may change within a wave."""

_REACH_STEPS = 6
"""Steps (8 ms) over which the gain falls before a peak and rises after it."""

_NEAR = 0.6
"""A step is oversampled if its sample peak is at least this share of the highest peak: music rises
no further between two samples."""

_OVERSAMPLED = 4
_AROUND = 2
"""Steps of context on either side of an oversampled step."""

_ROUNDS = 6
_NEAR_ENOUGH_LU = 0.02
_MOST_GAIN_DB = 60.0
_STEPS_AT_ONCE = 4096
"""Steps per batch."""


@dataclass(frozen=True, slots=True)
class Gain:
    """A gain over time.

    Attributes:
        steps: the gain at the edges of the steps of 64 frames.
        lufs: the resulting loudness in LUFS; minus infinity for silence.
    """

    steps: NDArray[np.float32]
    lufs: float

    def applied(self, samples: Samples) -> Iterator[Samples]:
        """Yield the samples with the gain applied, some seconds at a time, clipped to 16 bits."""
        with ThreadPoolExecutor(2) as pool:
            firsts = range(0, len(self.steps) - 1, _STEPS_AT_ONCE)
            yield from pool.map(lambda first: self._piece(samples, first), firsts)

    def _piece(self, samples: Samples, first: int) -> Samples:
        piece = samples[first * STEP : (first + _STEPS_AT_ONCE) * STEP]
        gain = _per_frame(self.steps[first : first + _STEPS_AT_ONCE + 1])[: len(piece)]
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
    """Return the gain that brings a recording to a loudness without peaks above a limit.

    Args:
        samples: the recording.
        shape: a gain from 0 to 1 at the edges of the steps to apply first, such as a fade.
        target_lufs: the loudness.
        highest_db: the limit of true peaks, in dB relative to full scale.
    """
    steps = -(-len(samples) // STEP)
    shape_or_ones = np.ones(steps + 1, np.float32) if shape is None else shape
    energies = hop_energies(samples)
    ceiling = FULL_SCALE * 10 ** ((highest_db - _MARGIN_DB) / 20)
    peaks = _sample_peaks(samples, steps)
    is_true = np.zeros(steps, bool)
    gain_db = 0.0
    for _ in range(_ROUNDS):
        gain = _limited(
            samples, peaks, is_true, shape_or_ones * np.float32(10 ** (gain_db / 20)), ceiling
        )
        loudness = lufs(energies * _hop_power(gain, len(energies)))
        if not np.isfinite(loudness) or abs(target_lufs - loudness) < _NEAR_ENOUGH_LU:
            break
        gain_db = min(gain_db + target_lufs - loudness, _MOST_GAIN_DB)
    return Gain(gain, loudness)


def _limited(
    samples: Samples,
    peaks: NDArray[np.float32],
    is_true: NDArray[np.bool_],
    gain: NDArray[np.float32],
    ceiling: float,
) -> NDArray[np.float32]:
    """Return the gain, reduced where a peak would exceed the ceiling.

    Args:
        samples: the recording.
        peaks: the peak of each step; sample peaks are replaced by true peaks where needed.
        is_true: which of them are true peaks; updated.
        gain: the gain at the edges of the steps.
        ceiling: the limit, as a sample value.
    """
    highest = np.maximum(gain[:-1], gain[1:])
    near = np.flatnonzero((peaks * highest > _NEAR * ceiling) & ~is_true)
    if len(near):
        peaks[near] = np.maximum(peaks[near], _true_peaks(samples, near))
        is_true[near] = True
    share = np.minimum(1, ceiling / np.maximum(peaks * highest, 1e-9)).astype(np.float32)
    return gain * _smoothed(share)


def _smoothed(share: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return a smooth gain at the edges of the steps, nowhere above the share of a step.

    It is the moving mean of the moving minimum: all values in the mean are at most the share of
    the step in its middle.
    """
    if not (share < 1).any():
        return np.ones(len(share) + 1, np.float32)
    around = np.pad(share, 2 * _REACH_STEPS + 1, constant_values=1)
    least = sliding_window_view(around, 2 * _REACH_STEPS + 2).min(axis=1)
    mean: NDArray[np.float32] = sliding_window_view(least, 2 * _REACH_STEPS + 1).mean(axis=1)
    return mean


def _sample_peaks(samples: Samples, steps: int) -> NDArray[np.float32]:
    peaks = np.zeros(steps, np.float32)
    full_steps = len(samples) // STEP
    pairs = samples[: full_steps * STEP].reshape(full_steps, STEP * samples.shape[1])
    peaks[:full_steps] = np.maximum(pairs.max(axis=1), -pairs.min(axis=1).astype(np.int32))
    if full_steps < steps:
        peaks[-1] = np.abs(samples[full_steps * STEP :].astype(np.int32)).max()
    return peaks


def _true_peaks(samples: Samples, steps: NDArray[np.intp]) -> NDArray[np.float32]:
    """Return the true peaks of some steps, oversampled by padding their spectra with zeros."""
    frames = (2 * _AROUND + 1) * STEP
    window = np.arange(-_AROUND * STEP, (_AROUND + 1) * STEP)
    inside = slice(_AROUND * STEP * _OVERSAMPLED, (_AROUND + 1) * STEP * _OVERSAMPLED)
    taper = np.ones(frames, np.float32)
    taper[:STEP] = np.sin(np.linspace(0, np.pi / 2, STEP, endpoint=False)) ** 2
    taper[-STEP:] = taper[:STEP][::-1]
    found = []
    for first in range(0, len(steps), _STEPS_AT_ONCE):
        places = steps[first : first + _STEPS_AT_ONCE, None] * STEP + window
        pieces = samples[np.clip(places, 0, len(samples) - 1)].astype(np.float32)
        pieces *= taper[:, None]
        spectra = np.fft.rfft(pieces, axis=1)
        fine = np.fft.irfft(spectra, frames * _OVERSAMPLED, axis=1)[:, inside] * _OVERSAMPLED
        found.append(np.abs(fine).max(axis=(1, 2)))
    return np.concatenate(found).astype(np.float32)


def _hop_power(gain: NDArray[np.float32], hops: int) -> NDArray[np.float64]:
    """Return the mean squared gain of every 100 ms."""
    steps = HOP // STEP
    squares = gain[: hops * steps].astype(np.float64) ** 2
    power: NDArray[np.float64] = squares.reshape(hops, steps).mean(axis=1)
    return power


def _per_frame(steps: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the gain of every frame, interpolated between the edges of the steps."""
    fraction = np.arange(STEP, dtype=np.float32) / STEP
    gain = steps[:-1, None] + np.diff(steps)[:, None] * fraction
    return gain.reshape(-1).astype(np.float32, copy=False)
