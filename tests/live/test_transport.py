"""The transport on a manual clock."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from take import Take, keys_are_released, starts_part, symbols

from backing.chart.read import load_chart, read_chart
from backing.control.commands import Controls
from backing.notes import without_overlaps
from backing.out.channels import CHANNELS
from backing.performance.performance import Performance
from backing.performance.settings import Settings

DEMOS = sorted((Path(__file__).parents[2] / "demos").glob("*.chart"))
TWO_PARTS = read_chart(
    "title: Two Parts\nkey: G\nstyle: swing\ntempo: 150\nform: A B\n"
    "[A] 4\n| G6 | C9 | D7 | G6 |\n[B] 4\n| Em7 | A7 | Am7 | D7 |\n"
)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_a_take_equals_the_file(path: Path) -> None:
    """At a fixed tempo and key a take has the file's notes, to the tick."""
    chart = load_chart(str(path))
    performance = Performance(chart, Settings(choruses=2))
    bars = list(performance.bars())
    take = Take(chart, choruses=2)
    take.transport.play(take.now)
    take.run()

    notes = without_overlaps(note for bar in bars for note in bar.notes)
    expected = sorted(
        (note.tick, CHANNELS[note.player], note.pitch, note.velocity) for note in notes
    )
    assert take.transport.ended
    assert keys_are_released(take.sent)
    if len({bar.bpm for bar in bars}) == 1:
        assert expected == sorted(take.ticks(performance.bpm))
    else:  # a part with its own tempo: the order and all but the time
        assert sorted(each[1:] for each in expected) == sorted(
            each[1:] for each in take.ticks(performance.bpm)
        )


def test_a_tempo_applies_at_once() -> None:
    """A tempo change in mid-bar moves the events not yet sent, without a jump or a repeat."""
    take = Take(TWO_PARTS, looseness=0.0)
    controls = Controls(take.transport, lambda: take.now)
    take.transport.play(take.now)
    take.run(2.0)
    before = len(take.strokes())
    controls.carry_out("tempo 300")
    take.run(1.0)
    bass = [time for time, channel, *_ in take.strokes()[before:] if channel == 0]
    gaps = [round(b - a, 3) for a, b in pairwise(bass[1:])]

    assert gaps
    assert max(gaps) <= 60 / 300 + 0.001
    take.transport.stop(take.now)
    assert keys_are_released(take.sent)


def test_key_and_mute_come_at_the_next_bar_line() -> None:
    """Key and players change at the next bar line."""
    take = Take(TWO_PARTS)
    controls = Controls(take.transport, lambda: take.now)
    take.transport.play(take.now)
    take.run(4.0)
    at = len(take.bars)
    controls.carry_out("key +2")
    controls.carry_out("mute chop")
    take.run(3.3)

    assert [str(bar.key) for bar in take.bars[at - 1 : at + 2]] == ["G", "A", "A"]
    line = 0.06 + sum(bar.ticks for bar in take.bars[:at]) / 960 * 60 / 150
    assert [each for each in take.strokes() if each[1] == 1 and each[0] > line + 0.02] == []


def test_last_time_ends_after_this_chorus() -> None:
    """The band repeats the form until `last-time`, then ends after that chorus."""
    take = Take(TWO_PARTS)
    controls = Controls(take.transport, lambda: take.now)
    take.transport.play(take.now)
    take.run(30.0)
    chorus = take.bars[-1].chorus
    controls.carry_out("last-time")
    take.run()

    assert take.transport.ended
    assert take.bars[-1].chorus == chorus
    assert take.bars[-1].part == "ending"
    assert keys_are_released(take.sent)


def test_a_loop_goes_round_without_a_gap() -> None:
    """Bars 5 to 6 repeat, each bar right after the one before."""
    take = Take(TWO_PARTS, looseness=0.0)
    controls = Controls(take.transport, lambda: take.now)
    controls.carry_out("loop 5-6")
    take.transport.play(take.now)
    take.run(20.0)

    chords = [symbols(bar) for bar in take.bars[1:7]]
    assert chords == [("Em7",), ("A7",)] * 3
    struck = sorted({time for time, *_ in take.strokes()})
    gaps = [b - a for a, b in pairwise(struck)]
    assert max(gaps) <= 0.4 + 1e-6


def test_a_ladder_ends_exactly_at_its_goal() -> None:
    """From 120 to 133 by fives, one round each: 120, 125, 130, 133, and it stays."""
    take = Take(TWO_PARTS)
    controls = Controls(take.transport, lambda: take.now)
    controls.carry_out("loop A")
    controls.carry_out("ladder 120 133 5 1")
    take.transport.play(take.now)
    take.run(60.0)
    tempi = [bar.bpm for bar in take.bars if starts_part(bar)]

    assert tempi[:6] == [120, 125, 130, 133, 133, 133]


def test_play_resumes_at_the_bar_of_the_pause() -> None:
    """After a pause the same bar starts again, with a count-in."""
    take = Take(TWO_PARTS)
    take.transport.play(take.now)
    take.run(5.0)
    paused = take.bars[-1]
    take.transport.pause(take.now)
    assert keys_are_released(take.sent)
    take.run(3.0)
    take.transport.play(take.now)
    take.run(4.0)
    names = [(bar.part, bar.index) for bar in take.bars]

    at = names.index((paused.part, paused.index))
    assert names[at + 1 : at + 3] == [("count-in", 0), (paused.part, paused.index)]


