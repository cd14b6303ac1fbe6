"""Compressed files, `.mxl`: a ZIP archive with the score and a list of contents (MusicXML 4.0).

Conventions: `META-INF/container.xml` names the score as its first root file. The sizes in the
archive are not trusted: bytes are counted while unpacking, and their number and their ratio to the
compressed bytes are limited.
"""

from __future__ import annotations

import io
import zipfile
import zlib

from backing.errors import reason_of
from backing.scores.musicxml.parse import LIMIT, parse, refuse

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
        files = [each for group in root.all("rootfiles") for each in group.all("rootfile")]
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
