"""Reads and writes the text of a melody.

    # the melody of porch-light.chart
    [A]
    | (pickup) D4:1/8 E4 | F#4:1/4 A4 A4:1/2 | {B4}A4:3/8 F#4:1/8 r:1/2 |

Conventions: parts have the names of the chart's parts, and one bar for each bar as written, with
pickup and endings. A note is its name and octave (C4 is middle C), a colon and its length, as a
fraction of a whole note; without a length it is as long as the note before. `r` is a rest, or alone
a silent bar; the end of a short bar is silent. `C4+E4` sound together, `{B4 C5}` are grace notes
before a note, `A4~:1/2` is tied to the next bar. Bar lines of any shape, such as `|:` or `:|2`,
only separate the bars.
"""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING

from backing.chart.diagnostics import Diagnostics, TooManyFaultsError, quoted
from backing.chart.lengths import WHOLE_TICKS, length_suffixes, length_text, read_length
from backing.chart.melody import Melody, MelodyNote, MelodyPart
from backing.chart.outline import split_lines
from backing.errors import ScoreError, SymbolError
from backing.harmony.pitch import Pitch
from backing.nearest import did_you_mean, nearest

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.chart.model import Bar, Chart, Part

SUFFIX = ".melody"
"""The suffix of melody files."""

LIMIT = 1024 * 1024
"""The longest text of a melody, in characters."""

_BARS_A_LINE = 4
_MOST_TOGETHER = 16
_PART = re.compile(r"\s*\[\s*([^\]\s]*)\s*\]\s*(?:#.*)?$")
_BAR_LINE_OR_WORD = re.compile(
    r":?\|[|:]*(?:\]|x[0-9]{1,2}|[0-9,]{1,9}(?=[\s]|$))?"
    r"|(?P<word>\{[^}|]*\}?[^\s|]*|\(pickup[^)|]{0,20}\)|[^\s|:]+(?::[^\s|:]+)?|:)"
)
_NOTE = re.compile(
    r"(?:\{(?P<graces>[^{}]*)\})?(?P<pitches>r|[^:{}]+)(?::(?P<length>[0-9]{1,5}(?:/[0-9]{1,5})?))?"
)
_PARTS = "write a part such as [A], and below it a bar of notes for every bar of the chart's part"
_NOTES = "write a note such as F#4:1/8, C4+E4:1/4 for two, r:1/4 for a rest, A4~:1/2 for a tie"


def read_melody(text: str, chart: Chart, source: str = "melody") -> Melody:
    """Read the melody of a chart.

    Args:
        text: the text; a byte order mark at its start is dropped.
        chart: the chart of the melody.
        source: the file's name for faults.

    Raises:
        ScoreError: with the faults in the order of the text, at most fifty in full.

    """
    lines = split_lines(text[: LIMIT + 1].removeprefix("\ufeff"))
    faults = Diagnostics(source, lines)
    reader = _Reader(chart, faults)
    try:
        if len(text) > LIMIT:
            faults.add((0, 0), f"it is longer than {LIMIT >> 20} MiB", "check that it is a melody")
        else:
            for number, line in enumerate(lines, 1):
                reader.line(number, line)
            reader.end_part()
            if not reader.found and not faults:
                faults.add((0, 0), "there is no melody in it", _PARTS)
    except TooManyFaultsError:
        pass
    if faults:
        raise ScoreError(source, faults.error().faults)
    return Melody(tuple(reader.found))


