"""Commands while the band plays, on a manual clock."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import pytest
from charts import IN_TWO, LONGER, SHORTER, TWO_PARTS, WITH_PICKUP
from stage import Stage
from take import Take, keys_are_released, names, sounding, starts_part

from backing.chart.read import read_chart
from backing.control.progress import next_part
from backing.errors import BackingError
from backing.live.session import state_line
from backing.live.source import Source
from backing.live.transport import START_DELAY_SECONDS
from backing.notes import without_overlaps
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.performance.tempo import TempoMap
from backing.timing import ticks_to_seconds

CLOSING = read_chart(
    "style: swing\nform: A B Tag\n[A] 2\n| C | F |\n[B] 2\n| G | C |\n[Tag] 1\n| F |\n"
)
STEPS_AND_FIFTHS = {1, 2, 5, 7}


@pytest.mark.parametrize(
    "chart, lines, expected",
    [
        (TWO_PARTS, ["part B"], [("A", 0), ("B", 0), ("B", 1)]),
        (TWO_PARTS, ["part next"], [("A", 0), ("B", 0), ("B", 1)]),
        (TWO_PARTS, ["part a"], [("A", 0), ("A", 0), ("A", 1)]),
        (LONGER, ["part c"], [("Intro", 0), ("C", 0), ("C", 1)]),
        (LONGER, ["part next"], [("Intro", 0), ("A", 0), ("A", 1)]),
        (TWO_PARTS, ["loop 6-7"], [("A", 0), ("B", 1), ("B", 2), ("B", 1)]),
        (TWO_PARTS, ["loop 6-7", "part A"], [("A", 0), ("A", 0), ("A", 1)]),
        (TWO_PARTS, ["loop 6-7", "part B"], [("A", 0), ("B", 0), ("B", 1), ("B", 2), ("B", 3)]),
        (TWO_PARTS, ["part B", "loop A"], [("A", 0), ("A", 0), ("A", 1)]),
        (TWO_PARTS, ["part B", "pause", "play"], [("A", 0), ("count-in", 0), ("B", 0)]),
        (TWO_PARTS, ["pause", "part B", "play"], [("A", 0), ("count-in", 0), ("B", 0)]),
        (TWO_PARTS, ["pause", "play"], [("A", 0), ("count-in", 0), ("A", 0)]),
        (TWO_PARTS, ["part B", "stop", "play"], [("A", 0), ("count-in", 0), ("A", 0)]),
    ],
)
def test_the_band_goes_where_it_is_asked(
    chart: object, lines: list[str], expected: list[tuple[str, int]]
) -> None:
    """After a part, loop or pause command the next bar is the one asked for."""
    take = Take(chart)
    take.command("play")
    while names(take)[-1:] in ([], [("count-in", 0)], [("count-in", 1)]):
        take.run_bars(1)
    at = len(take.bars) - 1
    take.command(*lines)
    take.run_bars(len(expected) - 1)

    assert expected == [each for each in names(take)[at:] if each != ("count-in", 1)]


def test_next_twice_in_a_form_with_a_part_twice() -> None:
    """After the first A comes the second A, and then B."""
    take = Take(LONGER, count_in=0)
    take.command("play")
    take.run_bars(3)
    parts = []
    for _ in range(3):
        take.command("part next")
        take.run_bars(1)
        parts.append((take.bars[-1].part, take.bars[-1].position.bar))

    assert parts == [("A", ("A", 1, 0)), ("B", ("B", 0, 0)), ("C", ("C", 0, 0))]


@pytest.mark.parametrize("paused", [False, True])
@pytest.mark.parametrize(
    "looped, line, goes_on",
    [
        ("loop A", "part A", True),
        ("loop A", "part a 1", True),
        ("loop A", "part A 2", False),
        ("loop A", "part B", False),
        ("loop A", "part Intro", False),
        ("loop A", "part next", False),
        ("loop A 2", "part A", False),
        ("loop A 2", "part next", False),
        ("loop A-B", "part B", True),
        ("loop A-B", "part next", True),
        ("loop A-B", "part C", False),
        ("loop B-C", "part C", True),
        ("loop B-C", "part A", False),
        ("loop 4-8", "part A", False),
        ("loop 4-8", "part A 2", True),
        ("loop 1-17", "part C", True),
        ("loop C", "part next", False),
    ],
)
def test_a_part_outside_the_loop_ends_it(
    looped: str, line: str, goes_on: bool, paused: bool
) -> None:
    """A loop with the first bar of the part stays on; any other ends, with a message."""
    stage = Stage(LONGER)
    session, transport = stage.session, stage.session.transport
    session.command(looped)
    stage.run_bars(4)
    here = transport.now_bar
    assert here
    assert here.part != "count-in"
    if paused:
        transport.pause(stage.now)
    session.command(line)
    told = bool(session.messages)
    state = json.loads(state_line(transport, here))
    if paused:
        transport.play(stage.now)
    stage.run_bars(1)
    while (bar := transport.now_bar) and bar.part == "count-in":
        stage.run_bars(1)
    assert bar
    goal = line.split(maxsplit=1)[1]
    if goal == "next":
        name = next_part(LONGER, here.position.bar)
        assert bar.position.bar == name
    else:
        assert (bar.label.lower(), bar.index) == (goal.lower().removesuffix(" 1"), 0)
    assert (transport.settings.loop is not None, state["loop"] is not None) == (goes_on, goes_on)
    assert told is not goes_on
    if told:
        loop, label = looped.removeprefix("loop "), bar.label
        assert session.messages == [f"the loop {loop} is off: part {label} is not in it"]


def test_part_goes_to_a_tag_in_the_loop() -> None:
    """A tag in the loop can be chosen although it is not the last time."""
    take = Take(CLOSING, count_in=0)
    take.command("loop B-Tag", "play")
    take.run_bars(1)
    take.command("part Tag")
    take.run_bars(3)
    assert names(take) == [("B", 0), ("Tag", 0), ("B", 0), ("B", 1)]
    take.command("loop off")
    with pytest.raises(BackingError, match="Tag is played the last time only"):
        take.command("part Tag")


def test_after_a_loop_the_next_bar_follows() -> None:
    """When a loop of bars 6 to 7 ends, bar 8 follows, not the start of the part."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("loop 6-7", "play")
    take.run_bars(4)
    take.command("loop off")
    take.run_bars(2)

    assert names(take)[-3:] == [("B", 2), ("B", 3), ("A", 0)]


