"""The page's own files: lines that can be read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from backing.stand.app import STATIC

if TYPE_CHECKING:
    from pathlib import Path

LONGEST_LINE = 119


@pytest.mark.parametrize("path", sorted(STATIC.glob("*.css")), ids=lambda path: path.name)
def test_lines_are_short(path: Path) -> None:
    """No line of a style sheet is longer than a screen is wide."""
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines
    assert {
        number: len(line) for number, line in enumerate(lines, 1) if len(line) > LONGEST_LINE
    } == {}