class _Reader:
    """Reads lines of a melody.

    Attributes:
        found: the parts read so far.

    """

    def __init__(self, chart: Chart, faults: Diagnostics) -> None:
        self.found: list[MelodyPart] = []
        self._chart, self._faults = chart, faults
        self._part: Part | None = None
        self._written: list[Bar] = []
        self._bars: list[tuple[MelodyNote, ...]] = []
        self._line = 0
        self._skipping = False
        self._length = Fraction(1, 4)

    def line(self, number: int, text: str) -> None:
        """Read one line."""
        if not text.strip() or text.lstrip().startswith("#"):
            return
        if match := _PART.match(text):
            self.end_part()
            self._begin(match[1], number, match.start(1) + 1)
        elif "|" in text:
            self._take_bars(number, text)
        else:
            self._faults.add(
                (number, len(text) - len(text.lstrip()) + 1),
                f"{quoted(text.strip())} is not understood",
                "write a part such as [A], and notes between bar lines, such as | D4:1/4 F#4 |",
            )

    def _begin(self, name: str, line: int, column: int) -> None:
        names = [part.name for part in self._chart.parts]
        self._skipping = name not in names or any(each.name == name for each in self.found)
        if name not in names:
            self._faults.add(
                (line, column),
                f"{quoted(name)} is not a part of the chart",
                lambda: f"choose from {', '.join(names[:20])}" + did_you_mean(nearest(name, names)),
            )
        elif self._skipping:
            self._faults.add((line, column), f"part {name} is there twice", "delete one")
        else:
            self._part = self._chart.part(name)
            self._written = list(self._part.written())
        self._line = line

    def end_part(self) -> None:
        """Finish the part; report it if it has more or fewer bars than the chart's."""
        part, bars = self._part, self._bars
        self._part, self._bars = None, []
        if part is None:
            return
        if len(bars) != len(self._written):
            pickup = ", including its pickup" if part.pickup else ""
            self._faults.add(
                (self._line, 0),
                f"part {part.name} has {len(bars)} bars here and {len(self._written)} as written "
                f"in the chart{pickup}",
                "write one bar for every bar of the chart, r for a silent one",
            )
        self.found.append(MelodyPart(part.name, tuple(bars)))

    def _take_bars(self, line: int, text: str) -> None:
        if self._part is None:
            if not self._skipping:
                found = "bars come before the first part"
                self._faults.add((line, 1), found, "write its name first, such as [A]")
                self._skipping = True
            return
        words: list[tuple[int, str]] = []
        for match in _BAR_LINE_OR_WORD.finditer(text):
            if match["word"]:
                words.append((match.start() + 1, match["word"]))
            else:
                self._take_bar(line, words)
                words = []
        self._take_bar(line, words)

    def _take_bar(self, line: int, words: list[tuple[int, str]]) -> None:
        if not words:
            return
        index = len(self._bars)
        bar = self._written[index] if index < len(self._written) else None
        if words[0][1].startswith("(pickup"):
            if bar and not bar.pickup:
                self._faults.add(
                    (line, words[0][0]), "this bar is not a pickup in the chart", "delete (pickup)"
                )
            words = words[1:]
        self._bars.append(self._notes(line, words, bar.ticks if bar else None))

    def _notes(
        self, line: int, words: list[tuple[int, str]], ticks: int | None
    ) -> tuple[MelodyNote, ...]:
        if [text for _, text in words] == ["r"]:
            return ()
        notes: list[MelodyNote] = []
        position = Fraction(0)
        for column, text in words:
            try:
                position += self._note(text, position, notes)
            except SymbolError as error:
                self._faults.add_symbol((line, column), error)
                return ()
        if ticks is not None and round(position * WHOLE_TICKS) > ticks:
            available = length_text(ticks)
            self._faults.add(
                (line, words[0][0]),
                f"the notes of this bar last {position} of a whole note, the bar {available}",
                "shorten its notes; a note without a length is as long as the one before",
            )
        return tuple(notes)

    def _note(self, text: str, start: Fraction, notes: list[MelodyNote]) -> Fraction:
        """Read a note or a rest; return its length in whole notes."""
        match = _NOTE.fullmatch(text)
        if not match:
            raise SymbolError(f"{quoted(text)} is not a note", _NOTES)
        self._length = read_length(match["length"]) if match["length"] else self._length
        if match["pitches"] == "r":
            return self._length
        tick, end = round(start * WHOLE_TICKS), round((start + self._length) * WHOLE_TICKS)
        if end <= tick:
            raise SymbolError(f"{quoted(text)} is too short", "the shortest note is 1/1920")
        graces = tuple(Pitch.parse(each) for each in (match["graces"] or "").split())
        written = match["pitches"].split("+")
        ties = {Pitch.parse(each.removesuffix("~")): each.endswith("~") for each in written}
        pitches = list(ties)
        if len(pitches) > _MOST_TOGETHER or len(graces) > _MOST_TOGETHER:
            raise SymbolError(
                f"{quoted(text)} is too many notes", f"write at most {_MOST_TOGETHER}"
            )
        for pitch in sorted(pitches, key=lambda each: each.key):
            notes.append(MelodyNote(tick, end - tick, pitch, ties[pitch], graces))
            graces = ()
        return self._length


def write_melody(melody: Melody, chart: Chart) -> str:
    """Return the text of a melody; reading it with its chart gives an equal melody."""
    lines = [f"# the melody of {' '.join(chart.title.split())}"]
    for part in melody.parts:
        written = list(chart.part(part.name).written())
        lines += ["", f"[{part.name}]", *_lines(written, part.bars)]
    return "\n".join(lines) + "\n"


def _lines(written: Sequence[Bar], bars: Sequence[tuple[MelodyNote, ...]]) -> Iterator[str]:
    at = 0
    while at < len(bars):
        end = at + _BARS_A_LINE + (at == 0 and written[0].pickup)
        row = [list(_words(notes)) for notes in bars[at:end]]
        suffixes = length_suffixes(ticks for words in row for _, ticks in words)
        texts = []
        for bar, words in zip(written[at:end], row, strict=True):
            names = [name + next(suffixes) for name, _ in words] or ["r"]
            texts.append(" ".join(["(pickup)"] * bar.pickup + names))
        yield f"| {' | '.join(texts)} |"
        at = end


def _words(notes: Sequence[MelodyNote]) -> Iterator[tuple[str, int]]:
    """Yield the rests and notes of a bar without their lengths, which are in ticks."""
    position = 0
    for tick, group in groupby(notes, key=lambda each: each.tick):
        together = list(group)
        if tick > position:
            yield "r", tick - position
        graces = " ".join(str(each) for note in together for each in note.graces)
        name = "+".join(f"{note.pitch}{'~' * note.tied}" for note in together)
        yield f"{{{graces}}}{name}" if graces else name, together[0].ticks
        position = together[0].end
