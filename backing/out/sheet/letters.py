"""Letter keys and chords: a large root, the rest smaller, with musical sharps and flats.

Conventions: the text is that of `backing show`, with ♯ (U+266F) for # and ♭ (U+266D) for b, so that
text copied from a sheet is the chart's.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from backing.harmony.signs import NO_CHORD, signed
from backing.out.sheet.faces import BOLD, PLAIN
from backing.out.sheet.marks import Run

if TYPE_CHECKING:
    from backing.chart.write import Spell
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key

_ROOT = re.compile("[A-G][♯♭]*|[♯♭]*(?:[1-7]|[IViv]+)")
_REST = 0.74
"""Size of the text after the root, in sizes of the root."""


def key_text(key: Key) -> str:
    """Return the name of a key: `E♭ major`, `A mixolydian`."""
    return f"{signed(str(key.tonic))} {key.mode}"


def chord_text(chord: Chord | None, key: Key, spell: Spell) -> str:
    """Return the text of a chord on the sheet."""
    return signed(spell(chord, key)) if chord else NO_CHORD


def runs_of(text: str, size: float) -> tuple[Run, ...]:
    """Return the text of a chord as runs, for a root of a size in points."""
    root = _ROOT.match(text)
    if text == NO_CHORD or not root:
        return (Run(text, PLAIN, _REST * size),)
    rest = text[root.end() :]
    runs = (Run(root[0], BOLD, size),)
    return (*runs, Run(rest, PLAIN, _REST * size)) if rest else runs


def width(runs: tuple[Run, ...]) -> float:
    """Return the width of runs in points."""
    return sum(run.width for run in runs)
