"""Writes measures with their elements in the order of the schema."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.scores.musicxml.elements import (
    BEFORE,
    add,
    add_direction,
    add_jump,
    add_tempo,
)
from backing.scores.musicxml.notes import write_music, write_slashes

if TYPE_CHECKING:
    from collections.abc import Sequence
    from xml.etree import ElementTree

    from backing.harmony.chord import Chord
    from backing.scores.tune import TuneBar


class MeasureWriter:
    """Writes the bars of a part one by one.

    Args:
        part: the `part` element.
        divisions: divisions of a quarter note.
        low: whether the melody is written in the bass clef.
        slashes: whether there is no melody, so that bars with chords are written in slashes.

    """

    def __init__(
        self, part: ElementTree.Element, divisions: int, *, low: bool, slashes: bool
    ) -> None:
        self._part, self._divisions = part, divisions
        self._low, self._slashes = low, slashes
        self._number = 0
        self._ending: tuple[int, ...] = ()
        self._chord: Chord | None = None

    def measure(
        self,
        bar: TuneBar,
        before: TuneBar | None,
        after: TuneBar | None,
        *,
        offset: int,
        new_row: bool,
    ) -> None:
        """Write a bar.

        Args:
            bar: the bar.
            before: the bar before it, or None.
            after: the bar after it, or None.
            offset: the tick in its whole measure at which it begins.
            new_row: whether it begins a row.

        """
        measure = add(self._part, "measure")
        if bar.is_short:
            number = f"X{self._number}" if before else "0"
            measure.attrib = {"number": number, "implicit": "yes"}
        else:
            self._number += 1
            measure.set("number", str(self._number))
        if new_row:
            add(measure, "print", **{"new-system": "yes"})
        self._left(measure, bar)
        self._attributes(measure, bar, before)
        if bar.part:
            add_direction(measure, "rehearsal", bar.part)
        if bar.tempo:
            add_tempo(measure, bar.tempo)
        for jump in bar.jumps:
            if jump in BEFORE:
                add_jump(measure, jump)
        tied = (
            frozenset(note.pitch for note in before.notes if note.tied) if before else frozenset()
        )
        if self._slashes and self._is_played(bar):
            write_slashes(measure, bar, offset, self._divisions)
        else:
            write_music(measure, bar, offset, tied, self._divisions)
        for jump in bar.jumps:
            if jump not in BEFORE:
                add_jump(measure, jump)
        self._right(measure, bar, after)

    def _is_played(self, bar: TuneBar) -> bool:
        """Whether any chord sounds in a bar; store its last chord."""
        played = self._chord is not None and not (bar.chords and not bar.chords[0].tick)
        played = played or any(sign.chord for sign in bar.chords)
        self._chord = bar.chords[-1].chord if bar.chords else self._chord
        return played

    def _left(self, measure: ElementTree.Element, bar: TuneBar) -> None:
        if not (bar.opens or bar.ending):
            return
        line = add(measure, "barline", location="left")
        if bar.opens:
            add(line, "bar-style", "heavy-light")
        if bar.ending:
            self._ending = bar.ending
            add(line, "ending", number=_numbers(bar.ending), type="start")
        if bar.opens:
            add(line, "repeat", direction="forward")

    def _right(self, measure: ElementTree.Element, bar: TuneBar, after: TuneBar | None) -> None:
        stops = self._ending and _ending_stops(bar, after)
        style = (
            "light-heavy" if bar.closes or after is None else "light-light" if bar.double else ""
        )
        if not (stops or style):
            return
        line = add(measure, "barline", location="right")
        if style:
            add(line, "bar-style", style)
        if stops:
            kind = "stop" if bar.closes else "discontinue"
            add(line, "ending", number=_numbers(self._ending), type=kind)
            self._ending = ()
        if bar.closes:
            repeat = add(line, "repeat", direction="backward")
            if bar.closes != 2:
                repeat.set("times", str(bar.closes))

    def _attributes(
        self, measure: ElementTree.Element, bar: TuneBar, before: TuneBar | None
    ) -> None:
        key = before is None or before.key != bar.key
        meter = before is None or before.meter != bar.meter
        if not (key or meter):
            return
        group = add(measure, "attributes")
        if before is None:
            add(group, "divisions", self._divisions)
        if key:
            element = add(group, "key")
            add(element, "fifths", bar.key.signature)
            add(element, "mode", bar.key.mode)
        if meter:
            element = add(group, "time")
            add(element, "beats", bar.meter.count)
            add(element, "beat-type", bar.meter.unit)
        if before is None:
            clef = add(group, "clef")
            add(clef, "sign", "F" if self._low else "G")
            add(clef, "line", 4 if self._low else 2)


def _ending_stops(bar: TuneBar, after: TuneBar | None) -> bool:
    if after is None or bar.closes or bar.ending_stops or bar.double:
        return True
    return bool(after.opens or after.ending or after.part)


def _numbers(times: Sequence[int]) -> str:
    return ", ".join(map(str, times))