@pytest.mark.parametrize("looseness", [0.0, 1.0])
@pytest.mark.parametrize("line, bpm", [("tempo 220", 220), ("half", 75), ("double", 300)])
def test_a_tempo_applies_to_bars_already_made(line: str, bpm: float, looseness: float) -> None:
    """Bars made before a tempo change are played completely at the new tempo."""
    take = Take(TWO_PARTS, looseness=looseness)
    take.command("play")
    take.run_bars(2)
    take.transport.fill()
    take.command(line)
    begun = len(take.bars)
    while len(take.bars) < begun + 2:  # nobody makes a bar meanwhile
        due = take.transport.pump(take.now)
        assert due is not None
        take.now = due
    one, two = take.times[begun:]

    assert ticks_to_seconds(take.bars[begun].ticks, bpm) == pytest.approx(two - one)
    assert bpm == take.transport.bpm


def test_a_tempo_applies_from_the_next_event() -> None:
    """From the command on, times to the next events scale by the ratio of the tempi."""
    take = Take(TWO_PARTS, looseness=0.0)
    take.command("play")
    take.run(3.0)
    take.transport.fill()
    before = take.transport.pump(take.now)
    take.command("tempo 300")
    after = take.transport.pump(take.now)

    assert before is not None
    assert after == pytest.approx(take.now + (before - take.now) / 2, abs=1e-3)


def test_a_relative_tempo_on_a_ladder_starts_from_its_rung() -> None:
    """Tempo +5 on a ladder is 5 above the current tempo, and ends the ladder."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("loop A", "ladder 100 160 20 1", "play")
    take.run_bars(10)
    assert take.transport.bpm == 140
    take.command("tempo +5")
    take.run_bars(6)

    assert take.transport.bpm == 145
    assert take.transport.settings.ladder is None


def test_a_ladder_starts_at_its_first_tempo_at_any_time() -> None:
    """After many times round a ladder still starts on its first rung."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("loop 1-2", "play")
    take.run_bars(20)
    take.command("ladder 100 120 10 1")
    take.run_bars(8)
    tempi = [bar.bpm for bar in take.bars[20:] if starts_part(bar)]

    assert tempi[:3] == [100, 110, 120]


def test_fours_are_traded_from_the_top_of_the_part() -> None:
    """Trading that is set in mid-part counts its fours from the start of the part."""
    take = Take(TWO_PARTS, count_in=0, looseness=0.0)
    take.command("play")
    take.run_bars(3)
    take.command("trade 4")
    take.run_bars(14)
    played = list(zip((bar.part for bar in take.bars), sounding(take), strict=False))

    assert played == [*[("A", True)] * 4, *[("B", False)] * 4] * 2


