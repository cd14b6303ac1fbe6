"""Parses XML safely into a tree of elements; unpacks and packs compressed scores.

Conventions: this uses expat and not `xml.etree` for three reasons: elements keep their line for
error messages; limits apply while parsing; and entity declarations, which expansion and
external-file attacks need, are refused. No external file is opened, not even the DTD. Elements
that are irrelevant to melody, chords and form are dropped.

A compressed score, `.mxl`, is a ZIP archive; its `META-INF/container.xml` names the score as its
first root file (MusicXML 4.0). The sizes in the archive are not trusted: bytes are counted while
unpacking, and their number and their ratio to the compressed bytes are limited.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NoReturn
from xml.parsers import expat

from backing.errors import ScoreError, reason_of

LIMIT = 16 * 1024 * 1024
"""The largest document, in bytes."""

MOST_ELEMENTS = 150_000
"""The most elements in a document."""

_MOST_DEEP = 40
_LONGEST_TEXT = 2000
_IGNORED = {
    "beam", "print", "figured-bass", "frame", "defaults", "appearance",
    "ornaments", "technical", "articulations", "dynamics", "listening", "play",
}  # fmt: skip
_NUMBER = re.compile(r"\s*([+-]?)([0-9]{0,9})(?:\.([0-9]{0,30}))?\s*", re.ASCII)


@dataclass(eq=False, slots=True)
class Node:
    """An element.

    Attributes:
        tag: its name.
        line: where it begins, from 1.
        text: its own text, stripped, at most 2000 characters.
        children: its child elements that are kept.

    """

    tag: str
    line: int
    _attributes: dict[str, str]
    text: str = ""
    children: list[Node] = field(default_factory=list)

    def get(self, name: str) -> str:
        """Return an attribute, stripped, or ""."""
        return self._attributes.get(name, "").strip()[:_LONGEST_TEXT]

    def child(self, tag: str) -> Node | None:
        """Return the first child with a tag, or None."""
        return next((each for each in self.children if each.tag == tag), None)

    def like(self, children: list[Node]) -> Node:
        """Return a copy with other children."""
        return Node(self.tag, self.line, self._attributes, self.text, children)

    def all(self, path: str) -> list[Node]:
        """Return all elements at the end of a path of names; `*` is any name."""
        found = [self]
        for tag in path.split("/"):
            found = [each for node in found for each in node.children if tag in (each.tag, "*")]
        return found

    def at(self, path: str) -> str:
        """Return the text at the end of a path of names such as `work/work-title`, or ""."""
        node: Node | None = self
        for tag in path.split("/"):
            node = node.child(tag) if node else None
        return node.text if node else ""

    def number(self, tag: str) -> Fraction | None:
        """Return the number inside the first element of this name; None without a number."""
        return read_number(self.at(tag))

    def whole(self, tag: str, default: int = 0) -> int:
        """Return that number rounded, or the default."""
        found = self.number(tag)
        return default if found is None else round(found)


def read_number(text: str) -> Fraction | None:
    """Return a decimal number of at most nine figures before the point, or None."""
    match = _NUMBER.fullmatch(text[:50])
    if not match or not (match[2] or match[3]):
        return None
    return Fraction(f"{match[1]}{match[2] or 0}.{(match[3] or '0')[:9]}")


def refuse(source: str, line: int, found: str, allowed: str) -> NoReturn:
    """Raise the fault at a line; 0 is the file as a whole."""
    raise ScoreError.of(source, found, allowed, line)


def parse(data: bytes, source: str) -> Node:
    """Return the root of a document.

    Raises:
        ScoreError: when it is not XML, declares entities, or is too large or too deep.

    """
    if len(data) > LIMIT:
        refuse(source, 0, f"it is larger than {LIMIT >> 20} MiB", "save the tune alone")
    bare = data.lstrip(b" \t\r\n")
    if not bare:
        refuse(source, 0, "the file is empty", "export the tune once more as MusicXML")
    lines = data[: len(data) - len(bare)].count(b"\n")
    try:
        return _Builder(source, lines).tree(bare, None)
    except _WrongEncodingError:
        return _Builder(source, lines).tree(bare, "utf-8")


class _WrongEncodingError(Exception):
    """The document is not in the encoding that it declares."""


class _Builder:
    """Builds the tree while expat parses."""

    def __init__(self, source: str, lines: int) -> None:
        self._source, self._lines = source, lines
        self._open: list[Node] = []
        self._texts: list[str] = []
        self._root: Node | None = None
        self._skipped = 0
        self._count = 0

    def tree(self, data: bytes, encoding: str | None) -> Node:
        parser = self._parser = expat.ParserCreate(encoding)
        parser.buffer_text = True
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._text
        parser.EntityDeclHandler = self._entity
        try:
            parser.Parse(data, True)
        except expat.ExpatError as error:
            self._no_xml(error, encoding)
        except (ValueError, LookupError):
            self._refuse("its encoding is not known here", "save it in UTF-8")
        if self._root is None:
            self._refuse("there is nothing in it", "export the tune once more as MusicXML")
        return self._root

    def _no_xml(self, error: expat.ExpatError, encoding: str | None) -> NoReturn:
        wrong = expat.errors.codes[expat.errors.XML_ERROR_INCORRECT_ENCODING]
        if error.code == wrong and encoding is None:
            raise _WrongEncodingError from None
        what = expat.ErrorString(error.code)
        refuse(
            self._source,
            error.lineno + self._lines,
            f"this is not well-formed XML ({what})",
            "export the tune once more as MusicXML; it may have been cut off, or be another kind "
            "of file",
        )

    def _refuse(self, found: str, allowed: str) -> NoReturn:
        refuse(self._source, self._parser.CurrentLineNumber + self._lines, found, allowed)

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self._count += 1
        if self._count > MOST_ELEMENTS:
            self._refuse(f"it has more than {MOST_ELEMENTS} elements", "save the tune alone")
        if self._skipped or tag in _IGNORED:
            self._skipped += 1
            return
        if len(self._open) >= _MOST_DEEP:
            self._refuse(
                f"elements are nested more than {_MOST_DEEP} deep",
                "this is not MusicXML: export the tune once more",
            )
        node = Node(tag, self._parser.CurrentLineNumber + self._lines, attributes)
        if self._open:
            self._close_text()
            self._open[-1].children.append(node)
        else:
            self._root = node
        self._open.append(node)

    def _end(self, _: str) -> None:
        if self._skipped:
            self._skipped -= 1
            return
        self._close_text()
        self._open.pop()

    def _text(self, text: str) -> None:
        if not self._skipped:
            self._texts.append(text[:_LONGEST_TEXT])

    def _close_text(self) -> None:
        if self._texts:
            node = self._open[-1]
            node.text = (node.text + "".join(self._texts[:50]).strip())[:_LONGEST_TEXT]
            self._texts = []

    def _entity(self, name: str, *_: object) -> None:
        self._refuse(
            f"the entity '{name[:40]}' is declared",
            "MusicXML needs none, and none is read: remove the declaration",
        )


_CONTENTS = "META-INF/container.xml"
_MEDIA_TYPE = "application/vnd.recordare.musicxml"
_MOST_RATIO = 200
_RATIO_FROM = 1024 * 1024
_MOST_CONTENTS = 256 * 1024
_CONTENTS_LIMIT = 64 * 1024
_END = b"PK\x05\x06"
_ZIP64 = b"PK\x06\x07"
_PIECE = 64 * 1024
_EPOCH = (1980, 1, 1, 0, 0, 0)
_EXPORT = "export the tune once more, or as uncompressed MusicXML"


def is_packed(data: bytes) -> bool:
    """Whether bytes are a ZIP archive."""
    return data.startswith(b"PK")


def unpacked(data: bytes, source: str) -> bytes:
    """Return the bytes of the score in an archive.

    Raises:
        ScoreError: when it is damaged, encrypted, has no score, or unpacks to too many bytes.

    """
    _check_contents(data, source)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _read(archive, _score_name(archive, source), LIMIT, source)
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError) as error:
        refuse(source, 0, f"the archive is damaged ({reason_of(error)[:80]})", _EXPORT)
    except (NotImplementedError, RuntimeError) as error:
        refuse(source, 0, f"the archive cannot be opened ({reason_of(error)[:80]})", _EXPORT)


def _check_contents(data: bytes, source: str) -> None:
    """Refuse an archive with too many files before its directory is read."""
    end = data.rfind(_END, -65_557)
    if end < 0:
        refuse(source, 0, "the archive has no end: it was cut off", _EXPORT)
    size = int.from_bytes(data[end + 12 : end + 16], "little")
    if size > _MOST_CONTENTS or data[end - 20 : end].startswith(_ZIP64):
        refuse(source, 0, "the archive has too many files in it", _EXPORT)


def _score_name(archive: zipfile.ZipFile, source: str) -> str:
    names = archive.namelist()
    if _CONTENTS in names:
        root = parse(_read(archive, _CONTENTS, _CONTENTS_LIMIT, source), f"{source}, {_CONTENTS}")
        files = root.all("rootfiles/rootfile")
        typed = [each for each in files if each.get("media-type").startswith(_MEDIA_TYPE)]
        named = [each.get("full-path") for each in (*typed, *files)]
        found = next((name for name in named if name in names), None)
        if found is None:
            refuse(source, 0, f"{_CONTENTS} names no score that is in the archive", _EXPORT)
        return found
    scores = [name for name in names if name.lower().endswith((".musicxml", ".xml"))]
    if not scores:
        refuse(source, 0, "there is no score in the archive", _EXPORT)
    return scores[0]


def _read(archive: zipfile.ZipFile, name: str, limit: int, source: str) -> bytes:
    info = archive.getinfo(name)
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        refuse(source, 0, f"'{name[:60]}' is compressed in a way MusicXML does not allow", _EXPORT)
    most = max(_RATIO_FROM, info.compress_size * _MOST_RATIO)
    found = bytearray()
    with archive.open(info) as file:
        while piece := file.read(_PIECE):
            found += piece
            if len(found) > limit:
                what = f"'{name[:60]}' unpacks to more than {limit >> 10} KiB"
                refuse(source, 0, what, "save the tune alone")
            if len(found) > most:
                what = f"'{name[:60]}' unpacks to more than {_MOST_RATIO} times its size"
                refuse(source, 0, what, "no score does that: export the tune once more")
    return bytes(found)


def packed(score: bytes, name: str = "score.musicxml") -> bytes:
    """Return an archive with a score; the same score gives the same bytes."""
    contents = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles>'
        f'<rootfile full-path="{name}" media-type="{_MEDIA_TYPE}+xml"/>'
        "</rootfiles></container>\n"
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for path, data, method in (
            ("mimetype", _MEDIA_TYPE.encode(), zipfile.ZIP_STORED),
            (_CONTENTS, contents.encode(), zipfile.ZIP_DEFLATED),
            (name, score, zipfile.ZIP_DEFLATED),
        ):
            archive.writestr(zipfile.ZipInfo(path, _EPOCH), data, method)
    return out.getvalue()
