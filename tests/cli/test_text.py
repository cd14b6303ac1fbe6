"""Numbers and times as the command line prints them."""

from __future__ import annotations

import pytest

from backing.cli.text import clock, counted


@pytest.mark.parametrize(
    "number, noun, plural, text",
    [
        (0, "file", "", "0 files"),
        (1, "file", "", "1 file"),
        (12, "file", "", "12 files"),
        (1, "chorus", "choruses", "1 chorus"),
        (3, "chorus", "choruses", "3 choruses"),
    ],
)
def test_a_noun_agrees_with_its_number(number: int, noun: str, plural: str, text: str) -> None:
    assert counted(number, noun, plural) == text


@pytest.mark.parametrize(
    "seconds, text", [(0.4, "0:00"), (59.4, "0:59"), (59.6, "1:00"), (125, "2:05")]
)
def test_a_time_is_rounded_to_whole_seconds(seconds: float, text: str) -> None:
    assert clock(seconds) == text
