"""Fingering paths: what teachers play, and the optimum against brute force."""

from __future__ import annotations

from itertools import groupby, pairwise, product
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.chart.read import load_chart
from backing.chart.sequence import once_round
from backing.fretboard import fingering_path as module
from backing.fretboard.fingering_path import (
    candidates,
    cheapest_round,
    fingering_path,
    move_cost,
    move_costs_of,
)
from backing.fretboard.hand import Hand
from backing.fretboard.instrument import Instrument, find_instrument
from backing.fretboard.request import EASY, FULL, SWING, ShapeRequest
from backing.fretboard.shapes import shapes
from backing.fretboard.voices import VOICING_ADDS, as_played
from backing.harmony.chord import Chord, read_chord

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.fretboard.hand import Shape

DEMOS = sorted((Path(__file__).parents[2] / "demos").glob("*.chart"))


def chords(text: str) -> tuple[Chord, ...]:
    """Return chords from their symbols."""
    return tuple(map(read_chord, text.split()))


@pytest.mark.parametrize("text", ["B Bb A", "A Bb B", "B7 Bb7 A7", "Bm Bbm Am"])
def test_one_closed_shape_slides(mandolin: Instrument, text: str) -> None:
    """Common practice, no source: B, Bb, A is one closed shape, a fret lower each time."""
    way = fingering_path(mandolin, Hand(), chords(text), ShapeRequest())
    assert len({shape.fingers for shape in way.shapes}) == 1
    positions = [shape.position for shape in way.shapes]
    assert [b - a for a, b in pairwise(positions)] in ([-1, -1], [1, 1])
    assert all(shape.closed and shape.strings == 4 for shape in way.shapes)


def moved_mm(instrument: Instrument, cycle: Sequence[Shape]) -> float:
    """Return how far the hand moves in a cycle of shapes with pressed strings."""
    places = [instrument.fret_mm(shape.position) for shape in cycle if shape.position]
    return sum(abs(after - before) for before, after in pairwise([*places, *places[:1]]))


def test_a_slide_is_the_cheapest_move(mandolin: Instrument) -> None:
    """From B to Bb the cheapest move is to the same shape a fret lower."""
    before = next(
        each
        for each in shapes(mandolin, Hand(), read_chord("B"), ShapeRequest())
        if str(each) == "4467"
    )
    after = shapes(mandolin, Hand(), read_chord("Bb"), ShapeRequest())
    nearest = min(after, key=lambda each: move_cost(mandolin, before, each))
    assert str(nearest) == "3356"
    assert move_cost(mandolin, before, before) == 0


def test_easy_stays_in_one_position(mandolin: Instrument) -> None:
    """Easy has two or three strings and, if possible, does not move the hand."""
    way = fingering_path(mandolin, Hand(), chords("G C D7 G"), ShapeRequest(EASY))
    assert {shape.strings for shape in way.shapes} <= {2, 3}
    assert len({shape.position for shape in way.shapes}) == 1
    assert moved_mm(mandolin, way.shapes) == 0


def test_a_chord_that_goes_on_keeps_its_shape(mandolin: Instrument) -> None:
    """The same at the end of the cycle."""
    way = fingering_path(mandolin, Hand(), chords("G G C C D7 D7 G"), ShapeRequest())
    shown = [str(shape) for shape in way.shapes]
    assert shown[0] == shown[1] == shown[6]
    assert shown[2] == shown[3]
    assert shown[4] == shown[5]
    once = fingering_path(mandolin, Hand(), chords("G C D7"), ShapeRequest())
    assert way.cost == once.cost
    assert moved_mm(mandolin, way.shapes) == moved_mm(mandolin, once.shapes)


