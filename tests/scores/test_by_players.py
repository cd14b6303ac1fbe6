"""Convert and render tunes as players write them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from by_players import tune

from backing.chart.melody_text import read_melody, write_melody
from backing.chart.read import read_chart
from backing.chart.write import write_chart
from backing.errors import ScoreError
from backing.out.midifile import midi_bytes
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.scores.abc.read import read_abc
from backing.scores.abc.write import write_abc
from backing.scores.from_chart import from_chart
from backing.scores.harmonise import harmonised
from backing.scores.to_chart import to_chart
from backing.style.library import style_meters

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.scores.tune import Tune


def _played(found: Tune) -> None:
    """Convert a tune, read the result, render it and write it in ABC again."""
    converted = to_chart(found, style_meters())
    text = write_chart(converted.chart)
    chart = read_chart(text, "t.chart", style_meters())
    assert chart == converted.chart
    melody = read_melody(write_melody(converted.melody, chart), chart)
    assert melody == converted.melody
    chart = replace(chart, melody=melody if melody.parts else None)
    assert midi_bytes(Performance(chart, Settings(choruses=2))).startswith(b"MThd")
    (again,) = read_abc(write_abc(from_chart(chart, melody)))
    assert not isinstance(again, ScoreError)


def _try(seeds: Sequence[int]) -> None:
    count = 0
    for seed in seeds:
        for found in read_abc(tune(seed), f"{seed}.abc"):
            assert not isinstance(found, ScoreError), (seed, found)
            _played(found)
            if seed % 4 == 0:
                _played(harmonised(found))
            count += 1
    assert count >= len(seeds)


@pytest.mark.parametrize("first", range(0, 64, 16))
def test_tunes_of_players(first: int) -> None:
    """Sixteen tunes are converted and rendered."""
    _try(range(first, first + 16))


@pytest.mark.slow
@pytest.mark.parametrize("first", range(1000, 3000, 250))
def test_many_tunes_of_players(first: int) -> None:
    """Two thousand tunes are converted and rendered, in eight parts for as many workers."""
    _try(range(first, first + 250))
