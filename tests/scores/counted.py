"""Counts the notes and chord signs of a tune in ABC, independently of the reader under test.

It reads characters one by one after the standard's sections 4.1 to 4.20 (v2.1, abcnotation.com),
without the project's code, and returns the content of each bar: every note with its letter, octave
and length, and every quoted text that begins like a chord.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

BROKEN = {">": Fraction(3, 2), ">>": Fraction(7, 4), ">>>": Fraction(15, 8)}
DEFAULT_TUPLETS = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}


@dataclass
class CountedBar:
    """The content between two bar lines.

    Attributes:
        line: the number of the line in which it begins, from 1.
        notes: letter, octave, start and end in whole notes of each note; a chord of notes has
            several, and what is tied inside the bar is one.
        open: letter and octave of the notes that are tied over the bar line at its end.
        entered: the same of the bar before.
        signs: texts between quotes that begin with a chord's letter.

    """

    line: int
    notes: list[tuple[str, int, Fraction, Fraction]] = field(default_factory=list)
    open: set[tuple[str, int]] = field(default_factory=set)
    entered: set[tuple[str, int]] = field(default_factory=set)
    signs: list[str] = field(default_factory=list)


class Counter:
    """Counts one tune, given as numbered lines from its `X:`."""

    def __init__(self, lines: list[tuple[int, str]]) -> None:
        self.bars: list[CountedBar] = []
        self.unit: Fraction | None = None
        self.meter = Fraction(1)
        self.compound = False
        self.in_music = False
        self.first_voice = self.voice = ""
        self.factor = Fraction(1)
        self.tuplet: list[Fraction | int] | None = None
        self.events: list[list[int]] = []
        self.position = self.last = Fraction(0)
        self.bar: CountedBar | None = None
        self.is_overlay = False
        self.tied: dict[tuple[str, int], str] = {}
        self.signs: dict[tuple[str, int], str] = {}
        for number, text in lines:
            self._line(number, text)
        self.voice = self.first_voice
        self._close()

    def _line(self, number: int, text: str) -> None:
        text = re.split(r"(?<!\\)%", text)[0]
        name = re.match(r"\s*([A-Za-z+])\s?:(?![|:])(.*)", text)
        if name and (not self.in_music or name[1] not in "abcdefgxz"):
            self._field(name[1], name[2].strip())
        elif self.in_music:
            self._music(number, text)

    def _field(self, name: str, value: str) -> None:
        if name in "ML" and self.is_other_voice:
            return
        if name == "M":
            self._meter(value)
        elif name == "L" and (match := re.match(r"(\d+)(?:/(\d+))?", value)):
            self.unit = Fraction(int(match[1]), int(match[2] or 1))
        elif name == "K":
            self.in_music = True
            if self.unit is None:
                self.unit = Fraction(1, 16) if self.meter < Fraction(3, 4) else Fraction(1, 8)
        elif name == "V" and self.in_music:
            self.voice = value.split()[0] if value else "1"
            self.first_voice = self.first_voice or self.voice

    @property
    def is_other_voice(self) -> bool:
        """Whether the next signs belong to a voice other than the first."""
        return self.voice != self.first_voice

    def _meter(self, value: str) -> None:
        match = re.match(r"\(?([\d+ ]+)\)?\s*/\s*(\d+)", value)
        if match:
            above = sum(int(each) for each in match[1].replace(" ", "").split("+"))
            self.meter = Fraction(above, int(match[2]))
            self.compound = int(match[2]) >= 8 and above % 3 == 0
        elif value[:1] in ("C", "c"):
            self.meter, self.compound = Fraction(1), False

    def _music(self, number: int, text: str) -> None:
        if not self.first_voice and text.strip():
            self.first_voice = self.voice = "1"
        at = 0
        while at < len(text):
            at = self._sign(number, text, at)

    def _sign(self, number: int, text: str, at: int) -> int:
        rest = text[at:]
        if rest[0] == '"':
            end = rest.find('"', 1)
            quoted = rest[1 : end if end > 0 else None]
            self._quoted(number, quoted)
            return at + (end + 1 if end > 0 else len(rest))
        if match := re.match(r"\[([A-Za-z]):([^\]]*)\]", rest):
            self._field(match[1], match[2].strip())
            return at + match.end()
        if match := re.match(r"!([^!\s|\[\"]+)!|!([A-Za-z. ]+)!|\+([A-Za-z.]{2,})\+", rest):
            return at + match.end()
        if rest[0] == "{":
            end = rest.find("}")
            return at + (end + 1 if end > 0 else len(rest))
        if match := re.match(r"\((\d+)(?::(\d*))?(?::(\d*))?", rest):
            self._open_tuplet(match)
            return at + match.end()
        if match := re.match(r"\.?(?:\[(?=\|))?(?:[|:]*\|[|:]*\]?|::+)(?:\s*\[?[\d,.-]+)?", rest):
            self._close()
            return at + match.end()
        if match := re.match(r"\[\s?\d[\d,.-]*", rest):
            self._close()
            return at + match.end()
        if match := re.match(r"\[([^\]|]+)\]([\d/]*)", rest):
            self._chord(number, match[1], match[2])
            return at + match.end()
        if match := re.match(r"((?:\^{1,2}|_{1,2}|=)?)/?([A-Ga-g])([,']*)(\d*/*\d*)", rest):
            self._note(number, [(match[2], match[3], match[1])], match[4])
            return at + match.end()
        if match := re.match(r"[zx](\d*/*\d*)", rest):
            self._event(number, [], self._length(match[1]))
            return at + match.end()
        if match := re.match(r"y[\d/]*", rest):
            return at + match.end()
        if match := re.match(r"[<>]+", rest):
            self._break(match[0])
            return at + match.end()
        if self.is_other_voice:
            return at + 1
        if rest[0] == "&":
            self.is_overlay = True
        if rest[0] == "-" and self.events and self.bar:
            places = [self.bar.notes[index][:2] for index in self.events[-1]]
            self.tied = {place: self.signs.get(place, "") for place in places}
        return at + 1

    def _quoted(self, number: int, text: str) -> None:
        like_a_chord = r"\(?[A-G][#b]?(?:[^a-z.]|m|dim|sus|aug|add|$)"
        if re.match(like_a_chord, text) and not self.is_other_voice and not self.is_overlay:
            self._current(number).signs.append(text)

    def _open_tuplet(self, match: re.Match[str]) -> None:
        first = int(match[1])
        times = int(match[2] or 0) or DEFAULT_TUPLETS.get(first, 3 if self.compound else 2)
        if 2 <= first <= 64 and not self.is_other_voice:
            self.tuplet = [Fraction(times, first), int(match[3] or 0) or first]

    def _chord(self, number: int, inside: str, length: str) -> None:
        for quoted in re.findall(r'"([^"]*)"', inside):
            self._quoted(number, quoted)
        bare = re.sub(r'"[^"]*"', "", inside)
        found = re.findall(r"((?:\^{1,2}|_{1,2}|=)?)/?([A-Ga-g])([,']*)(\d*/*\d*)(-?)", bare)
        if found:
            own = self._length(found[0][3]) * self._length(length)
            names: dict[tuple[str, str], str] = {}
            for sign, letter, marks, *_ in found:
                names.setdefault((letter, marks), sign)
            self._event(number, [(*name, sign) for name, sign in names.items()], own)
            for _, letter, marks, _, tie in found:
                if tie and not self.is_other_voice and not self.is_overlay:
                    place = _place(letter, marks)
                    self.tied[place] = self.signs.get(place, "")

    def _note(self, number: int, names: list[tuple[str, str, str]], length: str) -> None:
        self._event(number, names, self._length(length))

    @staticmethod
    def _length(text: str) -> Fraction:
        above, slash, below = text.partition("/")
        if not slash:
            return Fraction(int(above or 1))
        figures = below.lstrip("/")
        under = int(figures or 2) * 2 ** (len(below) - len(figures))
        return Fraction(int(above or 1), under) if under else Fraction(0)

    def _event(self, number: int, names: list[tuple[str, str, str]], length: Fraction) -> None:
        if self.is_other_voice:
            return
        length *= (self.unit or Fraction(1, 8)) * self.factor
        self.factor = Fraction(1)
        if self.tuplet:
            factor, left = self.tuplet
            length *= factor
            self.tuplet = [factor, left - 1] if left > 1 else None
        if self.is_overlay or not length:
            return
        bar = self._current(number)
        indices = []
        tied, self.tied = self.tied, {}
        for letter, marks, sign in names:
            place = _place(letter, marks)
            last = self.events[-1] if self.events else []
            before = [n for n in last if bar.notes[n][:2] == place]
            same = place in tied and (not sign or not tied[place] or sign == tied[place])
            self.signs[place] = sign or tied.get(place, "")
            if same and before:
                bar.notes[before[0]] = (*place, bar.notes[before[0]][2], self.position + length)
                indices.append(before[0])
            else:
                bar.notes.append((*place, self.position, self.position + length))
                indices.append(len(bar.notes) - 1)
        self.events.append(indices)
        self.position += length
        self.last = length

    def _break(self, signs: str) -> None:
        longer = BROKEN.get(signs.replace("<", ">"))
        if (
            self.is_other_voice
            or not longer
            or not self.events
            or not self.bar
            or len(set(signs)) > 1
        ):
            return
        first = longer if signs[0] == ">" else 2 - longer
        for index in self.events[-1]:
            letter, octave, start, end = self.bar.notes[index]
            self.bar.notes[index] = (letter, octave, start, end - self.last + self.last * first)
        self.position += self.last * (first - 1)
        self.factor = 2 - first

    def _current(self, number: int) -> CountedBar:
        if self.bar is None:
            self.bar = CountedBar(number)
        return self.bar

    def _close(self) -> None:
        if self.is_other_voice:
            return
        if self.bar is not None:
            self.bar.open = set(self.tied)
            self.bar.entered = self.bars[-1].open if self.bars else set()
            self.bars.append(self.bar)
        self.position = Fraction(0)
        self.bar, self.events, self.is_overlay, self.tied = None, [], False, {}


def _place(letter: str, marks: str) -> tuple[str, int]:
    """Return letter and octave of a written note; C is octave 4."""
    octave = (5 if letter.islower() else 4) + marks.count("'") - marks.count(",")
    return letter.upper(), octave