def test_each_round_of_a_loop_is_counted_in_when_asked() -> None:
    """With `count-in on` every round of a loop starts with a bar of clicks."""
    take = Take(TWO_PARTS)
    take.command("count-in on", "loop 1-2", "play")
    take.run_bars(7)

    assert names(take) == [("count-in", 0), ("A", 0), ("A", 1)] * 2 + [("count-in", 0)]


def test_the_count_in_sounds_without_the_drums() -> None:
    """Muted drums still count in."""
    take = Take(WITH_PICKUP)
    take.command("only bass", "play")
    take.run_bars(4)
    clicks = {channel for when, channel, *_ in take.strokes() if when < take.times[1] - 0.6}

    assert clicks == {9}
    later = {channel for when, channel, *_ in take.strokes() if when > take.times[1]}
    assert later == {0}


def test_the_bass_leads_back_in_a_loop() -> None:
    """The last bass note of a loop is a step or a fifth from its first root, mostly a step."""
    take = Take(TWO_PARTS, count_in=0, looseness=0.0)
    take.command("loop B", "play")
    take.run_bars(81)
    bass = [(when, key) for when, channel, key, _ in take.strokes() if channel == 0]
    tops = [when for when, bar in zip(take.times, take.bars, strict=True) if bar.index == 0]
    leaps = []
    for top in tops[1:-1]:
        first = next(key for when, key in bass if when > top - 1e-6)
        leaps.append(abs(first - [key for when, key in bass if when < top - 1e-6][-1]))
        assert first % 12 == 4  # E, the root of the loop's first chord

    assert set(leaps) <= STEPS_AND_FIFTHS
    assert sum(leap <= 2 for leap in leaps) >= 0.6 * len(leaps)


def test_a_short_loop_goes_on_without_end() -> None:
    """More rounds than a file may have choruses do not end the band."""
    take = Take(SHORTER, bpm=500)
    take.command("loop 1", "play")
    for _ in range(11):
        take.run_bars(100)
        take.sent.clear()

    assert take.transport.playing
    assert len(take.bars) == 1100
    assert take.bars[-1].position.rounds == 1099


def test_a_player_that_raises_is_back_in_the_next_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    """A player that raises once is silent in that bar only."""
    from backing.band.bass import Bass

    play = Bass.play

    def slips(self: Bass, place: object) -> object:
        if place.number == 1:  # type: ignore[attr-defined]
            raise RuntimeError("a string has snapped")
        return play(self, place)  # type: ignore[arg-type]

    monkeypatch.setattr(Bass, "play", slips)
    take = Take(TWO_PARTS, count_in=0, looseness=0.0)
    take.command("play")
    take.run_bars(5)
    bass_plays = [
        any(
            start - 1e-6 <= when < end - 0.01 for when, channel, *_ in take.strokes() if not channel
        )
        for start, end in pairwise(take.times)
    ]

    assert bass_plays == [True, False, True, True]
    assert take.faults == [("bass", "a string has snapped")]


@pytest.mark.parametrize("seconds", [1.0, 5.0, 60.0])
def test_a_stall_leaves_notes_out_and_counts_them(seconds: float) -> None:
    """Notes that are too late are left out and counted; the beat goes on in time."""
    take, steady = Take(TWO_PARTS, looseness=0.0), Take(TWO_PARTS, looseness=0.0)
    for each in (take, steady):
        each.command("play")
        each.run(4.1)
    take.now += seconds
    take.run(10.0)
    steady.run(10.0 + seconds)
    behind = [stroke for stroke in steady.strokes() if stroke[0] > 4.1 + seconds]

    assert take.transport.lateness.left_out > 0
    assert max(take.transport.lateness.last) <= 0.15
    assert behind == [stroke for stroke in take.strokes() if stroke[0] > 4.1 + seconds + 1e-9]
    take.command("stop")
    assert keys_are_released(take.sent)


def test_a_second_edit_waits_for_the_next_part_too() -> None:
    """Each saved chart starts at the next part, however many came before."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("play")
    take.run_bars(2)
    seen = []
    for chart in (IN_TWO, LONGER):
        take.transport.change(
            lambda settings, chart=chart: replace(settings, pending=chart), take.now
        )
        at = len(take.bars)
        while take.transport.settings.pending:
            take.run_bars(1)
        seen.append([starts_part(bar) for bar in take.bars[at:]])
        take.run_bars(3)

    assert seen == [[False, False, True], [False, True]]
    assert take.transport.settings.chart is LONGER


def test_an_edit_that_does_not_fit_is_refused_and_the_band_plays_on() -> None:
    """A chart in a meter that the style does not have is refused; nothing changes."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("style swing", "play")
    take.run_bars(2)
    before = take.transport.settings

    with pytest.raises(BackingError, match="the style swing is played in 4/4"):
        take.transport.change(lambda settings: replace(settings, pending=IN_TWO), take.now)
    take.run_bars(6)
    assert before == take.transport.settings
    assert {str(bar.meter) for bar in take.bars} == {"4/4"}


