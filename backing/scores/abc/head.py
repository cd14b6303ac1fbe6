"""The fields before the music of a tune in ABC."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backing.harmony.key import Key
from backing.harmony.pitch import NoteName
from backing.scores.abc import fields
from backing.scores.abc.keys import with_signature
from backing.scores.abc.text import plain_text
from backing.timing import Meter

if TYPE_CHECKING:
    from fractions import Fraction

    from backing.scores.abc.keys import AbcKey
    from backing.timing import Tempo

_MOST_NOTES = 20


@dataclass(slots=True)
class Head:
    """The fields before the music read so far.

    Attributes:
        title, composer, rhythm, notes, order: as in `Tune`.
        key: the key.
        meter: the meter, or None for free time.
        unit: the unit note length in whole notes; `end` sets the default if there is none.
        spread: the notes of a bar that an accidental applies to.
        label: the label of the first part, or "".
        tempo_line, tempo_text: the line and the text of the tempo.
        is_done: whether the music has begun.

    """

    title: str = ""
    composer: str = ""
    rhythm: str = ""
    notes: list[str] = field(default_factory=list)
    order: tuple[str, ...] = ()
    key: AbcKey = field(default_factory=lambda: with_signature(Key(NoteName(0))))
    meter: Meter | None = field(default_factory=lambda: Meter(4, 4))
    unit: Fraction | None = None
    spread: fields.Spread = fields.Spread.PITCH
    label: str = ""
    tempo_line: int = 0
    tempo_text: str = ""
    is_done: bool = False

    def take(self, name: str, value: str, line: int) -> None:
        """Take a field; unknown ones are ignored.

        Raises:
            SymbolError: when its value cannot be read.
        """
        match name:
            case "T" | "C" | "N" | "H" if value:
                self._take_words(name, plain_text(value))
            case "R":
                self.rhythm = plain_text(value)
            case "M":
                self.meter = fields.read_meter(value)
            case "L":
                self.unit = fields.read_length(value)
            case "Q":
                self.tempo_line, self.tempo_text = line, value
            case "P" if re.fullmatch(r"[A-Z]?[a-z]{2,}.*", value):  # a word is a label and no order
                self.label = value
            case "P":
                self.order = fields.read_order(value)
            case "I":
                self.spread = fields.read_spread(value) or self.spread

    def _take_words(self, name: str, words: str) -> None:
        if name == "T" and not self.title:
            self.title = words
        elif name == "C":
            self.composer = self.composer or words
        elif len(self.notes) < _MOST_NOTES:
            self.notes.append(f"also called {words}" if name == "T" else words)

    def end(self) -> None:
        """End the head; the music follows."""
        self.is_done = True
        self.unit = self.unit or fields.usual_length(self.meter)

    def tempo(self) -> Tempo | None:
        """Return the tempo, or None without one. Call `end` first.

        Raises:
            SymbolError: when it cannot be read.
        """
        if not self.tempo_line or self.unit is None:
            return None
        return fields.read_tempo(self.tempo_text, self.unit)
