"""Check that malicious and broken files are read or refused with a sentence."""

from __future__ import annotations

import contextlib

import pytest
from hostile import HOSTILE
from hypothesis import given
from hypothesis import strategies as st

from backing.chart.read import read_chart
from backing.chart.write import write_chart
from backing.errors import BackingError, ScoreError
from backing.scores.abc.read import read_abc
from backing.scores.to_chart import to_chart

PIECES = st.sampled_from(
    [
        *"CDEFGABcdefgab|:[]()z{}<>-^_=,'/123 \n!\"&~.%+",
        *("|:", ":|", "::", "|1", ":|2", "[1", "[2", "||", "|]", "[|", "(3", '"G"', '"Am7/g"'),
        *("[K:D]", "[M:3/4]", "[P:B]", "\nP:A\n", "\nV:2\n", "!D.C.!", "!segno!", "C4|", "D8|"),
    ]
)


def _convert(data: bytes) -> None:
    for tune in read_abc(data, "hostile.abc"):
        if isinstance(tune, ScoreError):
            assert str(tune).startswith("hostile.abc:")
            continue
        chart = to_chart(tune).chart
        assert read_chart(write_chart(chart)) == chart


@pytest.mark.slow
@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files(name: str) -> None:
    """A refusal is a sentence, never another exception."""
    with contextlib.suppress(BackingError):
        _convert(HOSTILE[name])


@given(st.lists(PIECES, max_size=60).map("".join))
def test_pieces_of_tunes_in_any_order(music: str) -> None:
    """Any text below `K:` becomes a chart that can be read again, or is refused."""
    _convert(f"X:1\nT:t\nM:4/4\nL:1/8\nK:C\n{music}\n".encode())
