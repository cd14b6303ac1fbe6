"""Chords that change between the beats, and directions at chords of any length."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.band.context import harmony_of
from backing.chart.model import Bar, ChordSpan, Direction
from backing.chart.read import read_chart
from backing.chart.sequence import played_bars
from backing.harmony.chord import read_chord
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import all_styles
from backing.timing import EIGHTH, Meter

if TYPE_CHECKING:
    from hypothesis.strategies import DrawFn

EXACT = Settings(choruses=2, count_in=0, looseness=0.0, called=frozenset(Player))
STYLES = all_styles()[0]


def sounds(text: str) -> list[tuple[int, str]]:
    """Return the chords of the first chorus of a chart with their ticks."""
    chart = read_chart(f"ending: none\n{text}")
    bars = Performance(chart, replace(EXACT, style="two-beat", choruses=1)).bars()
    return [(tick, str(chord)) for bar in bars for tick, chord in bar.chords]


@pytest.mark.parametrize(
    "text, expected",
    [
        # pushed from an eighth or less away, a chord comes when it is written
        ('| C:7/8 D:1/8 "push" |', [(0, "C"), (2880, "D")]),
        ('| C:3/4 D:1/8 G "push" |', [(0, "C"), (2880, "D"), (3360, "G")]),
        ('| C:3/4 D:1/16 G:3/16 "push" |', [(0, "C"), (2880, "D"), (3120, "G")]),
        ('| C:1/16 D:15/16 "push" |', [(0, "C"), (240, "D")]),
        ('| C:7/8 D:1/8 | "push" G |', [(0, "C"), (3360, "D"), (3840, "G")]),
        # and from further away an eighth early, however short it is itself
        ('| C:13/16 D:1/16 "push" E:1/8 |', [(0, "C"), (2640, "D"), (3360, "E")]),
        ('| C:1/2 D | "push" G |', [(0, "C"), (1920, "D"), (3360, "G")]),
        ('| C:13/16 D:3/16 | "push" G |', [(0, "C"), (3120, "D"), (3360, "G")]),
        # the first chord of all has nothing before it
        ('| "push" C:1/8 D:7/8 |', [(0, "C"), (480, "D")]),
    ],
)
def test_a_push_leaves_something_of_the_chord_before(
    text: str, expected: list[tuple[int, str]]
) -> None:
    """No written chord is lost by a push."""
    assert expected == sounds(text)


def test_the_last_chord_is_pushed_like_others() -> None:
    """The ending begins where the last chord sounds."""
    for bar, tick in (
        ('| F | G7:7/8 C:1/8 "push" |', 3840 + 3360 - 480),
        ('| F | F:3/4 G7:1/8 C:1/8 "push" |', 3840 + 3360),
        ('| F | "push" C |', 3360),
        ('| F:7/8 G7:1/8 | "push" C |', 3840),
        ('| F | "push" G7:7/8 C:1/8 |', 3840 + 3360),
    ):
        performance = Performance(read_chart(f"key: C\n{bar}"), replace(EXACT, choruses=1))
        struck = [
            performance.context(number).start + each.tick  # type: ignore[union-attr]
            for number in range(performance.length)
            if performance.context(number).is_end  # type: ignore[union-attr]
            for each in performance.context(number).harmony[-1:]  # type: ignore[union-attr]
        ]
        assert struck == [tick], bar


WORDS = ["push", "stop", "hold", "break", "walk", "fill"]
CHORDS = [read_chord(each) for each in ("C", "Am7", "F#7", "Bb", "C/E")]


@st.composite
def short_bars(draw: DrawFn) -> Bar:
    """Bars with chords at any tick, some of them pushed or stopped."""
    meter = draw(st.sampled_from([Meter(4, 4), Meter(2, 4), Meter(7, 8), Meter(1, 8)]))
    step = draw(st.sampled_from([EIGHTH, EIGHTH // 2, 320, 1]))
    cuts = draw(st.sets(st.integers(1, max(meter.bar_ticks // step - 1, 1)), max_size=4))
    edges = [0, *(cut * step for cut in sorted(cuts) if cut * step < meter.bar_ticks)]
    spans = tuple(
        ChordSpan(start, end - start, draw(st.none() | st.sampled_from(CHORDS)))
        for start, end in pairwise([*edges, meter.bar_ticks])
    )
    words = [
        Direction(draw(st.sampled_from(WORDS)), span.tick, span.ticks)
        for span in spans
        if draw(st.booleans())
    ]
    return Bar(meter, spans, tuple(words))


@examples(200)
@given(st.lists(short_bars(), min_size=1, max_size=5))
def test_what_sounds_fills_the_bars(bars: list[Bar]) -> None:
    """Every chord of a bar sounds in order, without gap or overlap, for at least a tick."""
    around = [None, *bars, None]
    for before, bar, after in zip(around, bars, around[2:], strict=False):
        found = harmony_of(before, bar, after)
        assert found[0].tick == 0
        assert found[-1].end == bar.ticks
        assert all(one.end == other.tick for one, other in pairwise(found))
        assert all(each.ticks > 0 for each in found)
        assert [each.span for each in found if not each.in_next_bar] == list(range(len(bar.chords)))
        for each in found:
            if not each.in_next_bar:
                written = bar.chords[each.span]
                assert each.chord == written.chord
                assert written.tick - each.tick in {0, EIGHTH}
                assert not each.held_over or "push" in each.words
    for bar, after in pairwise(bars):
        early = harmony_of(None, bar, after)[-1].in_next_bar
        assert early == harmony_of(bar, after, None)[0].held_over


CHARTS = {
    Meter(4, 4): "| C:3/8 G7:1/8 C:1/12 D E C:1/4 | F:1/16 G:15/16 | C:7/8 D7:1/8 | G |",
    Meter(2, 4): '| Em:1/4 A:1/8 D:1/8 | G:3/8 "stop" C:1/8 | G:1/8 "hold" D:3/8 | G |',
    Meter(3, 4): '| C:3/8 G:3/8 | F:5/8 G7:1/8 "push" | C:1/12 D E F:1/2 | C |',
    Meter(6, 8): "| D:1/4 A:1/8 D:3/8 | G:1/8 A:5/8 | D:5/8 A7:1/8 | D |",
    Meter(9, 8): "| D:1/4 A:1/8 D:3/4 | G:1/8 A:1 | D:5/8 A7:1/2 | D |",
    Meter(12, 8): "| C7:1/4 F7:1/8 C7:9/8 | F7:11/8 G7:1/8 | C7:5/8 G7:7/8 | C7 |",
    Meter(2, 2): "| Em:1/4 D:3/4 | G:7/8 D:1/8 | C:3/8 D:5/8 | G |",
}
"""Charts that change between the beats, in every meter of the styles; the pickup is a short one."""


@pytest.mark.parametrize("style", [style.name for style in STYLES])
def test_all_styles_play_them(style: str) -> None:
    """The bars are whole, and markers name every written chord at its tick."""
    meters = next(each.meters for each in STYLES if each.name == style)
    for meter in meters:
        assert meter in CHARTS
        text = f"meter: {meter}\nending: none\n(pickup 1/8) D7 {CHARTS[meter]}"
        chart = read_chart(text)
        bars = list(Performance(chart, replace(EXACT, style=style)).bars())
        assert all(one.end == other.start for one, other in pairwise(bars))
        written = played_bars(chart.parts[0])
        for bar, own in zip(bars[1:], [*written, *written], strict=True):
            at = {tick - bar.start: chord for tick, chord in bar.chords}
            for span in own.chords:
                if "push" not in own.words_at(span.tick):
                    assert at[span.tick] == span.chord
        assert bars[4].chords[-1] == (bars[5].start - EIGHTH, read_chord("D7"))