@pytest.mark.parametrize("loop, kept", [("A", "A"), ("B", None), ("1-2", "1-2"), ("3-4", None)])
def test_a_loop_means_the_same_in_an_edited_chart(loop: str, kept: str | None) -> None:
    """A loop that is still in the chart goes on; any other ends when the new chart starts."""
    take = Take(TWO_PARTS, count_in=0)
    take.command(f"loop {loop}", "play")
    take.run_bars(2)
    take.transport.change(lambda settings: replace(settings, pending=SHORTER), take.now)
    take.run_bars(8)

    assert kept == take.transport.settings.loop
    assert take.transport.settings.chart is SHORTER


def test_a_command_given_while_a_bar_is_made_is_not_lost(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The bar is made again; the command applies from the next bar line."""
    take = Take(TWO_PARTS, count_in=0)
    make = Source.next
    lines = ["mute drums"]

    def interrupted(source: Source, settings: object, position: object) -> object:
        bar = make(source, settings, position)  # type: ignore[arg-type]
        if lines:
            take.command(lines.pop())
        return bar

    monkeypatch.setattr(Source, "next", interrupted)
    take.command("play")
    take.run_bars(3)

    assert [each for each in take.strokes() if each[1] == 9 and each[0] > START_DELAY_SECONDS] == []
    assert {0, 1} == {channel for _, channel, *_ in take.strokes()}


def test_two_simultaneous_changes_both_apply() -> None:
    """A change computed from outdated settings is computed again."""
    take = Take(TWO_PARTS)
    once = ["key +2"]

    def louder(settings: object) -> object:
        if once:
            take.command(once.pop())
        return replace(settings, level=80)  # type: ignore[type-var]

    take.transport.change(louder, take.now)  # type: ignore[arg-type]

    assert (take.transport.settings.semitones, take.transport.settings.level) == (2, 80)


@pytest.mark.parametrize("ending", ["ritard", "tag", "two-hit"])
def test_a_live_ending_equals_that_of_the_file(ending: str) -> None:
    """Intro and ending of a take are those of the file, with the same times in a ritard."""
    chart = read_chart(
        f"key: C\nstyle: two-beat\ntempo: 180\nintro: last 2\nending: {ending}\n"
        "[A] 4\n| C | F | G7 | C |\n"
    )
    take = Take(chart, choruses=2, count_in=1)
    take.command("play")
    take.run()

    bars = list(Performance(chart, Settings(choruses=2, count_in=1)).bars())
    changes = [(bar.start + tick, bpm) for bar in bars for tick, bpm in ((0, bar.bpm), *bar.slower)]
    tempo = TempoMap.of(changes)
    expected = sorted(
        (round(tempo.seconds_at(note.tick), 6), note.pitch, note.velocity)
        for note in without_overlaps(note for bar in bars for note in bar.notes)
    )
    played = sorted(
        (round(when - START_DELAY_SECONDS, 6), pitch, velocity)
        for when, _, pitch, velocity in take.strokes()
    )
    assert [each[1:] for each in expected] == [each[1:] for each in played]
    assert max(abs(a[0] - b[0]) for a, b in zip(expected, played, strict=True)) < 1e-5


def test_unmute_brings_in_a_player_who_sits_out() -> None:
    """In bluegrass the drums sit out; `unmute drums` brings them in, `mute drums` silences them."""
    chart = read_chart("key: G\nstyle: bluegrass\ntempo: 240\n[A] 4\n| G | C | D7 | G |\n")
    take = Take(chart, count_in=0)
    take.command("play")

    def drums(seconds: float) -> bool:
        before = len(take.sent)
        take.run(seconds)
        return any(message[0] == 0x99 for _, message in take.sent[before:])

    assert not drums(8.0)
    take.command("mute drums")
    take.run(2.0)
    assert not drums(8.0)
    take.command("unmute drums", "unmute drums")
    assert drums(8.0)
    take.command("mute drums")
    take.run(2.0)
    assert not drums(8.0)
