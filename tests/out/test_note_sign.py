"""The note of a tempo, as a drawing and as a glyph of the sheet's fonts."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from backing.out.note_sign import note_svg, tempo_html
from backing.out.sheet.faces import BOLD, PLAIN, missing_signs, width_of
from backing.timing import UNITS, Tempo
from tests.out.sheets import reach_of


@pytest.mark.parametrize("unit", UNITS)
def test_each_note_is_drawn_and_has_its_name(unit: str) -> None:
    """The drawing has the name of the note as its label."""
    drawing = ElementTree.fromstring(note_svg(unit))
    names = [each.tag for each in drawing.iter()]

    assert drawing.get("role") == "img"
    assert drawing.get("aria-label") == unit.replace("-", " ")
    assert ("circle" in names) == unit.startswith("dotted-")
    assert tempo_html(Tempo(92.5, unit)).endswith("</svg> = 92.5")


def test_no_two_notes_look_alike() -> None:
    """Each unit has its own drawing and its own character."""
    drawings = [note_svg(unit).split("viewBox", 1)[1] for unit in UNITS]
    assert len(set(drawings)) == len({unit.sign for unit in UNITS.values()}) == len(UNITS)


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("face", [PLAIN, BOLD])
def test_the_sheet_has_every_sign(unit: str, face: str) -> None:
    """Plain and bold fonts have the note, at least as wide as a quarter note and as high."""
    sign = UNITS[unit].sign
    assert missing_signs(sign) == ""
    assert width_of(sign, face, 10) >= width_of("♩", face, 10)
    assert reach_of(sign, face, 10)[0] == pytest.approx(reach_of("♩", face, 10)[0], abs=0.01)
