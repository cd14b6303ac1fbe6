"""A picture of the notes of two choruses."""

from __future__ import annotations

from typing import TYPE_CHECKING

import matplotlib as mpl

from backing.style.library import find_style
from backing.style.model import DRUM_KEYS

from .ears import listen

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes

    from .ears import Heard, Listener

TUNE, BARS_A_LINE = "Fiddle", 8
BASS_COLOUR, CHOP_COLOUR = (0.05, 0.2, 0.5), (0.6, 0.25, 0.0)
_NAMES = {key: name for name, key in DRUM_KEYS.items()}


def draw(style: str, path: Path, bpm: float | None = None, seed: int = 1) -> None:
    """Draw two choruses of a tune in a style at looseness 0.

    A line has eight bars: above a piano roll with the chords over it, below it a grid of the drums.
    Loud notes are dark; bar lines are thick, beats thin.

    Args:
        style: the style's name.
        path: the file, a PNG.
        bpm: quarter notes a minute; without it the style's usual tempo.
        seed: the seed.

    """
    mpl.use("Agg")
    from matplotlib import pyplot as plt

    found = find_style(style)
    one = listen(TUNE, style, bpm or found.usual_bpm, seed, 2)
    lines = -(-len(one.bars) // BARS_A_LINE)
    drums = sorted({each.pitch for each in one.drums})
    figure, axes = plt.subplots(
        2 * lines,
        1,
        figsize=(22, lines * (4.2 + 0.22 * len(drums))),
        height_ratios=[3.4, 0.4 + 0.22 * len(drums)] * lines,
        squeeze=False,
        layout="constrained",
    )
    for line in range(lines):
        first = line * BARS_A_LINE
        _roll(axes[2 * line][0], one, first)
        _grid(axes[2 * line + 1][0], one, first, drums)
    figure.suptitle(f"{style}, {one.bpm:g} quarter notes a minute, {found.meters[0]}, seed {seed}")
    figure.savefig(path, dpi=70)
    plt.close(figure)


def _span(one: Listener, first: int) -> tuple[int, int]:
    last = min(first + BARS_A_LINE, len(one.bars)) - 1
    return one.bars[first].start, one.bars[last].end


def _ruled(axes: Axes, one: Listener, first: int) -> None:
    """Draw bar lines and beats, and set the axis to them."""
    start, end = _span(one, first)
    for bar in one.bars[first : first + BARS_A_LINE]:
        axes.axvline(bar.start, color="0.3", linewidth=1.4, zorder=0)
        beat = bar.context.sequenced.meter.beat_ticks
        for tick in range(beat, bar.context.ticks, beat):
            axes.axvline(bar.start + tick, color="0.8", linewidth=0.6, zorder=0)
    axes.set_xlim(start, max(end, start + BARS_A_LINE * (one.bars[first].context.ticks)))
    axes.set_xticks([])


def _roll(axes: Axes, one: Listener, first: int) -> None:
    _ruled(axes, one, first)
    for notes, variation in ((one.bass, BASS_COLOUR), (one.chop, CHOP_COLOUR)):
        shown = _shown(one, notes, first)
        axes.barh(
            [each.pitch for each in shown],
            [each.length for each in shown],
            left=[one.bars[each.bar].start + each.tick for each in shown],
            height=0.9,
            color=[(*variation, _darkness(each)) for each in shown],
        )
    pitches = [each.pitch for each in (*one.bass, *one.chop)]
    low, high = min(pitches), max(pitches)
    axes.set_ylim(low - 1.5, high + 4)
    octaves = [key for key in range(low, high + 1) if key % 12 == 0]
    axes.set_yticks(octaves, [f"C{key // 12 - 1}" for key in octaves])
    axes.grid(axis="y", color="0.9", linewidth=0.6)
    for number in range(first, min(first + BARS_A_LINE, len(one.bars))):
        bar = one.bars[number]
        sequenced = bar.context.sequenced
        if sequenced.index == 0:
            axes.text(
                bar.start,
                high + 5,
                f"{sequenced.part} {bar.context.chorus}",
                weight="bold",
                va="bottom",
            )
        for tick, chord in bar.chords:
            axes.text(bar.start + tick + 60, high + 1.2, str(chord or "N.C."), size=11)


def _grid(axes: Axes, one: Listener, first: int, drums: list[int]) -> None:
    _ruled(axes, one, first)
    shown = _shown(one, one.drums, first)
    axes.scatter(
        [one.bars[each.bar].start + each.tick for each in shown],
        [drums.index(each.pitch) for each in shown],
        marker="s",
        s=34,
        c=[(0.0, 0.0, 0.0, _darkness(each)) for each in shown],
    )
    axes.set_yticks(range(len(drums)), [_NAMES.get(key, str(key)) for key in drums])
    axes.set_ylim(-0.6, max(len(drums) - 0.4, 0.6))


def _shown(one: Listener, notes: list[Heard], first: int) -> list[Heard]:
    return [each for each in notes if first <= each.bar < first + BARS_A_LINE]


def _darkness(note: Heard) -> float:
    return min(max((note.velocity - 20) / 90, 0.12), 1.0)
