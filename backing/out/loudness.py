"""Measure loudness.

Conventions: loudness is that of EBU R 128, measured by ITU-R BS.1770-4: K-weighted, in blocks of
400 ms every 100 ms, without the blocks below -70 LUFS and those 10 LU below the mean of the others.
Coefficients and gates are the standard's, for 48 kHz. The weighting is applied to the spectrum of
each 100 ms and not as a filter: it is flat from a few kHz on, so only the loss below is computed,
from the spectrum of sums of four frames. That is much faster than the filter and within 0.05 LU of
it for music, and the loudness after a slow gain follows from the same energies.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np

from backing.out.renderer import RATE

if TYPE_CHECKING:
    from numpy.typing import NDArray

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

_AT_ONCE = 256
"""Hops per batch."""


def hop_energies(samples: NDArray[np.int16]) -> NDArray[np.float64]:
    """Return the K-weighted energy of every 100 ms, summed over the channels; full scale is 1.

    Args:
        samples: 16-bit samples at 48 kHz, of shape (frames, 1 or 2); an incomplete last hop is
            ignored.
    """
    hops = len(samples) // HOP
    top, lost = _weights()
    starts = range(0, hops, _AT_ONCE)
    with ThreadPoolExecutor(2) as pool:
        parts = pool.map(
            lambda hop: _energies(samples[hop * HOP :], min(hops - hop, _AT_ONCE), top, lost),
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
