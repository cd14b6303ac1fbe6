"""What is in a part, measure by measure, at concert pitch."""

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
class Sounding:
    """A note of a part.

    Attributes:
        tick, end: from the start of the measure, in ticks.
        pitch: as it sounds.
        voice: the name of its voice.
        tied: whether a tie begins at it.
        graces: the grace notes before it.

    """

    tick: int
    end: int
    pitch: Pitch
    voice: str
    tied: bool
    graces: tuple[Pitch, ...]


@dataclass(frozen=True, slots=True)
class Sign:
    """A chord sign of a part.

    Attributes:
        tick: where it stands.
        chord: the chord as it sounds; None is no chord.
        ticks: how long the note is that it stands at; 0 is not known.

    """

    tick: int
    chord: Chord | None
    ticks: int


@dataclass(eq=False, slots=True)
class Measure:
    """A measure of a part.

    Attributes:
        place: "measure 7", for remarks.
        line: of the file.
        key: as it sounds.
        meter: None is senza misura.
        implicit: whether it is marked as no whole measure.
        ticks: how long what is written in it is; 0 is nothing.
        notes, chords, signs: what stands in it.
        same_as: how many measures back the one is that it repeats; 0 is none.

    """

    place: str
    line: int
    key: Key
    meter: Meter | None
    implicit: bool
    ticks: int = 0
    notes: list[Sounding] = field(default_factory=list)
    chords: list[Sign] = field(default_factory=list)
    signs: Signs = field(default_factory=Signs)
    same_as: int = 0


@dataclass(eq=False, slots=True)
class PartMusic:
    """A part.

    Attributes:
        name: its name, for remarks.
        measures: in written order.
        drums: whether the list of parts says that it plays on percussion.
        pitched: whether any pitch stands under a clef other than that of percussion.
        plays: whether it has any note, with a pitch or without.
        mode_said: whether any key of it says its mode.
        remarks: what was mended or left out of its notes.
        chord_remarks: the same of its chords.

    """

    name: str
    measures: list[Measure] = field(default_factory=list)
    drums: bool = False
    pitched: bool = False
    plays: bool = False
    mode_said: bool = False
    remarks: list[str] = field(default_factory=list)
    chord_remarks: list[str] = field(default_factory=list)

    @property
    def has_melody(self) -> bool:
        """Whether it has notes with a pitch, and not all of them under a percussion clef."""
        return self.pitched and not self.drums

    def voices(self) -> list[str]:
        """Return its voices in the order in which they begin."""
        return list(dict.fromkeys(note.voice for each in self.measures for note in each.notes))