@pytest.mark.parametrize("ends", ["pause", "stop", "quit", "the end"])
def test_silence_is_sent_to_every_channel(ends: str) -> None:
    """All Notes Off (controller 123, value 0, MIDI 1.0) on each channel, after all note-offs."""
    take = Take(TWO_PARTS, choruses=1, count_in=0)
    take.command("play")
    take.run_bars(3)
    assert not [message for _, message in take.sent if message[:2] == bytes((0xB0, 123))]
    at = len(take.sent)
    if ends == "the end":
        take.run()
    else:
        take.command(ends)
    off = [bytes((0xB0 | channel, 123, 0)) for channel in CHANNELS.values()]

    assert [message for _, message in take.sent[-len(off) :]] == off
    assert not {message for _, message in take.sent[at : -len(off)]} & set(off)
    assert keys_are_released(take.sent)
    sent = len(take.sent)
    take.command("pause", "stop")
    assert len(take.sent) == sent


def test_a_stall_makes_no_burst() -> None:
    """After a stall of five seconds the band is in the right bar."""
    take = Take(TWO_PARTS, looseness=0.0)
    take.transport.play(take.now)
    take.run(4.0)
    before = len(take.strokes())
    take.now += 5.0
    take.run(0.01)
    burst = len(take.strokes()) - before
    take.run(2.0)

    assert burst < 12
    late = [due for due in take.transport.lateness.last if due > 0.2]
    assert late == []
    assert take.bars[-1].index == int((take.now - 0.06) / 1.6 - 1) % 4


def test_a_player_that_raises_is_silent_for_the_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    """An error in one player is reported; the others and the time go on."""
    take = Take(TWO_PARTS, choruses=1)

    def broken(*_: object) -> None:
        raise RuntimeError("a string has snapped")

    monkeypatch.setattr("backing.band.chop.Chop.play", broken)
    take.transport.play(take.now)
    take.run()

    assert take.transport.ended
    assert {channel for _, channel, *_ in take.strokes()} == {0, 9}
    assert ("chop", "a string has snapped") in take.faults


@pytest.mark.parametrize("style", ["swing", "shuffle", "ballad"])
def test_a_note_is_not_cut_by_the_end_of_the_one_before(style: str) -> None:
    """A key struck again while it sounds keeps sounding past the end of the first note."""
    chart = read_chart(
        f"key: C\nstyle: {style}\ntempo: 100\n[A] 8\n"
        '| C "hold" | C | C "hold" | C | F "hold" | F | G7 "hold" | C |\n'
    )
    take = Take(chart, choruses=4)
    take.command("play")
    take.run()
    struck: dict[tuple[int, int], float] = {}
    lengths = []
    for time, message in take.sent:
        kind, key = message[0] >> 4, (message[0] & 15, message[1])
        if kind == 9:
            struck[key] = time
        elif kind == 8:
            lengths.append(time - struck.pop(key))
    assert len(lengths) > 200
    assert min(lengths) > 0.05


def volumes(take: Take, since: int) -> dict[int, int]:
    """Return the last volume (controller 7, MIDI 1.0) of each channel since a message."""
    sent = [message for _, message in take.sent[since:]]
    return {each[0] & 15: each[2] for each in sent if each[0] >> 4 == 0xB and each[1] == 7}


@pytest.mark.parametrize("line, factors", [("level 50", {}), ("level bass 40", {0: 0.4})])
def test_levels_apply_at_once(line: str, factors: dict[int, float]) -> None:
    """A channel's volume comes from the level of all and that of the player."""
    take = Take(TWO_PARTS)
    take.command("play")
    take.run(1.0)
    full, since = volumes(take, 0), len(take.sent)
    take.command("level 50", line)
    half = volumes(take, since)
    assert set(full) == {CHANNELS[player] for player in take.transport.settings.band}
    assert half == {
        channel: round(volume * 0.5 * factors.get(channel, 1.0)) for channel, volume in full.items()
    }


@pytest.mark.parametrize("bars", [3, 5])
def test_a_bar_that_begins_while_it_is_remade_stays(bars: int) -> None:
    """A bar that a loose note has begun is not replaced by the one remade for a command."""
    take = Take(TWO_PARTS)
    take.command("play")
    take.run_bars(bars)
    transport = take.transport
    source, agenda = transport._source, transport._agenda
    make = source.next
    begun: list[float] = []

    def make_slowly(*asked: object) -> object:
        made = make(*asked)  # type: ignore[arg-type]
        while not begun:
            if any(each.begun for each in agenda.bars.values()):
                begun.append(take.now)
            take.now = transport.pump(take.now) or take.now
        return made

    source.next = make_slowly  # type: ignore[assignment,method-assign]
    take.command("style shuffle")
    take.run_bars(3)
    assert begun
    struck: dict[tuple[int, int], float] = {}
    for time, channel, key, _ in take.strokes():
        assert time - struck.get((channel, key), -1.0) > 0.05
        struck[channel, key] = time
