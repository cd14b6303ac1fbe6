"""The demo charts."""

from __future__ import annotations

from pathlib import Path

import pytest

from backing.chart.tidy import tidy_text

DEMOS = sorted((Path(__file__).parents[2] / "demos").glob("*.chart"))


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demos_are_tidy(path: Path) -> None:
    """`tidy` changes nothing in the demo charts."""
    text = path.read_bytes().decode()
    assert text == tidy_text(text, path.name)
