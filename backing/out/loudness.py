"""How loud sound is.

Conventions: loudness is that of EBU R 128, measured as ITU-R BS.1770-4 has it: K-weighted, in
blocks of 400 ms every 100 ms, of which those below -70 LUFS and those 10 LU below the rest are left
out. Coefficients and gates are the standard's, for 48 kHz. The weighting is laid on the spectrum of
each 100 ms instead of being run through the samples one by one, which takes a tenth of the time
and comes within a twentieth of a unit of it; what one knows of each 100 ms also says how loud it
will be with any slow gain.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

RATE = 48_000
HOP = RATE // 10
"""Frames of 100 ms."""

FULL_SCALE = 32_768.0

_SHELF = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285),
    (
        1.0,
        -1.69065929318241,
        0.73248077421585,
    ),
)
_HIGH_PASS = (1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)
"""The two stages of K-weighting at 48 kHz (ITU-R BS.1770-4, tables 1 and 2)."""

_OFFSET = -0.691
_SILENCE, _BELOW_THE_REST = -70.0, -10.0
_HOPS_A_BLOCK = 4

_AT_ONCE = 256
"""Hops that are looked at together."""


def hop_energies(samples: NDArray[np.int16]) -> NDArray[np.float64]:
    """Return the K-weighted energy of every 100 ms, the channels added up; full scale is 1.

    Args:
        samples: 16-bit samples at 48 kHz, of shape (frames, 1 or 2); what does not fill the last
            100 ms is left out.
    """
    hops = len(samples) // HOP
    weights = _weights()
    starts = range(0, hops, _AT_ONCE)
    with ThreadPoolExecutor(2) as pool:
        parts = pool.map(lambda hop: _energies(samples, hop, hops, weights), starts)
        return np.concatenate([np.zeros(0), *parts])


def _energies(
    samples: NDArray[np.int16], first: int, hops: int, weights: NDArray[np.float32]
) -> NDArray[np.float64]:
    """Return the energies of some hops; two channels go through one complex transform."""
    last = min(first + _AT_ONCE, hops)
    values = samples[first * HOP : last * HOP].astype(np.float32)
    if samples.shape[1] == 1:
        values = np.concatenate((values, np.zeros_like(values)), axis=1)
    spectra = np.fft.fft(values.view(np.complex64).reshape(last - first, HOP))
    powers = spectra.real**2 + spectra.imag**2
    energies: NDArray[np.float64] = (powers @ weights).astype(np.float64) / (HOP * FULL_SCALE) ** 2
    return energies


def _weights() -> NDArray[np.float32]:
    """Return what the K-weighting does to the power at each frequency of a hop's spectrum."""
    turn = np.exp(-2j * np.pi * np.arange(HOP) / HOP)
    power = np.ones(HOP)
    for over, under in (_SHELF, _HIGH_PASS):
        power *= np.abs(np.polyval(over[::-1], turn) / np.polyval(under[::-1], turn)) ** 2
    return power.astype(np.float32)


def lufs(energies: NDArray[np.float64]) -> float:
    """Return the loudness of a recording from the energy of every 100 ms; silence is -inf."""
    if len(energies) < _HOPS_A_BLOCK:
        blocks = energies[:0]
    else:
        sums = np.cumsum(np.concatenate(([0.0], energies)))
        blocks = (sums[_HOPS_A_BLOCK:] - sums[:-_HOPS_A_BLOCK]) / _HOPS_A_BLOCK
    heard = blocks[blocks > _energy(_SILENCE)]
    if not len(heard):
        return -np.inf
    rest = _loudness(float(heard.mean()))
    return _loudness(float(heard[heard > _energy(rest + _BELOW_THE_REST)].mean()))


def _loudness(energy: float) -> float:
    return float(_OFFSET + 10 * np.log10(energy))


def _energy(loudness: float) -> float:
    return float(10 ** ((loudness - _OFFSET) / 10))
