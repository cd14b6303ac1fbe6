"""Splits a line of music into signs (v2.1, section 4) and applies them to a voice.

The lines are split with one regular expression. Every repetition in it is bounded, so that a line
takes linear time.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from backing.chart.diagnostics import shown
from backing.scores.abc.signs import read_jump, read_symbol
from backing.scores.tune import read_passes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.scores.abc.voice import Voice

_LENGTH = r"[0-9]{0,6}/{0,6}[0-9]{0,4}"
_NOTE = r"(?:\^{1,2}|_{1,2}|=)?/?[A-Ga-g][,']{0,8}"
_TIMES = r"[0-9]{1,3}(?:[,.-][0-9]{1,3}){0,40}"
_SIGNS = re.compile(
    rf"""
    (?P<field>\[[A-Za-z]:[^\]\n]{{0,500}}\])
  | (?P<quoted>"[^"\n]{{0,500}}"?)
  | (?P<decoration>![^!\s|\n"\[]{{1,40}}!|![A-Za-z.\ ]{{1,40}}!|\+[a-zA-Z.]{{2,20}}\+)
  | (?P<grace>\{{/?[^}}\n]{{0,500}}\}}?)
  | (?P<tuplet>\([0-9]{{1,4}}(?::[0-9]{{0,4}}){{0,2}})
  | (?P<bar>\.?(?:\[(?=\|))?(?:[|:]*\|[|:]*\]?|::+)(?:\s{{0,4}}\[?(?P<ending>{_TIMES}))?\.?)
  | (?P<mark>\[\s?(?P<figures>{_TIMES})\.?)
  | (?P<chord>\[(?P<inside>[^\]|\n]{{1,200}})\](?P<chord_length>{_LENGTH}))
  | (?P<note>(?P<pitch>{_NOTE})(?P<length>{_LENGTH}))
  | (?P<rest>[zx](?P<rest_length>{_LENGTH}))
  | (?P<bars>[ZX](?P<count>[0-9]{{0,4}}))
  | (?P<broken>[<>]{{1,4}})
  | (?P<tie>-)
  | (?P<overlay>&)
  | (?P<space>y{_LENGTH}|[ \t`~.()H-Wh-w\\*;?@\#$!])
  | (?P<other>.)
    """,
    re.VERBOSE,
)
_INSIDE = re.compile(rf'"[^"]*"?|(?P<pitch>{_NOTE})(?P<length>{_LENGTH})(?P<tie>-?)')
_PITCH = re.compile(r"(\^{1,2}|_{1,2}|=)?/?([A-Ga-g])([,']*)")
_FACTORS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}


@dataclass(frozen=True, slots=True)
class WrittenPitch:
    """A pitch as written.

    Attributes:
        letter: A to G.
        octave: the octave of the letter; C is in 4, c in 5.
        alter: the semitones of its own accidental, or None without one.

    """

    letter: str
    octave: int
    alter: int | None


def scan(text: str) -> Iterator[re.Match[str]]:
    """Yield the signs of a line of music; `lastgroup` is the kind of each."""
    return _SIGNS.finditer(text)


def read_length(text: str) -> Fraction:
    """Return the factor of a length, `3/2`, `/` or `//` (v2.1, 4.3); 0 for a division by 0."""
    above, slash, below = text.partition("/")
    if not slash:
        return Fraction(int(above or 1))
    more = below.count("/")
    figures = below.lstrip("/")
    under = int(figures) if figures else 2
    return Fraction(int(above or 1), under << more) if under else Fraction(0)


def read_pitch(text: str) -> WrittenPitch:
    """Return the pitch of a note's text without its length."""
    match = _PITCH.match(text)
    assert match
    octave = (5 if match[2].islower() else 4) + match[3].count("'") - match[3].count(",")
    alter = _FACTORS[match[1]] if match[1] else None
    return WrittenPitch(match[2].upper(), octave, alter)


def inside(text: str) -> list[tuple[WrittenPitch, Fraction, bool]]:
    """Return pitch, length factor and tie of each note of a chord of notes or of grace notes."""
    return [
        (read_pitch(found["pitch"]), read_length(found["length"]), bool(found["tie"]))
        for found in _INSIDE.finditer(text)
        if found["pitch"]
    ]


_DEFAULT_TIMES = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}


def read_tuplet(text: str, *, compound: bool) -> tuple[Fraction, int] | None:
    """Return the length factor of a tuplet `(p:q:r` and how many notes have it (v2.1, 4.13).

    None means that the figures are out of range.
    """
    first, *rest = (int(each) if each else 0 for each in text[1:].split(":"))
    times = (rest[0] if rest else 0) or _DEFAULT_TIMES.get(first, 3 if compound else 2)
    notes = (rest[1] if len(rest) > 1 else 0) or first
    if not 2 <= first <= 64 or times > 64 or notes > 64:
        return None
    return Fraction(times, first), notes


@dataclass(frozen=True, slots=True)
class BarSign:
    """The meaning of a bar line.

    Attributes:
        closes: how often the repeat that ends here is played, 0 if none ends.
        opens: whether a repeat begins.
        double: whether it is a double bar line, thin or thick.
        ending: the passes of the ending that begins, or ().

    """

    closes: int
    opens: bool
    double: bool
    ending: tuple[int, ...]


def read_bar(run: str, figures: str | None) -> BarSign:
    """Return the meaning of a run of bar-line characters in any order (v2.1, 4.8)."""
    bare = re.match(r"\.?(\[?[|:]+\]?)", run)
    strokes = bare[1] if bare else run
    core = strokes.strip("[]")
    before = len(core) - len(core.lstrip(":"))
    behind = len(core) - len(core.rstrip(":"))
    if before == len(core):  # colons alone: as many close as open
        before = behind = len(core) // 2
    return BarSign(
        closes=before + 1 if before else 0,
        opens=behind > 0,
        double=("||" in core or "[|" in strokes or "|]" in strokes) and strokes != "[|]",
        ending=read_passes(figures or ""),
    )


_DYNAMICS = re.compile(r"p{1,4}|m[pf]|f{1,4}|sfz|[<>][()]|(?:crescendo|diminuendo)[()]")

_PLAIN: dict[str, Callable[[Voice, re.Match[str]], None]] = {
    "note": lambda voice, sign: voice.note(sign["pitch"], sign["length"]),
    "bar": lambda voice, sign: voice.bar_sign(read_bar(sign["bar"], sign["ending"])),
    "rest": lambda voice, sign: voice.rest(sign["rest_length"]),
    "mark": lambda voice, sign: voice.ending(read_passes(sign["figures"])),
    "bars": lambda voice, sign: voice.whole_bars(int(sign["count"] or 1)),
    "broken": lambda voice, sign: voice.broken(sign["broken"]),
    "tie": lambda voice, sign: voice.tie(),
    "overlay": lambda voice, sign: voice.overlay(),
}
"""The call on the voice for signs that need nothing else."""


class SignHandler:
    """Applies signs to a voice.

    Attributes:
        short: the decoration that each letter stands for (v2.1, 4.16).

    """

    def __init__(self, remark: Callable[[str], None], remark_once: Callable[[str], None]) -> None:
        """Create it with the functions that take remarks on this place and on the whole tune."""
        self.short = {"S": "segno", "O": "coda"}
        self._remark, self._remark_once = remark, remark_once

    def take(self, kind: str, sign: re.Match[str], voice: Voice) -> None:
        """Apply a sign of a kind, as `scan` yields it."""
        match kind:
            case "quoted":
                self._quotation(sign["quoted"], voice)
            case "chord":
                self._chord_of_notes(sign, voice)
            case "decoration" | "space":
                self._decoration(sign["decoration"] or self.short.get(sign[0], ""), voice)
            case "grace":
                self._grace(sign["grace"], voice)
            case "tuplet":
                self._tuplet(sign["tuplet"], voice)
            case "other":
                self._remark(f"the sign '{shown(sign[0])}' is ignored")
            case _ if kind in _PLAIN:
                _PLAIN[kind](voice, sign)

    def _quotation(self, quoted: str, voice: Voice) -> None:
        text = quoted.strip('"')
        closed = len(quoted) > 1 and quoted[-1] == '"'
        if closed or read_symbol(text):
            self._quoted(text, voice)
        if not closed:
            self._remark("a quotation mark is not closed: the rest of its line is left out")

    def _decoration(self, text: str, voice: Voice) -> None:
        if jump := read_jump(text.strip("!+")):
            voice.jump(jump)
        elif _DYNAMICS.fullmatch(text.strip("!+")):
            self._remark_once("dynamics are left out")

    def _grace(self, text: str, voice: Voice) -> None:
        voice.grace(text)
        if not text.endswith("}"):
            self._remark("a brace is not closed: the rest of its line is left out")

    def _chord_of_notes(self, sign: re.Match[str], voice: Voice) -> None:
        for quoted in re.findall(r'"([^"]*)"', sign["inside"]):
            self._quoted(quoted, voice)
        voice.chord_of_notes(sign["inside"], sign["chord_length"])

    def _quoted(self, text: str, voice: Voice) -> None:
        if symbol := read_symbol(text):
            voice.chord(symbol)
        elif jump := read_jump(text):
            voice.jump(jump)
        elif re.match("[<>^_@]", text):
            words = re.sub(r"^(?:@[-+0-9.,\s]*|.)", "", text).strip()
            if any(map(str.isalnum, words)):
                self._remark(f"the words '{shown(words[:60])}' are left out")
        elif any(map(str.isalnum, text)):
            self._remark(f"'{shown(text[:30])}' is not a chord: read as a remark to the player")

    def _tuplet(self, text: str, voice: Voice) -> None:
        meter = voice.meter
        compound = bool(meter and meter.unit >= 8 and meter.count % 3 == 0)
        if tuplet := read_tuplet(text, compound=compound):
            voice.tuplet(tuplet)
        elif text != "(1":
            self._remark(f"'{text}' is not a tuplet: its notes keep their length")
