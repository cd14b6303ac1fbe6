"""Reads tunes in ABC."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING, NoReturn

from backing.chart.faults import shown
from backing.chart.model import MOST_BARS
from backing.errors import Fault, ScoreError, SymbolError
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName
from backing.scores.abc import fields
from backing.scores.abc.keys import of_key, read_key
from backing.scores.abc.scan import kind_of, read_bar, read_figures, read_tuplet, scan
from backing.scores.abc.symbols import read_jump, read_symbol
from backing.scores.abc.text import TUNE_LIMIT, plain_text, split_tunes
from backing.scores.abc.voice import Voice
from backing.scores.tune import Jump, Remark, Tune, TuneBar
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.scores.abc.keys import AbcKey
    from backing.scores.abc.text import Line, TuneText
    from backing.timing import Tempo

_FIELD = re.compile(r"\s{0,80}([A-Za-z+])\s?:(.*)", re.DOTALL)
_NOTE_THEN_BAR = re.compile(r"\s{0,80}[A-Ga-gxzZ]\s?:[|:]")
_PROSE = re.compile(r"\b[A-Za-z]*[h-wy][a-z]*[h-wy][a-z]*\b")
_ASIDE = re.compile(r'"[^"]*"|![^!]*!|\+[^+\s]{1,40}\+|\[[A-Za-z]:[^\[\]]{0,80}\]')
"""What may stand in music as words: chords and annotations, decorations, fields inside a line."""

_IN_BODY = frozenset("IKLMmNPQRrsTUVWw+HOZSXDFGABC")
_NO_PART_OF_A_CHART = {
    "w": "lyrics are left out",
    "W": "lyrics are left out",
    "s": "the signs in lines of symbols (s:) are left out",
}
_MOST_SIGNS = 40_000
_MOST_REMARKS = 30
_MOST_NOTES = 20
_DYNAMICS = re.compile(r"p{1,4}|m[pf]|f{1,4}|sfz|[<>][()]|(?:crescendo|diminuendo)[()]")
_SHORT = re.compile(r"([H-Wh-w~])\s*=\s*[!+]([^!+]{1,40})[!+]")


def read_abc(data: bytes, source: str = "tune.abc") -> Iterator[Tune | ScoreError]:
    """Yield every tune of a file in ABC, or the error of one that cannot be read.

    Args:
        data: the bytes of the file.
        source: its name, for faults.

    Raises:
        ScoreError: when the file as a whole cannot be read.

    """
    for text in split_tunes(data, source):
        try:
            yield read_tune(text, source)
        except ScoreError as error:
            yield error


def read_tune(text: TuneText, source: str = "tune.abc") -> Tune:
    """Read one tune.

    Raises:
        ScoreError: when there is no music in it, or more than a chart can hold.

    """
    if sum(len(line.text) for line in text.lines) > TUNE_LIMIT:
        raise ScoreError(
            source,
            (
                Fault(
                    text.line,
                    0,
                    f"the tune is longer than {TUNE_LIMIT // 1024} KiB",
                    "check that this is one tune; the next begins with X:",
                ),
            ),
        )
    return _Reader(text, source).tune()


@dataclass(slots=True)
class _Head:
    """What the fields before the music say."""

    title: str = ""
    composer: str = ""
    rhythm: str = ""
    notes: list[str] = field(default_factory=list)
    key: AbcKey = field(default_factory=lambda: of_key(Key(NoteName(0))))
    meter: Meter | None = field(default_factory=lambda: Meter(4, 4))
    unit: Fraction | None = None
    tempo_text: tuple[int, str] | None = None
    tempo: Tempo | None = None
    order: tuple[str, ...] = ()
    spread: fields.Spread = fields.Spread.PITCH
    done: bool = False


class _Reader:
    """Reads the lines of one tune."""

    def __init__(self, text: TuneText, source: str) -> None:
        self._text, self._source = text, source
        self._head = _Head()
        self._voices: dict[str, Voice] = {}
        self._remarks: list[str] = []
        self._line = 0
        self._voice: Voice | None = None
        self._signs = 0
        self._heading_part = ""
        self._short = {"S": "segno", "O": "coda"}  # letters for decorations (v2.1, 4.16)

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
            tempo=head.tempo,
            rhythm=head.rhythm,
            order=head.order,
            notes=tuple(head.notes),
            remarks=tuple(self._remarks),
        )

    # lines

    def _take(self, line: Line) -> None:
        match = _FIELD.match(line.text)
        is_music = self._head.done and _NOTE_THEN_BAR.match(line.text)
        if match and not is_music and (not self._head.done or match[1] in _IN_BODY):
            self._take_field(match[1], match[2].strip())
        elif self._head.done:
            self._take_music(line.text)
        elif "|" in line.text and _PROSE.search(_ASIDE.sub("", line.text)):
            self._remark("a line of words stands before K:: passed over")
        elif line.text.strip() and "|" in line.text:
            self._remark("there is no K: before the music: taken as C")
            self._finish_head()
            self._take_music(line.text)

    def _take_field(self, name: str, value: str) -> None:
        if name == "U" and (short := _SHORT.match(value)):
            self._short[short[1]] = short[2]
        if value and name in _NO_PART_OF_A_CHART:
            self._tell_once(_NO_PART_OF_A_CHART[name])
        try:
            if self._head.done:
                self._field_in_body(name, value)
            else:
                self._field_in_head(name, value)
        except SymbolError as error:
            self._remark(_passed(error))

    def _field_in_head(self, name: str, value: str) -> None:
        head = self._head
        if name == "T" and value and not head.title:
            head.title = plain_text(value)
        elif name == "T" and value and len(head.notes) < _MOST_NOTES:
            head.notes.append(f"also called {plain_text(value)}")
        elif name == "C" and value and not head.composer:
            head.composer = plain_text(value)
        elif name == "R":
            head.rhythm = plain_text(value)
        elif name in "NH" and value and len(head.notes) < _MOST_NOTES:
            head.notes.append(plain_text(value))
        elif name == "M":
            head.meter = fields.read_meter(value)
        elif name == "L":
            head.unit = fields.read_length(value)
        elif name == "Q":
            head.tempo_text = (self._line, value)
        elif name == "P":
            self._order(value)
        elif name == "I":
            head.spread = fields.read_spread(value) or head.spread
        elif name == "V":
            self._voice_id(value)
        elif name == "K":
            self._key_of_head(value)

    def _order(self, value: str) -> None:
        if re.fullmatch(r"[A-Z]?[a-z]{2,}.*", value):  # words: a label, no order
            self._heading_part = value
        else:
            self._head.order = fields.read_order(value)

    def _key_of_head(self, value: str) -> None:
        try:
            self._head.key = read_key(value)
        finally:
            self._finish_head()

    def _finish_head(self) -> None:
        head = self._head
        head.done = True
        head.unit = head.unit or fields.usual_length(head.meter)
        if head.tempo_text:
            line, text = head.tempo_text
            try:
                head.tempo = fields.read_tempo(text, head.unit)
            except SymbolError as error:
                self._remarks.append(f"line {line}: {_passed(error)}")

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

    def _voice_id(self, value: str) -> str:
        return value.split()[0] if value.split() else "1"

    def _voices_of(self, value: str) -> Voice:
        name = self._voice_id(value)
        if name not in self._voices:
            if len(self._voices) >= 64:
                return next(iter(self._voices.values()))
            head = self._head
            # what one voice said first holds for the tune as far as nothing was played yet
            unit = head.unit or Fraction(1, 8)
            self._voices[name] = Voice(head.key, head.meter, unit, head.spread)
        return self._voices[name]

    def _playing(self) -> Voice:
        if self._voice is None:
            self._voice = self._voices_of("1")
            if self._heading_part:
                self._voice.part(plain_text(self._heading_part))
        return self._voice

    def _bars(self) -> tuple[TuneBar, ...]:
        """Return the bars of the melody: those of the first voice that has notes.

        Raises:
            ScoreError: when there are none, or too many.

        """
        voices = [voice for voice in self._voices.values() if voice.bars]
        melody = next((each for each in voices if any(bar.notes for bar in each.bars)), None)
        melody = melody or (voices[0] if voices else None)
        if melody is None:
            self._refuse("there is no music in it", "write bars below K:, such as | G2 B2 d2 |")
        if len(melody.bars) > MOST_BARS:
            self._refuse(
                f"the tune has {len(melody.bars)} bars", f"a chart has at most {MOST_BARS}"
            )
        others = {name: each for name, each in self._voices.items() if each is not melody}
        bars, lender = melody.bars, None
        if not any(bar.chords for bar in bars):
            lender = next((each for each in others.values() if _lends(each, bars)), None)
            bars = _with_chords_of(bars, lender.bars) if lender else bars
        for name, each in others.items():
            self._tell_left_out(name, each, lends=each is lender)
        return tuple(_coda_signs(bars))

    def _tell_left_out(self, name: str, voice: Voice, *, lends: bool) -> None:
        """Tell what of another voice than the melody's is lost."""
        notes = "notes" * any(bar.notes for bar in voice.bars)
        chords = "chord signs" * (not lends and any(bar.chords for bar in voice.bars))
        if notes or chords:
            what = " and ".join(filter(None, (notes, chords)))
            self._remarks.append(f"the {what} of voice {shown(name[:20])} are left out")

    def _refuse(self, found: str, allowed: str) -> NoReturn:
        raise ScoreError(self._source, (Fault(self._text.line, 0, found, allowed),))

    # music

    def _take_music(self, text: str) -> None:
        voice = self._playing()
        voice.line = self._line
        if text.lstrip().startswith("%%"):
            return
        for sign in scan(text):
            kind = kind_of(sign)
            self._signs += 1
            if self._signs > _MOST_SIGNS or len(voice.bars) > MOST_BARS:
                self._refuse(
                    f"it has more than {MOST_BARS} bars or {_MOST_SIGNS} signs",
                    "check that this is one tune; let repeats say what returns",
                )
            if kind == "field":
                self._take_inline(sign["field"])
                voice = self._playing()
                voice.line = self._line
            else:
                self._take_sign(kind, sign, voice)

    def _take_inline(self, text: str) -> None:
        name, value = text[1], text[3:-1].strip()
        if name in _IN_BODY:
            try:
                self._field_in_body(name, value)
            except SymbolError as error:
                self._remark(_passed(error))

    def _take_sign(self, kind: str, sign: re.Match[str], voice: Voice) -> None:
        match kind:
            case "note":
                voice.note(sign["pitch"], sign["length"])
            case "bar":
                voice.bar_sign(read_bar(sign["bar"], sign["ending"]))
            case "quoted":
                text = sign["quoted"].strip('"')
                closed = len(sign["quoted"]) > 1 and sign["quoted"][-1] == '"'
                if closed or read_symbol(text):
                    self._take_quoted(text, voice)
                if not closed:
                    self._remark("a quotation mark is not closed: the rest of its line is left out")
            case "chord":
                self._chord_of_notes(sign, voice)
            case "rest":
                voice.rest(sign["rest_length"])
            case "decoration" | "space":
                text = sign["decoration"] or self._short.get(sign[0], "")
                if jump := read_jump(text.strip("!+")):
                    voice.jump(jump)
                elif _DYNAMICS.fullmatch(text.strip("!+")):
                    self._tell_once("dynamics are left out")
            case "grace":
                voice.grace(sign["grace"])
                if not sign["grace"].endswith("}"):
                    self._remark("a brace is not closed: the rest of its line is left out")
            case "tuplet":
                self._take_tuplet(sign["tuplet"], voice)
            case "mark":
                voice.ending(read_figures(sign["figures"]))
            case "bars":
                voice.whole_bars(int(sign["count"] or 1))
            case "broken":
                voice.broken(sign["broken"])
            case "tie":
                voice.tie()
            case "overlay":
                voice.overlay()
            case "other":
                self._remark(f"the sign '{shown(sign[0])}' was passed over")

    def _chord_of_notes(self, sign: re.Match[str], voice: Voice) -> None:
        for quoted in re.findall(r'"([^"]*)"', sign["inside"]):
            self._take_quoted(quoted, voice)
        voice.chord_of_notes(sign["inside"], sign["chord_length"])

    def _take_quoted(self, text: str, voice: Voice) -> None:
        if symbol := read_symbol(text):
            voice.chord(symbol)
        elif jump := read_jump(text):
            voice.jump(jump)
        elif re.match("[<>^_@]", text):
            words = re.sub(r"^(?:@[-+0-9.,\s]*|.)", "", text).strip()
            if any(map(str.isalnum, words)):
                self._remark(f"the words '{shown(words[:60])}' are left out")
        elif any(map(str.isalnum, text)):
            self._remark(f"'{shown(text[:30])}' is no chord: taken for a remark to the player")

    def _take_tuplet(self, text: str, voice: Voice) -> None:
        meter = voice.meter
        compound = bool(meter and meter.unit >= 8 and meter.count % 3 == 0)
        if tuplet := read_tuplet(text, compound=compound):
            voice.tuplet(tuplet)
        elif text != "(1":
            self._remark(f"'{text}' is no tuplet: its notes keep their length")

    def _tell_once(self, text: str) -> None:
        """Tell of the tune as a whole."""
        if text not in self._remarks:
            self._remarks.append(text)

    def _remark(self, text: str) -> None:
        if self._voice:
            self._voice.line = self._line
            self._voice.remark(text)
        elif len(self._remarks) < _MOST_REMARKS:
            self._remarks.append(f"line {self._line}: {text}")


def _passed(error: SymbolError) -> str:
    """Return what is told of a field that cannot be read."""
    return error.found if ": " in error.found else f"{error.found}: passed over"


def _lends(voice: Voice, bars: list[TuneBar]) -> bool:
    """Whether a voice has chord signs for bars, bar by bar."""
    return len(voice.bars) == len(bars) and any(bar.chords for bar in voice.bars)


def _with_chords_of(bars: list[TuneBar], others: list[TuneBar]) -> list[TuneBar]:
    """Return bars with the chord signs of those of another voice; what is too late is told."""
    found = []
    for bar, beside in zip(bars, others, strict=True):
        chords = tuple(each for each in beside.chords if each.tick < bar.ticks)
        late = Remark("a chord sign of another voice lies behind the bar: left out", bar.place)
        told = (*bar.remarks, *beside.remarks, *[late] * (chords != beside.chords))
        found.append(replace(bar, chords=chords, remarks=tuple(dict.fromkeys(told))))
    return found


def _coda_signs(bars: list[TuneBar]) -> list[TuneBar]:
    """Return bars in which the first of two coda signs is the way to the coda."""
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