def test_no_chords_and_one_chord(mandolin: Instrument) -> None:
    """Without chords the path is empty; one chord has its easiest shape."""
    assert fingering_path(mandolin, Hand(), (), ShapeRequest()).shapes == ()
    way = fingering_path(mandolin, Hand(), chords("G G"), ShapeRequest())
    easiest = shapes(mandolin, Hand(), read_chord("G"), ShapeRequest())[0]
    assert way.shapes == (easiest, easiest)


@pytest.mark.parametrize(
    "options", [{"lowest": 2, "highest": 6}, {"strings": 3}, {"voicing": SWING}]
)
def test_options_hold_all_along(mandolin: Instrument, options: dict) -> None:
    """The range of frets and the number of strings hold for every shape."""
    request = ShapeRequest(**options)
    for shape in fingering_path(mandolin, Hand(), chords("G E7 Am7 D9"), request).shapes:
        assert all(
            request.lowest <= fret <= (request.highest or 99) for fret in shape.frets if fret
        )
        assert request.strings in (None, shape.strings)


@pytest.mark.parametrize("voicing", [EASY, FULL, SWING])
@pytest.mark.parametrize("text", ["G", "G C", "E A B7", "B Bb A", "Am D7 G E7", "G G6 Cm Cdim7"])
def test_the_cost_is_the_brute_force_optimum(
    mandolin: Instrument, voicing: str, text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The path is as cheap as the best of all combinations of candidates."""
    monkeypatch.setattr(module, "CANDIDATES", 7)
    module.fingering_path.cache_clear()
    request, hand = ShapeRequest(voicing), Hand()
    row = chords(text)
    manner = move_costs_of(voicing)
    options = [candidates(mandolin, hand, chord, request) for chord in row]
    best = min(
        sum(shape.total for shape in taken)
        + sum(
            move_cost(mandolin, shape, taken[(index + 1) % len(taken)], manner)
            for index, shape in enumerate(taken)
        )
        for taken in product(*options)
    )
    found = fingering_path(mandolin, hand, row, request)
    module.fingering_path.cache_clear()
    assert found.cost == pytest.approx(best)


costs = st.integers(0, 20).map(float)


@given(data=st.data())
def test_any_round_is_exact(data: st.DataObject) -> None:
    """The cheapest round through any costs is that of brute force, and its path costs what it says.

    Rounds whose cheapest open path does not close are among these.
    """
    sizes = data.draw(st.lists(st.integers(1, 4), min_size=1, max_size=5))
    own = [tuple(data.draw(st.tuples(*[costs] * size))) for size in sizes]
    moves = [
        tuple(data.draw(st.tuples(*[costs] * sizes[(step + 1) % len(sizes)])) for _ in range(size))
        for step, size in enumerate(sizes)
    ]

    def cost(path: tuple[int, ...]) -> float:
        return sum(
            own[step][place] + moves[step][place][path[(step + 1) % len(path)]]
            for step, place in enumerate(path)
        )

    total, path = cheapest_round(own, moves)
    assert total == min(cost(each) for each in product(*map(range, sizes)))
    assert cost(tuple(path)) == total


def test_over_the_demos_the_hand_moves_less(capsys: pytest.CaptureFixture[str]) -> None:
    """The hand moves less than with the easiest shape of each chord by itself."""
    mandolin, hand, request = find_instrument("mandolin"), Hand(), ShapeRequest()
    ours, greedy = 0.0, 0.0
    for path in DEMOS:
        sequence = once_round(load_chart(str(path)))
        row = [span.chord for each in sequence for span in each.bar.chords if span.chord]
        played = tuple(as_played(chord, VOICING_ADDS.get(request.voicing, ())) for chord in row)
        ours += moved_mm(mandolin, fingering_path(mandolin, hand, played, request).shapes)
        alone = [shapes(mandolin, hand, chord, request)[0] for chord, _ in groupby(played)]
        greedy += moved_mm(mandolin, alone)
    with capsys.disabled():
        print(f"\nthe hand moves {ours:.0f} mm; chord by chord {greedy:.0f} mm")
    assert 0 < ours < greedy
