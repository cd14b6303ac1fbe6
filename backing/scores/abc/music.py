"""Applies the signs of ABC music to a voice."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from backing.chart.diagnostics import shown
from backing.scores.abc.scan import read_bar, read_tuplet
from backing.scores.abc.signs import read_jump, read_symbol
from backing.scores.tune import read_passes

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.scores.abc.voice import Voice

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
