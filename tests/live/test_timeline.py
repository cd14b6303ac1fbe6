"""The timeline: tempo changes from now on, and as of a moment ago."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from backing.control.progress import Progress
from backing.control.settings import LiveSettings
from backing.live.source import LiveBar, Source
from backing.live.timeline import KEPT_SECONDS, Timeline
from tests.live.charts import TWO_PARTS

BAR_TICKS = 4 * 960


_MADE = Source().next(LiveSettings.of(TWO_PARTS), Progress())[0]


def _bar(bpm: float, main_bpm: float) -> LiveBar:
    return replace(_MADE, bpm=bpm, main_bpm=main_bpm)


def _seconds(ticks: float, bpm: float) -> float:
    """Return the length of ticks: a quarter note of 960 lasts 60 / bpm seconds (arithmetic)."""
    return ticks / 960 * 60 / bpm


def test_a_tempo_applies_from_its_time() -> None:
    """Two seconds at 120, then 180: the tick of the change keeps its time."""
    line = Timeline(120)
    line.start(10.0, 120)
    line.begin(0, 10.0, 120, _bar(120, 120))

    line.retime(12.0, 180)

    assert line.now.seconds_at(4 * 960) == pytest.approx(12.0)
    assert line.now.seconds_at(5 * 960) == pytest.approx(12.0 + 60 / 180)


def test_a_tempo_as_of_a_moment_ago() -> None:
    """A bar line since then moves earlier, and so does all after it."""
    line = Timeline(120)
    line.start(0.0, 120)
    line.begin(0, 0.0, 120, _bar(120, 120))
    line.begin(BAR_TICKS, 2.0, 120, _bar(120, 120))

    line.retime(1.75, 240)  # half a beat before the bar line, heard a little late

    heard, bar_line = line.anchors[-2:]
    assert (heard.tick, heard.seconds) == (3360, pytest.approx(1.75))
    assert (bar_line.tick, bar_line.seconds) == (BAR_TICKS, pytest.approx(1.75 + 0.125))
    assert line.now.seconds_at(BAR_TICKS + 960) == pytest.approx(1.875 + 0.25)
    assert line.now.bpm == 240


def test_a_part_with_its_own_tempo_keeps_its_relation() -> None:
    """The second bar is at 3/4 of the main tempo, and slows down to half of that."""
    line = Timeline(120)
    line.start(0.0, 120)
    line.begin(0, 0.0, 120, _bar(120, 120))
    line.begin(BAR_TICKS, 2.0, 90, _bar(90, 120))
    line.slow(BAR_TICKS + 1920, 2.0 + _seconds(1920, 90), 0.5)

    line.retime(1.0, 200)

    assert [each.bpm for each in line.anchors] == [120, 200, 150, 75]
    assert line.anchors[2].seconds == pytest.approx(1.0 + _seconds(1920, 200))
    assert line.anchors[3].seconds == pytest.approx(line.anchors[2].seconds + _seconds(1920, 150))


def test_before_the_first_beat_only_the_tempo_changes() -> None:
    """Tick 0 keeps its time."""
    line = Timeline(120)
    line.start(5.0, 120)

    line.retime(4.9, 60)

    assert line.now.seconds_at(0) == 5.0
    assert line.now.seconds_at(960) == pytest.approx(6.0)


def test_the_bar_at_a_time_is_known() -> None:
    """A pause goes back to the bar that the player heard."""
    first, second = _bar(120, 120), _bar(120, 120)
    line = Timeline(120)
    line.start(0.0, 120)
    line.begin(0, 0.0, 120, first)
    line.begin(BAR_TICKS, 2.0, 120, second)

    assert line.bar_at(1.9) is first
    assert line.bar_at(2.1) is second


def test_old_anchors_are_dropped() -> None:
    """Only the last few seconds are kept."""
    line = Timeline(240)
    line.start(0.0, 240)
    for number in range(500):
        line.begin(number * BAR_TICKS, float(number), 240, _bar(240, 240))

    assert line.anchors[0].seconds >= 499 - KEPT_SECONDS - 1
    assert line.now.tick == 499 * BAR_TICKS


@given(
    st.lists(st.tuples(st.floats(0, 0.4), st.floats(0, 0.3), st.floats(20, 500)), max_size=20),
)
@example([(0.0, 0.0, 95.375), (0.25, 0.0, 20.0), (0.002, 0.0, 81.0)])
def test_time_never_jumps(settings: list[tuple[float, float, float]]) -> None:
    """After any tempo changes, however late, anchors are in order and without gaps.

    A new tempo starts at the nearest whole tick, so half a tick before and after it may have a
    tempo that is set and replaced within that tick, at the slowest 20.
    """
    line = Timeline(120)
    line.start(0.0, 120)
    line.begin(0, 0.0, 120, _bar(120, 120))
    now, bar = 0.0, 0
    for wait, late, bpm in settings:
        now += wait
        while line.now.seconds_at((bar + 1) * BAR_TICKS) <= now:
            bar += 1
            due = line.now.seconds_at(bar * BAR_TICKS)
            line.begin(bar * BAR_TICKS, due, line.now.bpm, _bar(120, 120))
        line.retime(now - late, bpm)

    kept = line.anchors
    for before, after in pairwise(kept):
        assert after.tick > before.tick
        assert after.seconds - before.seconds == pytest.approx(
            _seconds(after.tick - before.tick, before.bpm), abs=_seconds(1, 20) + 1e-6
        )
