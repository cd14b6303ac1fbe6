"""Chord diagrams as text and as SVG."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.fretboard.diagram import Diagram, remarks, side_by_side, svg, text_lines
from backing.fretboard.hand import Hand
from backing.fretboard.instrument import find_instrument
from backing.fretboard.request import ShapeRequest
from backing.fretboard.shapes import shapes
from backing.harmony.chord import read_chord

if TYPE_CHECKING:
    from backing.fretboard.hand import Shape

SVG = "{http://www.w3.org/2000/svg}"


def shape(name: str, symbol: str, frets: str, **hand) -> Shape:
    """Return a shape by its frets."""
    listed = shapes(find_instrument(name), Hand(**hand), read_chord(symbol), ShapeRequest())
    return next(each for each in listed if str(each) == frets)


def drawn(diagram: Diagram) -> str:
    """Return the text diagram without blanks at the ends of lines."""
    return "\n".join(line.rstrip() for line in text_lines(diagram))


def test_a_big_stretch_beside_the_nut_or_not() -> None:
    """Every fret of the shape is a row, and a remark names the stretch."""
    found = shape("mandolin", "F#", "6412")
    assert drawn(Diagram("F#", found, remarks(found))) == (
        "F#\n6412\n\n"
        "1 ┼─┼─1─┼\n2 ┼─┼─┼─2\n3 ┼─┼─┼─┼\n4 ┼─3─┼─┼\n5 ┼─┼─┼─┼\n6 4─┼─┼─┼\n"
        "big stretch 83 mm"
    ).replace("\n\n1", "\n\n  ═══════\n1")


def test_bars_muted_and_open_strings() -> None:
    """A barre is a line between numbers; x and o are above the strings."""
    assert drawn(Diagram("A", shape("mandolin", "A", "224x"))) == (
        "A\n224x\n        x\n  ═══════\n1 ┼─┼─┼─┼\n2 1━1─┼─┼\n3 ┼─┼─┼─┼\n4 ┼─┼─3─┼"
    )
    text = drawn(Diagram("G", shape("mandolin", "G", "0023", open_strings=True)))
    assert text.splitlines()[2] == "  o o"


def test_left_handed_is_the_mirror() -> None:
    """The bass side is on the right; the written frets stay in order."""
    found = shape("mandolin", "A", "224x")
    right, left = drawn(Diagram("A", found)), drawn(Diagram("A", found, left=True))
    assert left.splitlines()[1] == "224x"
    assert left.splitlines()[2:] != right.splitlines()[2:]
    for ours, theirs in zip(left.splitlines()[4:], right.splitlines()[4:], strict=True):
        assert ours[2:] == theirs[2:].ljust(7)[::-1]


def test_high_up_the_neck() -> None:
    """The first row is the shape's position, without a nut."""
    lines = text_lines(Diagram("D", shape("mandolin", "D", "7-7-9-10")))
    assert [line[:2].strip() for line in lines[3:]] == ["7", "8", "9", "10"]
    assert "═" not in "".join(lines)


@given(count=st.integers(0, 12), width=st.integers(20, 100))
def test_side_by_side_stays_in_the_width(count: int, width: int) -> None:
    """Every diagram is there, and no line is longer than the width."""
    listed = shapes(find_instrument("mandolin"), Hand(), read_chord("G"), ShapeRequest())[:count]
    lines = side_by_side([Diagram("G", each, remarks(each)) for each in listed], width)
    assert max(map(len, lines), default=0) <= width
    words = " ".join(lines).split()
    assert all(str(each) in words for each in listed)


def parsed(diagram: Diagram) -> ElementTree.Element:
    """Return the drawing as a tree."""
    return ElementTree.fromstring(svg(diagram))


@pytest.mark.parametrize("left", [False, True])
def test_svg_has_fingers_marks_and_the_fret(left: bool) -> None:
    """Each pressed string has a dot with its finger; marks are above, the position is beside."""
    found = shape("guitar", "G", "355433")
    root = parsed(Diagram("G", found, left=left))
    words = [each.text for each in root.iter(f"{SVG}text")]
    dots = sorted(
        (float(each.get("cx", "")), float(each.get("cy", ""))) for each in root.iter(f"{SVG}circle")
    )
    rows = [round((y - dots[0 if not left else -1][1]) / 30) for _, y in dots]
    assert words[0] == "G"
    assert "3" in words
    assert sorted(each for each in words if each in "1234" and each)[:3] == ["1", "1", "1"]
    assert rows == ([0, 2, 2, 1, 0, 0] if not left else [0, 0, 1, 2, 2, 0])


def test_svg_is_safe_and_says_what_it_shows() -> None:
    """Text from outside is escaped; muted strings and remarks are written."""
    found = shape("mandolin", "G", "x523")
    root = parsed(Diagram("<G&>", found, remarks(found)))
    words = [each.text for each in root.iter(f"{SVG}text")]
    assert "<G&>" in words
    assert "x" in words
    assert "without 5" in words
