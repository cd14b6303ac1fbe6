"""Hits of the whole band: at directions, in kick-offs and at the end."""

from __future__ import annotations

from dataclasses import replace

import pytest

from backing.band.hits import HITS, KICK_OFF_HIT, LAST_HELD, LAST_SHORT
from backing.chart import model
from backing.chart.read import read_chart
from backing.performance.performance import Performance
from backing.performance.settings import Settings

Heard = dict[int, list[tuple[int, int, int, int]]]


def performed(text: str) -> Performance:
    """Return one chorus of a chart at looseness 0."""
    return Performance(read_chart(text), Settings(choruses=1, looseness=0.0, count_in=0))


def heard(one: Performance) -> Heard:
    """Return the notes of each bar: tick, key, velocity and length."""
    return {
        number: [(tick, pitch, *rest) for tick, _, pitch, *rest in one.bar(number).notes]
        for number in range(one.length)
    }


def test_each_direction_that_stops_the_groove_is_a_hit() -> None:
    """The chart and the band have the same hits."""
    assert HITS.keys() == model.HITS


@pytest.mark.parametrize("style", ["reel", "waltz", "two-beat", "jig"])
def test_another_stop_changes_stops_alone(style: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """If stops are made to ring, the chart's stop rings, but no kick-off, two-hit or short end."""
    meter = {"waltz": "3/4", "jig": "6/8"}.get(style, "4/4")
    for ending in ("two-hit", "short"):
        for stop in ('"stop"', ""):
            text = (
                f"style: {style}\nmeter: {meter}\nintro: kick-off\nending: {ending}\n"
                f"[A] 4\n| C | F {stop} | G | C |\n"
            )
            before, contexts = heard(performed(text)), performed(text)
            with monkeypatch.context() as patch:
                patch.setitem(HITS, "stop", replace(HITS["stop"], rings=True))
                after = heard(performed(text))
            changed = {number for number in before if before[number] != after[number]}
            stopped = {
                number
                for number in before
                if (context := contexts.context(number)) and "stop" in context.harmony[0].words
            }
            assert changed == stopped
            assert bool(stopped) == bool(stop)


@pytest.mark.parametrize("ending", [each for each in model.ENDINGS if each not in ("none", "fade")])
@pytest.mark.parametrize("word", ["stop", "hold"])
def test_a_direction_at_the_last_chord_is_what_it_is_elsewhere(
    ending: str, word: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stop or hold at the last home chord is the ending's hit and changes with it."""
    text = f'style: swing\nending: {ending}\n[A] 4\n| C "{word}" | F | G | C "{word}" |\n'
    before = heard(performed(text))
    other = replace(HITS[word], rings=not HITS[word].rings)
    monkeypatch.setitem(HITS, word, other)
    one = performed(text)
    contexts = [context for number in range(one.length) if (context := one.context(number))]
    hits = [each.hit for context in contexts for each in context.harmony if each.hit]
    assert set(hits) == {other}
    assert before != heard(one)
    last = max(context.number for context in contexts if context.harmony)
    assert before[last] != heard(one)[last]


@pytest.mark.parametrize(
    "ending, hit",
    [("short", LAST_SHORT), ("hold", LAST_HELD), ("tag", LAST_HELD), ("two-hit", LAST_SHORT)],
)
@pytest.mark.parametrize("last", ["C", "G", 'G "stop"'])
def test_a_last_chord_without_a_direction_is_the_ending_s(
    ending: str, hit: object, last: str
) -> None:
    """Without a hit at the last chord, the ending decides; after a stop, home is short."""
    one = performed(f"style: swing\nending: {ending}\n[A] 4\n| C | F | G | {last} |\n")
    contexts = [context for number in range(one.length) if (context := one.context(number))]
    final = next(context.harmony[-1] for context in reversed(contexts) if context.harmony)
    assert str(final.chord) == "C"
    assert final.hit is (LAST_SHORT if "stop" in last else hit)


@pytest.mark.parametrize("pickup", ["", "(pickup 1/4) G7 | "])
@pytest.mark.parametrize("push", ["", ' "push"'])
def test_a_kick_off_leaves_its_pickup_to_the_groove(pickup: str, push: str) -> None:
    """Its own chords are hits; a pickup at its end and a pushed first chord are not."""
    one = performed(
        f"key: C\nstyle: reel\nintro: kick-off\n[A] 4\n| {pickup}C{push} | F | G | C |\n"
    )
    intro = [one.context(number) for number in range(2)]
    found = [each for context in intro if context for each in context.harmony]
    own = [each for each in found if each.hit]
    assert [each.hit for each in own] == [KICK_OFF_HIT] * 4
    assert {str(each.chord) for each in own} == {"C"}
    assert len(found) - len(own) == bool(pickup) + bool(push)
