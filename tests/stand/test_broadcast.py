"""The places of bars and chords on the chart, as clients are sent them."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.chart.read import read_chart
from backing.control.progress import Position, Progress
from backing.control.settings import LiveSettings
from backing.live.agenda import Queued
from backing.live.source import COUNT_IN, Source
from backing.live.timeline import View
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.stand.broadcast import Broadcast
from backing.stand.messages import Bars, LiveBar

CHART = read_chart(
    "key: G\nform: A B A\nintro: last 1\nending: tag\n"
    "[A]\n| (pickup 1/4) D7 |: G | C :|\n[B]\n| (pickup 1/4) E7 | Am | F D7 |\n"
)


def _announced(most: int = 40, *, loop: str | None = None, semitones: int = 0) -> list[LiveBar]:
    """Return the bars from the start on, as they are announced."""
    base = Settings(bpm=120, choruses=1, count_in=0)
    live = LiveSettings.of(CHART, base, endless=False)
    live = replace(live, loop=loop, semitones=semitones)
    source, progress = Source(), Progress()
    bars: list[Queued] = []
    after: Position | None = progress.position
    while after is not None and len(bars) < most:
        bar, after = source.next(live, progress.at(after))
        bars.append(Queued(bar, 0, bar.bpm, 0, None))
    (message, *_) = Broadcast(0).changes(View(1, False, (), None, tuple(enumerate(bars))))
    assert isinstance(message, Bars)
    return message.add


def test_bars_and_chords_have_their_places() -> None:
    """Part, occurrence and number of the bar as written; an intro and a tag have none."""
    announced = _announced()
    assert [(each.part, each.bar) for each in announced] == [
        ("intro", None),
        ("A", ("A", 0, 1)), ("A", ("A", 0, 2)), ("A", ("A", 0, 1)), ("A", ("A", 0, 2)),
        ("B", ("B", 0, 1)), ("B", ("B", 0, 2)),
        ("A 2", ("A", 1, 1)), ("A 2", ("A", 1, 2)), ("A 2", ("A", 1, 1)), ("A 2", ("A", 1, 2)),
        *[("tag", None)] * 8,
        ("ending", None),
    ]  # fmt: skip
    assert [each.cells for each in announced[1:5]] == [
        [("A", 1, 0)],
        [("A", 2, 0), ("A", 0, 0)],
        [("A", 1, 0)],
        [("A", 2, 0), ("B", 0, 0)],
    ]
    assert [text for _, text, _ in announced[4].chords] == ["C", "E7"]


def test_the_bars_of_a_loop_are_those_of_its_occurrence() -> None:
    """A loop of the second A names the second occurrence in every bar."""
    announced = _announced(3, loop="A 2")
    assert [each.bar for each in announced] == [("A", 1, 1), ("A", 1, 2), ("A", 1, 1)]


def test_a_bar_names_the_path_of_its_chorus() -> None:
    """Live bars have the paths of the file, in every chorus and through the last time."""
    for seed in (1, 2):
        base = Settings(bpm=120, choruses=9, count_in=1, seed=seed)
        live = LiveSettings.of(CHART, base, endless=True)
        source, progress = Source(), Progress()
        written = Performance(CHART, replace(base, choruses=9))
        paths = {
            context.chorus: written.bar(context.number).path
            for context in map(written.context, range(written.length))
            if context
        }
        after: Position | None = progress.position
        heard: dict[int, set[int]] = {}
        while after is not None:
            if after.chorus == 9 and after.bar == ("A", 1, 1):
                live = replace(live, last_time=True)
            bar, after = source.next(live, progress.at(after))
            if bar.part != COUNT_IN:
                queued = Queued(bar, 0, bar.bpm, 0, None)
                message = Broadcast(0).changes(View(1, False, (), None, ((0, queued),)))[0]
                assert isinstance(message, Bars)
                heard.setdefault(message.add[0].chorus, set()).add(message.add[0].path)
        assert heard == {chorus: {path} for chorus, path in paths.items()}
        assert len(set(paths.values())) > 1


@examples(20)
@given(semitones=st.integers(-6, 6))
def test_chords_are_spelled_where_they_are_drawn(semitones: int) -> None:
    """Chords are spelled in the sounding key, each at the place of a chord of the chart."""
    announced = _announced(8, semitones=semitones)
    for each in announced[1:]:
        assert len(each.chords) == len(each.cells)
        for (_, text, _), (part, written, number) in zip(each.chords, each.cells, strict=True):
            bar = list(CHART.part(part).written())[written]
            chord = bar.chords[number].chord
            assert chord is not None
            fifths = CHART.key.fifths_up(semitones)
            assert text == str(chord.up(fifths).plain())
