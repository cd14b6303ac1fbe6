"""Decodes an ABC file and splits it into lines and tunes.

Conventions: a tune begins at `X:` and ends at an empty line or the next `X:` (v2.1, 2.2); fields
before the first `X:` apply to every tune. Text is in UTF-8, in the charset that `abc-charset`
names, or in Latin-1 (v2.1, 2.2.2 and 3.1.17); UTF-16 and UTF-32 need a byte order mark.
"""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

from backing.errors import ScoreError

LIMIT = 8 * 1024 * 1024
"""The largest file, in bytes."""

MOST_LINES = 200_000
"""The most lines in a file."""

MOST_TUNES = 20_000
"""The most tunes in a file."""

TUNE_LIMIT = 256 * 1024
"""The most characters in one tune."""

_CHARSET = re.compile(rb"^(?:%%|I:)\s*abc-charset\s+(iso-8859-\d{1,2}|utf-8|us-ascii)", re.I | re.M)
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_DIRECTIVE = "%%propagate-accidentals"
_NO_TEXT = re.compile("[\x00-\x08\x0e-\x19\x1b-\x1f]")
_LINE_END = re.compile(r"\r\n|\r|\n|\x0b|\x0c|\x1a")
_STARTS = re.compile(r"\s*X\s*:")
_FIELD = re.compile(r"\s*([A-Za-z]):")
_OF_A_TUNE = re.compile(r"\s{0,80}[TMLR]:")


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the file.

    Attributes:
        number: from 1.
        text: without line end and comment.

    """

    number: int
    text: str


@dataclass(frozen=True, slots=True)
class TuneText:
    """The lines of one tune.

    Attributes:
        lines: the fields at the head of the file, then its own lines.
        line: the number of its first own line.

    """

    lines: tuple[Line, ...]
    line: int

    @property
    def title(self) -> str:
        """The text of its first `T:`, else of its `X:`, else ""."""
        for name in "TX":
            for line in self.lines:
                if line.text.lstrip().startswith(f"{name}:"):
                    return line.text.partition(":")[2].strip()
        return ""


def split_tunes(data: bytes, source: str) -> list[TuneText]:
    """Return the tunes in the bytes of a file.

    Raises:
        ScoreError: when it is not text, is too large, or has no tune in it.

    """
    texts = _LINE_END.split(decoded(data, source))
    if len(texts) > MOST_LINES:
        found = f"it has {len(texts)} lines"
        raise ScoreError.of(source, found, f"split it: {MOST_LINES} are read")
    lines = [Line(number, _without_comment(text)) for number, text in enumerate(texts, 1)]
    starts = [index for index, line in enumerate(lines) if _STARTS.match(line.text)]
    if not starts:
        return [_only_tune(lines, source)]
    head = tuple(line for line in lines[: starts[0]] if _FIELD.match(line.text))
    if len(starts) > MOST_TUNES:
        raise ScoreError.of(
            source, f"it has {len(starts)} tunes", f"at most {MOST_TUNES} are read: split it"
        )
    ends = [*starts[1:], len(lines)]
    return [
        TuneText((*head, *_tune_lines(lines[start:end])), lines[start].number)
        for start, end in zip(starts, ends, strict=True)
    ]


def _tune_lines(lines: Sequence[Line]) -> list[Line]:
    """Return the lines up to the empty line that ends the tune.

    Empty lines before `K:`, and those that music follows, are ignored.
    """
    kept: list[Line] = []
    begun = ended = False
    for line in lines:
        if not line.text.strip():
            ended = ended or (begun and not line.text)
            continue
        if ended and not _is_music(line):
            break
        ended = False
        begun = begun or line.text.lstrip().startswith("K:")
        kept.append(line)
    return kept


def _is_music(line: Line) -> bool:
    """Whether a line is certainly music: it has a bar line and is no field."""
    return "|" in line.text and not re.match(r"\s{0,80}[A-Za-z]:(?!\|)", line.text)


def _only_tune(lines: list[Line], source: str) -> TuneText:
    """Return a file without `X:` as one tune.

    Raises:
        ScoreError: when there is no tune in it.

    """
    has_key = any(line.text.lstrip().startswith("K:") for line in lines)
    is_tune = any(map(_is_music, lines)) and any(_OF_A_TUNE.match(line.text) for line in lines)
    if not has_key and not is_tune:
        allowed = "a tune in ABC begins with X: and has a K:"
        raise ScoreError.of(source, "there is no tune in it", allowed)
    return TuneText(tuple(_tune_lines(lines)), 1)


def _without_comment(text: str) -> str:
    """Return a line up to a per cent sign without a backslash before it.

    A directive on accidentals becomes the equivalent `I:` field (v2.1, 3.1.17).
    """
    if text.startswith(_DIRECTIVE):
        text = f"I:{text.removeprefix('%%')}"
    at = text.find("%")
    while at > 0 and text[at - 1] == "\\":
        at = text.find("%", at + 1)
    if at < 0:
        return text
    # a line with only a comment does not end a tune, as an empty line does
    return text[:at] if text[:at].strip() else " "


def decoded(data: bytes, source: str) -> str:
    """Return the decoded text of a file.

    Raises:
        ScoreError: when it is not text, or is too large.

    """
    if len(data) > LIMIT:
        raise ScoreError.of(
            source, f"it is larger than {LIMIT >> 20} MiB", "split it into smaller files"
        )
    text = _as_text(data)
    if found := _NO_TEXT.search(text[:LIMIT]):
        line = len(_LINE_END.findall(text[: found.start()])) + 1
        what = f"a control character (U+{ord(found[0]):04X}) is in it: this is not text"
        raise ScoreError.of(source, what, "name a file in ABC, saved as plain text in UTF-8", line)
    return text


def _as_text(data: bytes) -> str:
    for mark, name in _BOMS:
        if data.startswith(mark):
            return data.decode(name, "replace").lstrip("\ufeff")
    if named := _CHARSET.search(data[: 1 << 16]):
        return data.decode(named[1].decode("ascii").lower(), "replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


_ACCENTS = {
    "`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308", "r": "\u030a",
    "c": "\u0327", "v": "\u030c", "u": "\u0306",
}  # fmt: skip
_LETTERS = {"ae": "æ", "AE": "Æ", "oe": "œ", "OE": "Œ", "ss": "ß", "/o": "ø", "/O": "Ø"}
_ESCAPE = re.compile(
    r"\\(?:u([0-9A-Fa-f]{4})|(ae|AE|oe|OE|ss|/o|/O)|([`'^~\"rcvu])([A-Za-z])|([&%\\]))"
)


def plain_text(text: str) -> str:
    """Return a title or a name with its escape sequences decoded (v2.1, 8.2)."""
    import html
    import unicodedata

    def sign(match: re.Match[str]) -> str:
        if match[1]:
            return chr(int(match[1], 16))
        if match[2]:
            return _LETTERS[match[2]]
        return match[5] or unicodedata.normalize("NFC", match[4] + _ACCENTS[match[3]])

    text = html.unescape(_ESCAPE.sub(sign, text))
    return " ".join("".join(each if each.isprintable() else " " for each in text).split())
