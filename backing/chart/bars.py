"""Reads the words between two bar lines into a bar: chords and directions to the band."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from backing.chart.common_mistakes import JUMPS, refuse_common_mistake
from backing.chart.diagnostics import quoted
from backing.chart.lengths import WrittenChord, length_text, read_ticks, share_bar
from backing.chart.model import COMMON_TIME, DIRECTIONS, Bar, ChordSpan, Direction
from backing.errors import SymbolError
from backing.nearest import did_you_mean, nearest
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from backing.chart.diagnostics import Diagnostics
    from backing.chart.tokens import Word
    from backing.harmony.chord import Chord

EXCLUSIVE = (("stop", "hold", "break"), ("push", "break"))
"""Groups of directions; a chord takes at most one of each."""


def read_direction(text: str) -> str:
    """Return the direction in a quoted text.

    Args:
        text: the text with its quotes; the second may be missing.

    Raises:
        SymbolError: if the quote is not closed or holds no direction.

    """
    name = text[1:-1].strip().lower()
    if len(text) == 1 or text[-1] != '"':
        raise SymbolError(
            f"the quote {quoted(text)} is not closed",
            'write a direction in straight double quotes, such as "stop"',
        )
    if name in DIRECTIONS:
        return name
    words = name.replace(",", " ").split()[: len(DIRECTIONS)]
    if len(words) > 1 and all(word in DIRECTIONS for word in words):
        separate = " ".join(f'"{word}"' for word in words)
        raise SymbolError(
            f"{quoted(text[1:-1])} is more than one direction",
            f"write each in its own quotes: {separate}",
        )
    raise SymbolError(
        f"{quoted(text[1:-1])} is not a direction",
        f"choose one from {', '.join(DIRECTIONS)}" + did_you_mean(nearest(name, DIRECTIONS)),
    )


def add_direction(directions: list[tuple[str, int]], word: str, chord: int) -> None:
    """Add a direction to those of a bar.

    Args:
        directions: each with the number of its chord from 1; 0 means the whole bar.
        word: the direction to add.
        chord: the number of its chord.

    Raises:
        SymbolError: if it repeats or contradicts a direction of the bar or the chord.

    """
    present = [other for other, place in directions if place in (0, chord)]
    if word in present:
        raise SymbolError(
            f'"{word}" is there twice',
            "delete one of the two",
        )
    for group in EXCLUSIVE:
        against = next((other for other in present if {word, other} <= {*group}), "")
        if against:
            raise SymbolError(
                f'"{against}" and "{word}" contradict each other',
                f"choose one of {', '.join(group[:-1])} and {group[-1]} for each chord",
            )
    directions.append((word, chord))


_SLASHES = re.compile("/+")
_PICKUP = re.compile(r"\(\s*pickup\b", re.IGNORECASE)
_BRACKET = re.compile(r"\(\s*(pickup\s)?\s*([^\s()]{1,40})\s*\)", re.IGNORECASE)


@dataclass(slots=True)
class _Content:
    """The words of a bar read so far.

    Attributes:
        meter: the meter of the bar; None if the part's could not be read.
        pickup: whether the bar is a pickup.
        same: whether it repeats the bar before (%).
        chords: the chords as written.
        directions: each with the number of its chord from 1; 0 means the whole bar.
        refused: the words with a fault; each is reported once.

    """

    meter: Meter | None
    pickup: bool = False
    same: bool = False
    chords: list[WrittenChord] = field(default_factory=list)
    directions: list[tuple[str, int]] = field(default_factory=list)
    refused: set[str] = field(default_factory=set)

    @property
    def begun(self) -> bool:
        """Whether a chord or % has been read."""
        return self.same or bool(self.chords)


class BarReader:
    """Reads the bars of one part in order.

    Args:
        faults: collects the faults.
        chord: reads a chord; None is N.C., or a chord with a fault, which it reports.
        meter: the meter of the part; None if it could not be read.

    """

    def __init__(
        self, faults: Diagnostics, chord: Callable[[Word], Chord | None], meter: Meter | None
    ) -> None:
        self._faults = faults
        self._chord = chord
        self._meter = meter
        self._before: Bar | None = None

    def read(self, words: Sequence[Word], *, opens: bool) -> Bar:
        """Return the bar with these words; report its faults.

        A bar with a fault is returned without chords, so that the number of bars stays right.

        Args:
            words: the words of the bar, at least one.
            opens: whether a repeat opens with the bar.

        """
        content = _Content(self._meter)
        for word in words:
            try:
                self._take(word, content, opens=opens)
            except SymbolError as error:
                what = (
                    JUMPS if error.allowed == JUMPS else word.text
                )  # one fault for "D.C. al Fine"
                if what not in content.refused:
                    self._faults.add_symbol(word.place, error)
                content.refused.add(what)
        self._before = self._bar(words[0], content)
        return self._before

    def _bar(self, first: Word, content: _Content) -> Bar:
        meter = content.meter or COMMON_TIME
        spans: tuple[ChordSpan, ...] = (ChordSpan(0, meter.bar_ticks, None),)
        if content.refused or content.meter is None:
            return Bar(meter, spans, (), content.pickup)
        try:
            spans = self._spans(content, meter)
        except SymbolError as error:
            self._faults.add_symbol(first.place, error)
        places = [(0, meter.bar_ticks), *((span.tick, span.ticks) for span in spans)]
        directions = tuple(
            Direction(name, *places[0 if content.same else index])
            for name, index in content.directions
            if index < len(places)
        )
        return Bar(meter, spans, directions, content.pickup)

    def _spans(self, content: _Content, meter: Meter) -> tuple[ChordSpan, ...]:
        if content.same:
            return self._chords_before(meter)
        if not content.chords:
            raise SymbolError(
                "this bar has no chord",
                "write a chord, N.C. for none, or % to repeat the bar before",
            )
        return share_bar(content.chords, meter)

    def _chords_before(self, meter: Meter) -> tuple[ChordSpan, ...]:
        if not self._before:
            raise SymbolError(
                "there is no bar before %", "write the chords: % repeats a bar of the same part"
            )
        if self._before.meter != meter:
            raise SymbolError(
                f"% is in a bar of {meter}, but the bar before is in {self._before.meter}",
                "write the chords: % repeats a bar of the same meter",
            )
        return self._before.chords

    def _take(self, word: Word, content: _Content, *, opens: bool) -> None:
        """Add one word to the bar."""
        if word.text[0] == '"':
            add_direction(content.directions, read_direction(word.text), len(content.chords))
        elif word.text[0] == "(":
            self._take_bracket(word.text, content, opens=opens)
        elif _SLASHES.fullmatch(word.text):
            _take_slashes(word.text, content)
        elif word.text == "%" or content.same:
            _take_same(content)
        else:
            self._take_chord(word, content)

    def _take_chord(self, word: Word, content: _Content) -> None:
        """Add a chord, with or without a length."""
        name, colon, length = word.text.partition(":")
        if colon and (name == "%" or _SLASHES.fullmatch(name)):
            raise _length_without_chord(word.text, content.meter or COMMON_TIME)
        refuse_common_mistake(name)
        chord = self._chord(replace(word, text=name))
        try:
            ticks = read_ticks(length) if colon else None
        except SymbolError as error:
            raise SymbolError(error.found, error.allowed, len(name) + 1) from None
        content.chords.append(WrittenChord(name, chord, ticks))

    def _take_bracket(self, text: str, content: _Content, *, opens: bool) -> None:
        match = _BRACKET.fullmatch(text)
        if _PICKUP.match(text) and not (match and match[1] and "/" in match[2]):
            raise SymbolError(
                f"{quoted(text)} does not say how long it is",
                "write its length as a meter, such as (pickup 1/4) for one quarter note",
            )
        if not match:
            raise SymbolError(
                f"{quoted(text)} is neither a meter nor a pickup",
                "write in brackets the meter of a bar, such as (2/4), or a pickup, such as "
                "(pickup 1/4); write no space between a chord and its bracket",
            )
        if content.begun:
            raise SymbolError(
                f"{quoted(text)} comes after a chord",
                "write it first in its bar, such as | (2/4) D |",
            )
        content.pickup = bool(match[1])
        content.meter = _meter(match)
        if content.pickup:
            self._check_pickup(content.meter, opens=opens)

    def _check_pickup(self, meter: Meter, *, opens: bool) -> None:
        if self._before or opens:
            raise SymbolError(
                "this pickup is not at the start of its part",
                "a pickup is the first bar of a part, before any repeat opens; write a short bar "
                "elsewhere with its meter, such as (2/4)",
            )
        if self._meter and meter.bar_ticks >= self._meter.bar_ticks:
            raise SymbolError(
                f"a pickup of {meter} fills a bar of {self._meter}",
                "a pickup is shorter than a bar, such as (pickup 1/4); for a whole bar delete the "
                "bracket",
            )


def _meter(match: re.Match[str]) -> Meter:
    try:
        return Meter.parse(match[2])
    except SymbolError as error:
        raise SymbolError(error.found, error.allowed, match.start(2)) from None


def _length_without_chord(text: str, meter: Meter) -> SymbolError:
    """Return the error for a length after % or a slash."""
    if text[0] == "%":
        return SymbolError(
            f"{quoted(text)} gives % a length",
            "% repeats the whole bar; write it alone, or write the chords with their lengths",
        )
    return SymbolError(
        f"{quoted(text)} gives a slash a length",
        "a slash is one beat; write lengths after the chords and no slashes, such as "
        f"C:{length_text(meter.beat_ticks)}",
    )


def _take_slashes(text: str, content: _Content) -> None:
    if content.same:
        _take_same(content)
    if not content.chords:
        raise SymbolError(
            "a slash comes before the first chord of its bar",
            "begin the bar with a chord, then write a slash for each further beat",
        )
    content.chords[-1].slashes += len(text)


def _take_same(content: _Content) -> None:
    if content.begun:
        raise SymbolError(
            "% is not alone in its bar",
            "% repeats the whole bar before; to repeat only some chords, write them",
        )
    content.same = True
