"""An independent check of shapes, from the definition of a hand alone, without the search."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.fretboard.instrument import Instrument
    from backing.harmony.chord import Chord

SHARES = {1: {2: 0.65, 3: 0.85, 4: 1.0}, 2: {3: 0.6, 4: 0.85}, 3: {4: 0.6}}
"""Share of the hand's reach between two fingers (our own choice)."""


def fret_mm(instrument: Instrument, fret: int) -> float:
    """Return the distance from the nut by equal temperament."""
    return instrument.scale_mm - instrument.scale_mm / 2 ** (fret / 12)


def classes(instrument: Instrument, frets: tuple[int | None, ...]) -> set[int]:
    """Return the pitch classes that sound."""
    return {
        (key + fret) % 12
        for key, fret in zip(instrument.strings, frets, strict=True)
        if fret is not None
    }


def faults_of_hand(
    instrument: Instrument,
    frets: tuple[int | None, ...],
    fingers: tuple[int | None, ...],
    reach_mm: float,
) -> list[str]:
    """Return the errors of a fingering."""
    faults = []
    if not len(frets) == len(fingers) == len(instrument.strings):
        return ["not one fret and one finger a string"]
    for fret, finger in zip(frets, fingers, strict=True):
        if fret is not None and not 0 <= fret <= instrument.frets:
            faults.append(f"fret {fret} is off the neck")
        if (fret is None) != (finger is None) or (fret == 0) != (finger == 0):
            faults.append("open and muted strings have no finger, others have one")
        if finger is not None and finger not in range(5):
            faults.append(f"there is no finger {finger}")
    where = {
        finger: [string for string, each in enumerate(fingers) if each == finger]
        for finger in set(fingers) - {None, 0}
    }
    for finger, strings in where.items():
        here = {frets[string] for string in strings}
        if len(here) != 1:
            faults.append(f"finger {finger} is on two frets")
        fret = here.pop()
        for string in range(strings[0], strings[-1] + 1):
            under = frets[string]
            if under is None or under < fret:
                faults.append(f"the bar of finger {finger} covers string {string}")
    for low, high in combinations(sorted(where), 2):
        here, there = frets[where[low][0]], frets[where[high][0]]
        if there < here or (there == here and where[high][0] < where[low][-1]):
            faults.append(f"fingers {low} and {high} are crossed")
        apart = fret_mm(instrument, there) - fret_mm(instrument, here)
        if apart > SHARES[low][high] * reach_mm + 0.01:
            faults.append(f"fingers {low} and {high} are {apart:.1f} mm apart")
    return faults


def faults_of_notes(
    instrument: Instrument, frets: tuple[int | None, ...], chord: Chord, left_out: tuple
) -> list[str]:
    """Return the errors of the notes: a wrong one, or a missing one that is not listed."""
    sounding = classes(instrument, frets)
    faults = []
    if wrong := sounding - chord.pitch_classes:
        faults.append(f"wrong notes {wrong}")
    root = chord.root.pitch_class
    missing = {
        degree for degree in chord.quality.degrees if (root + degree.semitones) % 12 not in sounding
    }
    if missing != set(left_out):
        faults.append(f"missing {missing}, told {left_out}")
    return faults
