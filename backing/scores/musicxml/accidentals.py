"""Printed accidentals.

Conventions: an accidental holds to the bar line for its letter in its octave, and a note that is
tied over the bar line has none (common practice, no source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.harmony.key import Key
    from backing.harmony.pitch import Pitch

_NAMES = {
    -3: "triple-flat", -2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp",
    3: "triple-sharp",
}  # fmt: skip


class Accidentals:
    """The accidentals that hold in a bar."""

    def __init__(self, key: Key) -> None:
        self._signature = {str(name)[0]: name.alter for name in key.scale}
        self._held: dict[tuple[str, int], int] = {}

    def shown(self, pitch: Pitch) -> str:
        """Return the accidental to print for a note, or ""; it holds from here on."""
        letter, alter = str(pitch.name)[0], pitch.name.alter
        held = self._held.get((letter, pitch.octave), self._signature[letter])
        self._held[letter, pitch.octave] = alter
        return _NAMES.get(alter, "") if alter != held else ""
