"""Difficult charts, in every style and each of its meters.

Bars of another meter inside a part, a chord on every beat, two chords a beat apart, one chord for
64 bars: ours.
"""

from __future__ import annotations

from itertools import groupby

import pytest

from backing.chart.read import read_chart
from backing.notes import RHYTHM, Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import all_styles
from backing.timing import Meter

STYLES = {style.name: style for style in all_styles()[0]}
PAIRS = [(name, str(meter)) for name, style in STYLES.items() for meter in style.meters]
ODD = {
    "4/4": "2/4",
    "3/4": "2/4",
    "6/8": "9/8",
    "9/8": "6/8",
    "12/8": "6/8",
    "2/4": "3/4",
    "2/2": "3/2",
}
EVERYBODY = frozenset(RHYTHM)


def chart_of(kind: str, meter: str) -> str:
    """Return the text of a hard chart in a meter."""
    head = f"key: G\nmeter: {meter}\n[A]\n"
    beats = Meter.parse(meter).beats
    if kind == "one chord":
        return head + "| G " * 64 + "|\n"
    if kind == "odd bars":
        odd = f"({ODD[meter]}) D"
        return head + f"| G | C | {odd} | G | Em | {odd} | D7 | G |\n"
    if kind == "a chord a beat":
        chords = " ".join(["G", "C", "D7", "Em"][:beats])
        return head + f"| {chords} " * 8 + "|\n"
    late = "G" + " /" * (beats - 2) + " D7"
    return head + f"| {late} " * 8 + "|\n"


@pytest.mark.parametrize("name, meter", PAIRS)
@pytest.mark.parametrize("kind", ["odd bars", "a chord a beat", "one beat before"])
def test_nobody_is_lost(name: str, meter: str, kind: str) -> None:
    """All play in every bar, in range, at the limits of the tempi and far beyond them."""
    chart = read_chart(chart_of(kind, meter), "x.chart")
    style = STYLES[name]
    for bpm in (style.slowest_bpm, 300.0):
        settings = Settings(style=name, bpm=bpm, choruses=2, called=EVERYBODY, seed=3)
        performance = Performance(chart, settings)
        for number in range(performance.route.bars):
            bar, context = performance.bar(number), performance.context(number)
            if context and context.harmony and not context.is_end:
                assert {note.player for note in bar.notes} == EVERYBODY
            for note in bar.notes:
                low, high = style.bass.range if note.player is Player.BASS else (0, 127)
                assert low <= note.pitch <= high


@pytest.mark.parametrize("name, meter", PAIRS)
def test_one_chord_goes_on_without_a_rut(name: str, meter: str) -> None:
    """Over 64 bars of one chord nobody repeats a bar more than eight times; bass and drums vary."""
    chart = read_chart(chart_of("one chord", meter), "x.chart")
    settings = Settings(style=name, choruses=1, called=EVERYBODY, looseness=0.0, seed=3)
    performance = Performance(chart, settings)
    for player in (Player.BASS, Player.DRUMS):
        bars = []
        for number in range(63):
            bar = performance.bar(number)
            own = [note for note in bar.notes if note.player is player]
            bars.append(tuple((note.tick - bar.start, note.pitch) for note in own))
        assert max(len(list(same)) for _, same in groupby(bars)) <= 8
        assert len(set(bars)) >= 5
