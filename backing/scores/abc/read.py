"""Reads tunes in ABC.

Conventions: the bars are those of the first voice with notes, with the chord signs of another voice
where it has none.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, NoReturn

from backing.chart.diagnostics import shown
from backing.chart.model import MOST_BARS
from backing.errors import ScoreError, SymbolError
from backing.scores.abc import fields
from backing.scores.abc.fields import Head, read_key
from backing.scores.abc.scan import SignHandler, scan
from backing.scores.abc.text import TUNE_LIMIT, plain_text, split_tunes
from backing.scores.abc.voice import Voice
from backing.scores.tune import Jump, Remark, Tune, TuneBar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from backing.scores.abc.text import Line, TuneText
    from backing.timing import Tempo

_FIELD = re.compile(r"\s{0,80}([A-Za-z+])\s?:(.*)", re.DOTALL)
_NOTE_THEN_BAR = re.compile(r"\s{0,80}[A-Ga-gxzZ]\s?:[|:]")
_PROSE = re.compile(r"\b[A-Za-z]*[h-wy][a-z]*[h-wy][a-z]*\b")
_ASIDE = re.compile(r'"[^"]*"|![^!]*!|\+[^+\s]{1,40}\+|\[[A-Za-z]:[^\[\]]{0,80}\]')
"""Text allowed in music: chords and annotations, decorations, inline fields."""

_IN_BODY = frozenset("IKLMmNPQRrsTUVWw+HOZSXDFGABC")
_LEFT_OUT = {
    "w": "lyrics are left out",
    "W": "lyrics are left out",
    "s": "the signs in lines of symbols (s:) are left out",
}
_MOST_SIGNS = 40_000
_MOST_REMARKS = 30
_SHORT = re.compile(r"([H-Wh-w~])\s*=\s*[!+]([^!+]{1,40})[!+]")


def read_abc(data: bytes, source: str = "tune.abc") -> Iterator[Tune | ScoreError]:
    """Yield every tune of an ABC file, or the error where a tune cannot be read.

    Args:
        data: the bytes of the file.
        source: its name, for error messages.

    Raises:
        ScoreError: when the file as a whole cannot be read.

    """
    for text in split_tunes(data, source):
        try:
            yield read_tune(text, source)
        except ScoreError as error:
            yield error


def read_tune(text: TuneText, source: str = "tune.abc") -> Tune:
    """Return one tune.

    Raises:
        ScoreError: when there is no music in it, or more than a chart can hold.

    """
    if sum(len(line.text) for line in text.lines) > TUNE_LIMIT:
        found = f"the tune is longer than {TUNE_LIMIT // 1024} KiB"
        allowed = "check that this is one tune; the next begins with X:"
        raise ScoreError.of(source, found, allowed, text.line)
    return _Reader(text, source).tune()


class _Reader:
    """Reads the lines of one tune."""

    def __init__(self, text: TuneText, source: str) -> None:
        self._text, self._source = text, source
        self._head = Head()
        self._tempo: Tempo | None = None
        self._voices: dict[str, Voice] = {}
        self._remarks: list[str] = []
        self._line = 0
        self._voice: Voice | None = None
        self._signs = 0
        self._music = SignHandler(self._remark, self._remark_once)

    def tune(self) -> Tune:
        for line in self._text.lines:
            self._line = line.number
            self._take(line)
        for voice in self._voices.values():
            voice.finish()
        bars = self._bars()
        head = self._head
        return Tune(
            title=head.title,
            key=bars[0].key,
            bars=bars,
            meter=bars[0].meter,
            composer=head.composer,
            tempo=self._tempo,
            rhythm=head.rhythm,
            order=head.order,
            notes=tuple(head.notes),
            remarks=tuple(self._remarks),
        )

    # lines

    def _take(self, line: Line) -> None:
        match = _FIELD.match(line.text)
        is_music = self._head.is_done and _NOTE_THEN_BAR.match(line.text)
        if match and not is_music and (not self._head.is_done or match[1] in _IN_BODY):
            self._take_field(match[1], match[2].strip())
        elif self._head.is_done:
            self._take_music(line.text)
        elif "|" in line.text and _PROSE.search(_ASIDE.sub("", line.text)):
            self._remark("a line of text before K: is ignored")
        elif line.text.strip() and "|" in line.text:
            self._remark("there is no K: before the music: read as C")
            self._end_head()
            self._take_music(line.text)

    def _take_field(self, name: str, value: str) -> None:
        if name == "U" and (short := _SHORT.match(value)):
            self._music.short[short[1]] = short[2]
        if value and name in _LEFT_OUT:
            self._remark_once(_LEFT_OUT[name])
        self._read(self._field_in_body if self._head.is_done else self._field_in_head, name, value)

    def _read(self, take: Callable[[str, str], None], name: str, value: str) -> None:
        """Take a field; remark one that cannot be read."""
        try:
            take(name, value)
        except SymbolError as error:
            self._remark(_remark_on(error))

    def _field_in_head(self, name: str, value: str) -> None:
        if name != "K":
            self._head.take(name, value, self._line)
            return
        try:
            self._head.key = read_key(value)
        finally:
            self._end_head()

    def _end_head(self) -> None:
        self._head.end()
        try:
            self._tempo = self._head.tempo()
        except SymbolError as error:
            self._remarks.append(f"line {self._head.tempo_line}: {_remark_on(error)}")

    def _field_in_body(self, name: str, value: str) -> None:
        voice = self._playing() if name in "KMLQPI" else None
        if name == "V":
            self._voice = self._voices_of(value)
        elif voice and name == "K":
            voice.key = read_key(value, voice.key)
        elif voice and name == "M":
            voice.meter = fields.read_meter(value)
        elif voice and name == "L":
            voice.unit = fields.read_length(value)
        elif voice and name == "Q":
            if tempo := fields.read_tempo(value, voice.unit):
                voice.tempo(tempo)
        elif voice and name == "I":
            voice.spread = fields.read_spread(value) or voice.spread
        elif voice and name == "P" and value:
            voice.part(plain_text(value))

    # voices

    def _voices_of(self, value: str) -> Voice:
        name = next(iter(value.split()), "1")
        if name not in self._voices:
            if len(self._voices) >= 64:
                return next(iter(self._voices.values()))
            head = self._head
            unit = head.unit or Fraction(1, 8)
            self._voices[name] = Voice(head.key, head.meter, unit, head.spread)
        return self._voices[name]

    def _playing(self) -> Voice:
        if self._voice is None:
            self._voice = self._voices_of("1")
            if self._head.label:
                self._voice.part(plain_text(self._head.label))
        return self._voice

    def _bars(self) -> tuple[TuneBar, ...]:
        """Return the bars of the melody, the first voice with notes.

        Raises:
            ScoreError: when there are none, or too many.

        """
        melody = melody_of(self._voices)
        if melody is None:
            self._refuse("there is no music in it", "write bars below K:, such as | G2 B2 d2 |")
        if len(melody.bars) > MOST_BARS:
            self._refuse(
                f"the tune has {len(melody.bars)} bars", f"a chart has at most {MOST_BARS}"
            )
        bars, left_out = bars_of(melody, self._voices)
        self._remarks += left_out
        return bars

    def _refuse(self, found: str, allowed: str) -> NoReturn:
        raise ScoreError.of(self._source, found, allowed, self._text.line)

    # music

    def _take_music(self, text: str) -> None:
        voice = self._playing()
        voice.line = self._line
        if text.lstrip().startswith("%%"):
            return
        for sign in scan(text):
            kind = sign.lastgroup or "other"
            self._signs += 1
            if self._signs > _MOST_SIGNS or len(voice.bars) > MOST_BARS:
                self._refuse(
                    f"it has more than {MOST_BARS} bars or {_MOST_SIGNS} signs",
                    "check that this is one tune; use repeats for music that returns",
                )
            if kind == "field":
                self._take_inline(sign["field"])
                voice = self._playing()
                voice.line = self._line
            else:
                self._music.take(kind, sign, voice)

    def _take_inline(self, text: str) -> None:
        name, value = text[1], text[3:-1].strip()
        if name in _IN_BODY:
            self._read(self._field_in_body, name, value)

    def _remark_once(self, text: str) -> None:
        """Add a remark on the whole tune, unless it is there already."""
        if text not in self._remarks:
            self._remarks.append(text)

    def _remark(self, text: str) -> None:
        if self._voice:
            self._voice.line = self._line
            self._voice.remark(text)
        elif len(self._remarks) < _MOST_REMARKS:
            self._remarks.append(f"line {self._line}: {text}")


def _remark_on(error: SymbolError) -> str:
    """Return the remark on a field that cannot be read."""
    return error.found if ": " in error.found else f"{error.found}: ignored"


def melody_of(voices: Mapping[str, Voice]) -> Voice | None:
    """Return the first voice with notes, else the first with bars, else None."""
    found = [voice for voice in voices.values() if voice.bars]
    with_notes = (each for each in found if any(bar.notes for bar in each.bars))
    return next(with_notes, found[0] if found else None)


def bars_of(melody: Voice, voices: Mapping[str, Voice]) -> tuple[tuple[TuneBar, ...], list[str]]:
    """Return the bars of a melody, and remarks on what is left out of the other voices.

    A melody without chord signs gets those of the first voice that has some, bar by bar.
    """
    others = {name: each for name, each in voices.items() if each is not melody}
    bars, chord_voice = melody.bars, None
    if not any(bar.chords for bar in bars):
        chord_voice = next((each for each in others.values() if _has_chords_for(each, bars)), None)
        bars = _with_chords_of(bars, chord_voice.bars) if chord_voice else bars
    left_out = [
        text for name, each in others.items() for text in _left_out(name, each, each is chord_voice)
    ]
    return tuple(_coda_signs(bars)), left_out


def _left_out(name: str, voice: Voice, is_chord_voice: bool) -> Iterator[str]:
    """Yield a remark on what is left out of a voice other than the melody."""
    notes = "notes" * any(bar.notes for bar in voice.bars)
    chords = "chord signs" * (not is_chord_voice and any(bar.chords for bar in voice.bars))
    if notes or chords:
        what = " and ".join(filter(None, (notes, chords)))
        yield f"the {what} of voice {shown(name[:20])} are left out"


def _has_chords_for(voice: Voice, bars: list[TuneBar]) -> bool:
    """Whether a voice has as many bars and chord signs in them."""
    return len(voice.bars) == len(bars) and any(bar.chords for bar in voice.bars)


def _with_chords_of(bars: list[TuneBar], others: list[TuneBar]) -> list[TuneBar]:
    """Return bars with the chord signs of another voice; remark those beyond a bar's end."""
    found = []
    for bar, other in zip(bars, others, strict=True):
        chords = tuple(each for each in other.chords if each.tick < bar.ticks)
        late = Remark("a chord sign of another voice lies beyond the bar: left out", bar.place)
        remarks = (*bar.remarks, *other.remarks, *[late] * (chords != other.chords))
        found.append(replace(bar, chords=chords, remarks=tuple(dict.fromkeys(remarks))))
    return found


def _coda_signs(bars: list[TuneBar]) -> list[TuneBar]:
    """Return bars in which the first of two coda signs is a to-coda mark."""
    marked = [index for index, bar in enumerate(bars) if Jump.CODA in bar.jumps]
    if len(marked) < 2 or any(Jump.TO_CODA in bar.jumps for bar in bars):
        return bars
    first = marked[0]
    kept = tuple(each for each in bars[first].jumps if each is not Jump.CODA)
    bars = list(bars)
    bars[first] = replace(bars[first], jumps=kept)
    before = max(first - 1, 0)
    bars[before] = replace(bars[before], jumps=(*bars[before].jumps, Jump.TO_CODA))
    return bars
