"""Where on the chart a page is told that bars and chords stand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.chart.read import read_chart
from backing.control.progress import Position, Progress
from backing.control.settings import LiveSettings
from backing.live.agenda import Queued
from backing.live.source import Source
from backing.live.view import View
from backing.performance.settings import Settings
from backing.stand.broadcast import Broadcast

CHART = read_chart(
    "key: G\nform: A B A\nintro: last 1\nending: tag\n"
    "[A]\n| (pickup 1/4) D7 |: G | C :|\n[B]\n| (pickup 1/4) E7 | Am | F D7 |\n"
)


def _told(most: int = 40, *, loop: str | None = None, semitones: int = 0) -> list[dict[str, Any]]:
    """Return what a page is told of the bars from the start on."""
    base = Settings(bpm=120, choruses=1, count_in=0)
    live = LiveSettings.of(CHART, base, endless=False)
    live = replace(live, loop=loop, semitones=semitones)
    source, progress = Source(), Progress()
    bars: list[Queued] = []
    after: Position | None = progress.position
    while after is not None and len(bars) < most:
        bar, after = source.next(live, progress.at(after))
        bars.append(Queued(bar, 0, bar.bpm, 0, None))
    (message, *_) = Broadcast(0).news(View(1, False, (), None, tuple(enumerate(bars)), 0))
    added: list[dict[str, Any]] = message["add"]
    return added


def test_bars_and_chords_have_their_places() -> None:
    """By part, which one of that name, and bar as written; an intro and a tag stand nowhere."""
    told = _told()
    assert [(each["part"], each["bar"]) for each in told] == [
        ("intro", None),
        ("A", ("A", 0, 1)), ("A", ("A", 0, 2)), ("A", ("A", 0, 1)), ("A", ("A", 0, 2)),
        ("B", ("B", 0, 1)), ("B", ("B", 0, 2)),
        ("A 2", ("A", 1, 1)), ("A 2", ("A", 1, 2)), ("A 2", ("A", 1, 1)), ("A 2", ("A", 1, 2)),
        *[("tag", None)] * 8,
        ("ending", None),
    ]  # fmt: skip
    assert [each["cells"] for each in told[1:5]] == [
        [("A", 1, 0)],
        [("A", 2, 0), ("A", 0, 0)],
        [("A", 1, 0)],
        [("A", 2, 0), ("B", 0, 0)],
    ]
    assert [text for _, text, _ in told[4]["chords"]] == ["C", "E7"]


def test_the_first_bar_of_a_loop_stands_where_the_loop_begins() -> None:
    """The second A is not the first one, from its first bar on."""
    told = _told(3, loop="A 2")
    assert [each["bar"] for each in told] == [("A", 1, 1), ("A", 1, 2), ("A", 1, 1)]


@examples(20)
@given(semitones=st.integers(-6, 6))
def test_chords_are_spelled_where_they_are_drawn(semitones: int) -> None:
    """In the key that sounds, each at the place of a chord of the chart."""
    told = _told(8, semitones=semitones)
    for each in told[1:]:
        assert len(each["chords"]) == len(each["cells"])
        for (_, text, _), (part, written, number) in zip(
            each["chords"], each["cells"], strict=True
        ):
            bar = list(CHART.part(part).written())[written]
            chord = bar.chords[number].chord
            assert chord is not None
            fifths = CHART.key.fifths_up(semitones)
            assert text == str(chord.up(fifths).plain())
