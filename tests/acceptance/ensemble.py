"""How much the players of a band have to do with each other, from the notes of whole takes.

Every figure is made twice: of the players of each take, and of players exchanged between takes (the
bass of one evening with the drums of another). Exchanged players know the chart and the style, but
not each other, so what the real band has more of is what its players agree on. As a program it
prints the figures of some styles:

    python -m tests.acceptance.ensemble [STYLE...]
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from backing.chart.read import read_chart
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import find_style
from backing.timing import EIGHTH

from .tunes import chart_text

if TYPE_CHECKING:
    from collections.abc import Callable

TAKES, CHORUSES = 12, 6
BASS, CHOP, DRUMS = range(3)
PAIRS = tuple(combinations((BASS, CHOP, DRUMS), 2))
NAMES = ("bass", "chop", "drums")
ANSWERING = {36, 37, 38}
"""General MIDI keys of kick, side stick and snare, with which a drummer accents and answers."""


@dataclass(frozen=True)
class Band:
    """Takes of one song in one style, each of its own seed and without timing.

    Attributes:
        velocities: by player, take, chorus, bar and eighth: the velocity of the loudest stroke, 0
            without one; of the drums kick, side stick and snare alone.
        fills: by take, chorus and bar: how many eighths a fill has.
    """

    velocities: np.ndarray
    fills: np.ndarray

    @cached_property
    def struck(self) -> np.ndarray:
        """Whether there is a stroke, indexed as `velocities`."""
        return self.velocities > 0

    @cached_property
    def accents(self) -> np.ma.MaskedArray:
        """Loudness by player, take, chorus and bar, with places and choruses taken out."""
        loud = np.ma.masked_equal(self.velocities, 0)
        rest = (loud - loud.mean(axis=(1, 2), keepdims=True)).mean(axis=-1)
        rest = rest - rest.mean(axis=-1, keepdims=True)
        return rest - rest.mean(axis=(1, 2), keepdims=True)


@lru_cache(4)
def band(style: str) -> Band:
    """Return takes of the reference song in a style."""
    chart = read_chart(chart_text("Song", find_style(style).meters[0]))
    drums = frozenset({Player.DRUMS})
    takes = [
        _measure(
            Performance(
                chart,
                Settings(style, choruses=CHORUSES, seed=seed, looseness=0.0, called=drums),
            )
        )
        for seed in range(1, TAKES + 1)
    ]
    return Band(
        np.stack([each for each, _ in takes], axis=1), np.stack([each for _, each in takes])
    )


def _measure(performance: Performance) -> tuple[np.ndarray, np.ndarray]:
    contexts = []
    while context := performance.context(len(contexts)):
        contexts.append(context)
    bars = 1 + max(each.step for each in contexts if each.chorus == 2)
    eighths = contexts[0].ticks // EIGHTH
    velocities = np.zeros((len(NAMES), CHORUSES, bars, eighths))
    fills = np.zeros((CHORUSES, bars), int)
    for context in contexts:
        if context.step >= bars:  # the ending
            continue
        at = context.chorus - 1, context.step
        fills[at] = context.fill.ticks // EIGHTH if context.fill else 0
        for note in performance.bar(context.number).notes:
            eighth = round((note.tick - context.start) / EIGHTH)
            if not 0 <= eighth < eighths:
                continue
            if note.player is not Player.DRUMS or note.pitch in ANSWERING:
                player = NAMES.index(note.player)
                place = (player, *at, eighth)
                velocities[place] = max(velocities[place], note.velocity)
    return velocities, fills


def accent_correlation(band: Band, first: int, second: int, shift: int = 0) -> float:
    """Return how the accents of two players by bar correlate.

    Args:
        band: the takes.
        first: one player.
        second: the other player.
        shift: how many takes further the second player comes from; 0 for the same take.
    """
    one, other = band.accents[first], np.roll(band.accents[second], shift, axis=0)
    return float(np.ma.corrcoef(one.ravel(), other.ravel())[0, 1])


def shared_bits(band: Band, first: int, second: int, shift: int = 0) -> float:
    """Return how much one player's off-beats tell of the other's, in bits a bar.

    It is the mutual information (Shannon 1948) of striking an off-beat or not, summed over the
    off-beats of the bar.

    Args: as for `accent_correlation`.
    """
    one, other = band.struck[first], np.roll(band.struck[second], shift, axis=0)
    return sum(_information(one[..., eighth], other[..., eighth]) for eighth in _between(band))


def _between(band: Band) -> range:
    return range(1, band.struck.shape[-1], 2)


def _information(one: np.ndarray, other: np.ndarray) -> float:
    """Return the mutual information of two yes-or-no arrays, in bits."""
    total = 0.0
    for a in (False, True):
        for b in (False, True):
            share = ((one == a) & (other == b)).mean()
            if share:
                total += share * np.log2(share / ((one == a).mean() * (other == b).mean()))
    return float(total)


def in_fills(band: Band, player: int) -> tuple[float, float]:
    """Return what a player does where a fill is, against the same places without a fill.

    The first figure is the ratio of strokes, the second the difference in velocity.
    """
    eighths = np.arange(band.struck.shape[-1])
    filled = eighths >= len(eighths) - band.fills[..., None]
    ratios, louder = [], []
    for bar in range(band.struck.shape[3]):
        for eighth in eighths:
            here, now = filled[:, :, bar, eighth], band.struck[player, :, :, bar, eighth]
            if here.any() and not here.all() and now[~here].any():
                ratios.append((now[here].mean(), now[~here].mean()))
                loud = band.velocities[player, :, :, bar, eighth]
                if (here & now).any():
                    louder.append(loud[here & now].mean() - loud[~here & now].mean())
    return (
        float(np.sum([each for each, _ in ratios]) / np.sum([each for _, each in ratios])),
        float(np.mean(louder)),
    )


def against_exchanged(
    measure: Callable[[Band, int, int, int], float], band: Band, first: int, second: int
) -> tuple[float, list[float]]:
    """Return a figure of the real band, and those of all exchanges of its players."""
    takes = band.velocities.shape[1]
    return (
        measure(band, first, second, 0),
        [measure(band, first, second, shift) for shift in range(1, takes)],
    )


def main(styles: list[str]) -> None:
    """Print the figures of some styles."""
    for style in styles or ["swing", "shuffle", "two-beat", "bossa-nova"]:
        found = band(style)
        for first, second in PAIRS:
            texts = []
            for measure in (accent_correlation, shared_bits):
                real, exchanged = against_exchanged(measure, found, first, second)
                texts.append(
                    f"{measure.__name__} {real:6.3f} (exchanged {min(exchanged):6.3f} to "
                    f"{max(exchanged):6.3f})"
                )
            print(f"{style:12s} {NAMES[first]:5s} {NAMES[second]:5s}", *texts)
        if found.fills.any():
            for player in (BASS, CHOP):
                ratio, louder = in_fills(found, player)
                print(f"{style:12s} {NAMES[player]} in fills: strokes x {ratio:.2f}, {louder:+.1f}")


if __name__ == "__main__":
    main(sys.argv[1:])
