"""The music of a part, measure by measure, at concert pitch."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backing.scores.musicxml.signs import Signs

if TYPE_CHECKING:
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.harmony.pitch import Pitch
    from backing.timing import Meter


@dataclass(eq=False, slots=True)
class PartNote:
    """A note of a part.

    Attributes:
        tick, end: start and end, in ticks from the start of the measure.
        pitch: its sounding pitch.
        voice: the name of its voice.
        tied: whether it is tied to the next note.
        graces: the grace notes before it.

    """

    tick: int
    end: int
    pitch: Pitch
    voice: str
    tied: bool
    graces: tuple[Pitch, ...]


@dataclass(frozen=True, slots=True)
class ChordSign:
    """A chord sign of a part.

    Attributes:
        tick: its place in the measure.
        chord: the sounding chord; None is no chord (N.C.).
        ticks: the length of the note below it; 0 if unknown.

    """

    tick: int
    chord: Chord | None
    ticks: int


@dataclass(eq=False, slots=True)
class Measure:
    """A measure of a part.

    Attributes:
        place: "measure 7", for remarks.
        line: its line in the file.
        key: the sounding key.
        meter: the meter; None is senza misura.
        implicit: whether it is marked as implicit, such as a pickup.
        ticks: the length of its content; 0 if empty.
        notes, chords, signs: its content.
        same_as: how many measures back the repeated measure is; 0 if it repeats none.

    """

    place: str
    line: int
    key: Key
    meter: Meter | None
    implicit: bool
    ticks: int = 0
    notes: list[PartNote] = field(default_factory=list)
    chords: list[ChordSign] = field(default_factory=list)
    signs: Signs = field(default_factory=Signs)
    same_as: int = 0


@dataclass(eq=False, slots=True)
class PartMusic:
    """A part.

    Attributes:
        name: its name, for remarks.
        measures: in written order.
        drums: whether the part list assigns it to percussion.
        pitched: whether it has a pitch under a clef other than the percussion clef.
        plays: whether it has any note, pitched or not.
        mode_given: whether any of its keys gives the mode.
        remarks: what was corrected or left out of its notes.
        chord_remarks: the same for its chord signs.

    """

    name: str
    measures: list[Measure] = field(default_factory=list)
    drums: bool = False
    pitched: bool = False
    plays: bool = False
    mode_given: bool = False
    remarks: list[str] = field(default_factory=list)
    chord_remarks: list[str] = field(default_factory=list)

    @property
    def has_melody(self) -> bool:
        """Whether it has pitched notes and is not a percussion part."""
        return self.pitched and not self.drums

    def voices(self) -> list[str]:
        """Return its voices in the order in which they begin."""
        return list(dict.fromkeys(note.voice for each in self.measures for note in each.notes))
