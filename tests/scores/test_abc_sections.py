"""Check that every cited section of the ABC standard exists and has the cited topic.

Source: the contents of "The abc music standard 2.1 (Dec 2011)", abcnotation.com: which sections
there are; each is named here by a word or two of its heading.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from cases import LENGTHS, NOTES, ORDERS

ROOT = Path(__file__).parents[2]
FOLDERS = (ROOT / "backing" / "scores", ROOT / "tests" / "scores")

SECTIONS = {
    "2": 3, "2.2": 6, "2.3": 4, "3": 3, "3.1": 18, "4": 20, "5": 3, "6": 2, "6.1": 3, "7": 4,
    "8": 2, "9": 2, "10": 7, "10.2": 3, "10.5": 1, "10.7": 1, "11": 6, "11.4": 8, "12": 3,
    "12.1": 3, "13": 4, "14": 2,
}  # fmt: skip
"""The number of sections in each chapter or section."""

HEADINGS = {
    "4.1": "octaves", "4.2": "accidental", "4.3": "lengths", "4.4": "broken", "4.5": "rests",
    "4.8": "repeat", "4.9": "ending", "4.10": "ending", "4.11": "tie", "4.12": "graces",
    "4.13": "triplet", "4.14": "decorations", "4.17": "a chord of notes", "4.19": "strings",
    "3.1.9": "parts", "3.1.14": "key", "6.1.1": "a line that goes on", "7.1": "voices",
    "7.4": "overlay",
}  # fmt: skip
"""Sections and the words that a test case of each contains."""

NOT_PLAYED = {"4.6", "4.7", "4.15", "4.16", "4.18", "4.20"}
"""Of the tune body: clefs, beams, symbol lines, signs of one's own, chord symbols (which have cases
of their own, `CHORDS`) and the order of signs: of these nothing is counted in a bar of notes."""

CITED = re.compile(r"v2\.1,((?:[ ,]|and|\n)*\d+(?:\.\d+)+)+")


def _numbers(text: str) -> set[str]:
    return {number for found in CITED.finditer(text) for number in _dotted(found[0][5:])}


def _dotted(text: str) -> list[str]:
    return re.findall(r"\d+(?:\.\d+)+", text)


CASES = {name: _dotted(name) for name in {**ORDERS, **NOTES, **LENGTHS}}


def is_there(number: str) -> bool:
    """Whether the standard has a section with this number."""
    above, _, last = number.rpartition(".")
    return 1 <= int(last) <= SECTIONS.get(above, 0)


def test_every_section_that_is_cited_is_there() -> None:
    """Every section number after a version in code and tests exists."""
    cited = set().union(
        *(_numbers(path.read_text(encoding="utf-8")) for f in FOLDERS for path in f.rglob("*.py"))
    )
    cited |= {number for numbers in CASES.values() for number in numbers}
    assert len(cited) > 20
    assert not [number for number in cited if not is_there(number)]


@pytest.mark.parametrize("number", ["4.21", "6.1.4", "3.1.19", "15.1", "7.4.1", "4.0"])
def test_a_section_that_is_not_there_is_noticed(number: str) -> None:
    """A number after the last one of its chapter does not exist."""
    assert not is_there(number)


def test_every_section_of_the_tune_body_has_a_case() -> None:
    """Every section of chapter 4 that affects playing has a case."""
    wanted = {f"4.{number}" for number in range(1, SECTIONS["4"] + 1)} - NOT_PLAYED
    assert wanted == {number for numbers in CASES.values() for number in numbers} & wanted


@pytest.mark.parametrize("number", HEADINGS)
def test_a_case_is_about_its_section(number: str) -> None:
    """A case that cites a section names its topic."""
    assert any(HEADINGS[number] in name for name, numbers in CASES.items() if number in numbers)
