"""The charts that are shipped."""

from __future__ import annotations

from pathlib import Path

import pytest

from backing.chart.tidy import tidy_text

DEMOS = sorted((Path(__file__).parents[2] / "demos").glob("*.chart"))


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demos_are_tidy(path: Path) -> None:
    """What is shipped is as `tidy` leaves it."""
    text = path.read_bytes().decode()
    assert text == tidy_text(text, path.name)
