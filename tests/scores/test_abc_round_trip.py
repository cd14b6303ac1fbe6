"""Write any chart and melody in ABC and read them back.

ABC cannot hold part names where there is an order of parts (they become letters); directions to the
band, count-in, intro, ending and grooves of parts (left out and reported); two spaces in a text
(one) and unprintable characters (a space); overlapping notes (the earlier one ends).
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.chart.sequence import once_round
from backing.scores.abc.read import read_abc
from backing.scores.abc.write import write_abc
from backing.scores.from_chart import from_chart
from backing.scores.to_chart import to_chart
from backing.scores.tune import Tune

if TYPE_CHECKING:
    from backing.chart.model import Chart

sys.path.append(str(Path(__file__).parent.parent / "chart"))
from strategies import charts
from test_round_trip import melodies


def _read_back(tune: Tune) -> Tune:
    (again,) = read_abc(write_abc(tune))
    assert isinstance(again, Tune), again
    assert again.remarks == ()
    return again


def _said(tune: Tune) -> list[object]:
    """Return the content of a tune that ABC can hold, bar by bar; parts are numbered."""
    labels = list(dict.fromkeys(bar.part for bar in tune.bars if bar.part))
    bars = []
    for bar in tune.bars:
        part = labels.index(bar.part) if bar.part and tune.order else bar.part
        bars.append((part, replace(bar, place="", part="", double=False, ending_stops=False)))
    texts = [_shown(each) for each in (tune.title, tune.composer, tune.rhythm)]
    order = [labels.index(each) for each in tune.order]
    return [*texts, tune.tempo, [_shown(each) for each in tune.notes], order, *bars]


def _shown(text: str) -> str:
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


@given(st.data())
@examples(10)
def test_any_chart_and_melody(data: st.DataObject) -> None:
    """The content of any chart and melody that ABC can hold is read back unchanged."""
    chart = data.draw(charts())
    tune = from_chart(chart, data.draw(melodies(chart)))

    assert _said(_read_back(tune)) == _said(tune)


def _played(chart: Chart) -> list[object]:
    """Return the bars and chords of a chart as played."""
    sequence = once_round(replace(chart, intro=None))
    return [(each.bar.ticks, [(c.tick, c.chord) for c in each.bar.chords]) for each in sequence]


@given(st.data())
@examples(8)
def test_a_chart_and_its_melody_are_played_the_same(data: st.DataObject) -> None:
    """A chart and its melody convert to the same chart through ABC as directly."""
    chart = data.draw(charts())
    tune = from_chart(chart, data.draw(melodies(chart)))

    there, back = to_chart(tune), to_chart(_read_back(tune))

    assert _played(back.chart) == _played(there.chart)
    assert [part.bars for part in back.melody.parts] == [part.bars for part in there.melody.parts]


@pytest.mark.parametrize(
    "body",
    [
        "[_E-=d'-]4|[^Dd']4|]", "[^F-^f-]4|f2F2|]", "^F4-|{f}F2f2|]", "^F2f2|^f2F2|]", "=F4-|^F4|]",
        "^F4-|z2F2|]",
    ],
)  # fmt: skip
def test_accidentals_of_ties_and_octaves(body: str) -> None:
    """The same letter in two octaves, tied or not, keeps its own accidentals."""
    for key in ("C", "D", "Eb"):
        tune = next(iter(read_abc(f"X:1\nT:t\nM:4/4\nL:1/4\nK:{key}\n{body}\n".encode())))
        assert isinstance(tune, Tune)
        bars = tuple(replace(bar, remarks=()) for bar in tune.bars)

        assert _said(_read_back(replace(tune, bars=bars))) == _said(replace(tune, bars=bars))
