"""Read malicious and broken scores, and texts in other encodings."""

from __future__ import annotations

import contextlib
import io
import random
import struct
import zipfile
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from xml_score import (
    BASIS,
    CLOSE,
    HEAD,
    OPEN,
    ending,
    harmony,
    line,
    note,
    part,
    score,
    style,
    words,
)

from backing.chart.read import read_chart
from backing.chart.write import write_chart
from backing.errors import BackingError, ScoreError
from backing.scores.musicxml import read_musicxml, write_mxl
from backing.scores.musicxml.parse import LIMIT, parse
from backing.scores.to_chart import to_chart

A = note("A4")
GOOD = score(harmony("D") + note("F#4"))
CONTAINER = '<container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'


def archive(files: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Return an archive of files."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as target:
        for name, data in files.items():
            target.writestr(name, data)
    return out.getvalue()


def with_container(data: bytes, name: str = "a.xml", method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Return an archive that names its score."""
    return archive({"META-INF/container.xml": CONTAINER.format(name).encode(), name: data}, method)


def _entities(body: str) -> bytes:
    root = "<score-partwise><part><measure><note>&z;</note></measure></part></score-partwise>"
    return f"{HEAD}<!DOCTYPE score-partwise [{body}]>{root}".encode()


LAUGHS = '<!ENTITY a "ha">' + "".join(
    f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghz", strict=True)
)

REFUSED = {
    "billion laughs": (_entities(LAUGHS), "the entity 'a' is declared"),
    "an outside file": (_entities('<!ENTITY z SYSTEM "file:///etc/passwd">'), "the entity 'z'"),
    "an outside parameter": (_entities('<!ENTITY % z SYSTEM "file:///x">%z;'), "the entity 'z'"),
    "a long entity": (_entities(f'<!ENTITY z "{"x" * 1_000_000}">'), "the entity 'z'"),
    "a bomb": (with_container(bytes(LIMIT * 4)), "unpacks to more than 200 times its size"),
    "a large score": (
        with_container(bytes(LIMIT + 1), method=zipfile.ZIP_STORED),
        "unpacks to more than 16384 KiB"),
    "an archive in an archive": (with_container(with_container(GOOD)), "not well-formed XML"),
    "a container that is a bomb": (
        archive({"META-INF/container.xml": bytes(1_000_000)}), "unpacks to more than 64 KiB"),
    "a container with entities": (
        archive({"META-INF/container.xml": _entities(LAUGHS)}), "the entity 'a' is declared"),
    "a container that names nothing": (
        archive({"META-INF/container.xml": b"<container/>", "a.xml": GOOD}), "names no score"),
    "a container that leads outside": (
        archive({"META-INF/container.xml": CONTAINER.format("../../etc/passwd").encode()}),
        "names no score that is in the archive"),
    "no score": (archive({"readme.txt": b"x"}), "there is no score in the archive"),
    "another way to pack": (with_container(GOOD, method=zipfile.ZIP_LZMA), "does not allow"),
    "many files": (archive({f"{n:06}": b"" for n in range(6000)}), "too many files"),
    "cut off": (write_mxl(read_musicxml(GOOD))[:200], "it was cut off"),
    "PK alone": (b"PK", "it was cut off"),
    "deep": (b"<a>" * 500_000, "more than 40 deep"),
    "deep and closed": (b"<a>" * 500_000 + b"</a>" * 500_000, "more than 40 deep"),
    "very many elements": (b"<a>" + b"<b/>" * 3_000_000 + b"</a>", "more than 150000 elements"),
    "very many ignored elements": (
        b"<a><lyric>" + b"<b/>" * 3_000_000 + b"</lyric></a>", "more than 150000 elements"),
    "too large": (b"<a>" + b" " * LIMIT + b"</a>", "larger than 16 MiB"),
    "noise": (random.Random(1).randbytes(1_000_000), "not well-formed XML"),
    "NULs": (bytes(1_000_000), "not well-formed XML"),
    "nothing": (b"", "the file is empty"),
    "spaces": (b" \n" * 100_000, "the file is empty"),
    "HTML": (b"<html><body>tunes</body></html>", "this is <html> and not a score"),
    "an opus": (b"<opus/>", "this is <opus> and not a score"),
    "no parts": (b"<score-partwise/>", "the score has no measures"),
    "an encoding that is none": (b"<?xml version='1.0' encoding='klingon'?><a/>", ""),
    "an encoding of many bytes": (b"<?xml version='1.0' encoding='gb18030'?><a/>", ""),
    "half of UTF-16": (GOOD.decode().encode("utf-16")[:-7], "not well-formed XML"),
    "many measures": (score(*["<note/>"] * 5000), "a chart has at most 4096 bars"),
    "many parts": (
        b"<score-partwise>" + b"<part><measure/></part>" * 5000 + b"</score-partwise>",
        "the score has 5000 parts"),
    "a huge duration": (score(note("C4", 999_999_999)), "lasts more than 128 quarter notes"),
    "a huge figure": (score(note("C4", 10**30)), "is not a duration"),
    "huge beats": (
        score("", attributes=f"<time><beats>{'9' * 10_000}</beats><beat-type>4</beat-type></time>"),
        "is not a meter"),
    "a huge key": (
        score(note("C4"), attributes="<key><fifths>999999999</fifths></key>"),
        "is not a key signature"),
    "an exponent": (score(note("C4", 2).replace(">2<", ">1e999999999<")), "is not a duration"),
}  # fmt: skip
"""Bytes by description, and a part of the error message."""

READ = {
    "very many repeats": score(note("C4"), (OPEN + CLOSE) * 30_000),
    "repeats in repeats": score(*[OPEN + note("C4")] * 2000, *[CLOSE + note("C4")] * 2000),
    "huge times": score(
        note("C4") + line('<repeat direction="backward" times="999999999"/>'),
    ),
    "huge endings": score(
        OPEN + note("C4"),
        ending(f"1-999999999{',9' * 50_000}")
        + note("D4") + CLOSE, note("E4"),
    ),
    "da capo again and again": score(*[note("C4") + words("D.C.", 'dacapo="yes"')] * 2000),
    "many lines inside": score(
        note("C4") + "<backup><duration>7</duration></backup>"
        + '<barline location="middle"><repeat direction="backward"/></barline>' * 20_000
    ),
    "many notes": score(note("C4", 1) * 15 + note("C4", 0, before="<grace/>") * 10_000),
    "many chords": score(harmony("C") * 10_000 + note("C4")),
    "long chord text": score(harmony("C", "other", text="m" * 200_000) + note("C4")),
    "long kind": score(harmony("C", "m" * 200_000) + note("C4")),
    "many degrees": score(
        harmony("C", "major", "<degree>" + "<degree-value>9</degree-value>" * 10_000 + "</degree>")
        + note("C4")
    ),
    "long words": score(words("D.C. " * 50_000) + note("C4")),
    "long title": score(
        note("C4"), before=f"<work><work-title>{'x' * 1_000_000}</work-title></work>"
    ),
    "huge offset": score(harmony("C", "major", "<offset>999999999</offset>") + note("C4")),
    "huge divisions": score(note("C4"), attributes="<divisions>999999999</divisions>"),
    "tiny durations": score(note("C4", 1) * 3000, attributes="<divisions>999999999</divisions>"),
    "back before the start": score(note("C4") + "<backup><duration>999999</duration></backup>"),
    "many parts in the limit": (
        b"<score-partwise>" + f"<part>{part(A)}</part>".encode() * 200 + b"</score-partwise>"
    ),
}  # fmt: skip
"""Scores that look broken and can be read."""


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name: str) -> None:
    """A refusal is a sentence with the file's name."""
    data, expected = REFUSED[name]
    with pytest.raises(ScoreError, match=r"^bad\.mxl") as caught:
        read_musicxml(data, "bad.mxl")
    assert expected in str(caught.value)
    assert len(str(caught.value)) < 400


LONG = {
    "very many repeats", "repeats in repeats", "many chords", "many degrees", "many notes",
    "tiny durations", "da capo again and again", "many lines inside",
}  # fmt: skip


@pytest.mark.parametrize(
    "name", [pytest.param(each, marks=[pytest.mark.slow] * (each in LONG)) for each in READ]
)
def test_read_all_the_same(name: str) -> None:
    """The tune becomes a chart that can be read again, or is too long for one."""
    tune = read_musicxml(READ[name])
    with contextlib.suppress(BackingError):
        chart = to_chart(tune).chart
        assert read_chart(write_chart(chart)) == chart


def test_sizes_that_an_archive_lies_about() -> None:
    """Sizes stated in the archive are not trusted."""
    bomb = bytes(LIMIT * 2)
    data = bytearray(with_container(bomb))
    for signature, at in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        place = data.rfind(signature)
        assert struct.unpack_from("<I", data, place + at) == (len(bomb),)
        struct.pack_into("<I", data, place + at, 1000)
    with pytest.raises(ScoreError, match=r"^bad\.mxl"):
        read_musicxml(bytes(data), "bad.mxl")


def test_no_outside_file_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    """No external file is opened, not even the DTD."""
    import builtins
    import socket

    def never(*args: object, **_: object) -> None:
        raise AssertionError(args)

    monkeypatch.setattr(builtins, "open", never)
    monkeypatch.setattr(socket, "socket", never)
    kind = b'<!DOCTYPE score-partwise PUBLIC "-//x//y" "file:///etc/passwd">'
    read_musicxml(GOOD.replace(b"<score-partwise", kind + b"<score-partwise", 1))


@pytest.mark.parametrize(
    "encoding, declared",
    [
        ("utf-8", "UTF-8"), ("utf-8-sig", "UTF-8"), ("utf-16", "UTF-16"), ("utf-16-le", "UTF-16"),
        ("iso-8859-1", "ISO-8859-1"), ("cp1252", "windows-1252"), ("utf-8", "UTF-16"),
    ],
)  # fmt: skip
def test_encodings(encoding: str, declared: str) -> None:
    """Text in the encoding that it declares is read; so is UTF-8 that calls itself UTF-16."""
    text = score(note("C4"), before="<work><work-title>Café à Orléans</work-title></work>").decode()
    data = text.replace("UTF-8", declared).encode(encoding)

    assert read_musicxml(data).title == "Café à Orléans"


def test_compressed_scores() -> None:
    """The container names the score; without a container the first score is read."""
    assert read_musicxml(with_container(GOOD, "deep/down.xml")) == read_musicxml(GOOD)
    assert read_musicxml(archive({"x.txt": b"", "b.musicxml": GOOD})) == read_musicxml(GOOD)
    both = CONTAINER.format("a.pdf").replace(
        "</rootfiles>",
        '<rootfile full-path="s.xml" media-type="application/vnd.recordare.musicxml+xml"/>'
        "</rootfiles>",
    )
    files = {"META-INF/container.xml": both.encode(), "a.pdf": b"%PDF", "s.xml": GOOD}
    assert read_musicxml(archive(files)) == read_musicxml(GOOD)


def test_damaged_archives() -> None:
    """An archive with any wrong byte gives a tune or a refusal with a sentence."""
    data = write_mxl(read_musicxml(GOOD))
    chance = random.Random(4)
    for _ in range(300):
        spoilt = bytearray(data)
        for _ in range(chance.randint(1, 4)):
            spoilt[chance.randrange(2, len(spoilt))] = chance.randrange(256)
        with contextlib.suppress(ScoreError):
            read_musicxml(bytes(spoilt))


def test_lines_are_counted_over_what_is_stripped() -> None:
    """An error has its line in the original file."""
    with pytest.raises(ScoreError, match=r"^x:4: "):
        parse(b"\n\n<a>\n<b></a>", "x")


PIECES = st.sampled_from(
    [
        note("C4", 2), note("-", 2), note("C4", 2, '<tie type="start"/>'), harmony("C"),
        OPEN, CLOSE, ending("1"), ending("2"), ending("1", "stop"),
        harmony("F", "none"), "<backup><duration>3</duration></backup>", "</measure><measure>",
        "<forward><duration>3</duration></forward>", words("D.C. al Fine"), words("Fine"),
        words("To Coda", 'tocoda="x"'), words("Coda", 'coda="x"'), words("D.S.", 'dalsegno="x"'),
        f"<attributes>{BASIS}</attributes>",
        "<attributes><time><senza-misura/></time></attributes>", "<attributes><time/></attributes>",
        "<attributes><time><beats>7</beats><beat-type>8</beat-type></time></attributes>",
        "<attributes><key><fifths>-3</fifths></key></attributes>",
        style('<measure-repeat type="start">2</measure-repeat>'),
        "<attributes><transpose><chromatic>3</chromatic></transpose></attributes>",
        "<direction><direction-type><rehearsal>B</rehearsal></direction-type></direction>",
        '<barline location="middle"><repeat direction="backward"/></barline>',
        note("D4", 0, before="<grace/>"), note("E4", 2, before="<chord/>"), "<note/>", "<kind/>",
    ]
)  # fmt: skip


@given(st.lists(PIECES, max_size=30).map("".join))
def test_pieces_in_any_order(inside: str) -> None:
    """Any measures become a chart that can be read again, or are refused."""
    with contextlib.suppress(BackingError):
        chart = to_chart(read_musicxml(score(inside))).chart
        assert read_chart(write_chart(chart)) == chart


@given(st.binary(max_size=200))
def test_bytes(data: bytes) -> None:
    """Any bytes are read or refused with a sentence."""
    for start in (b"", b"PK\x03\x04", b"<score-partwise>", HEAD.encode()):
        with contextlib.suppress(ScoreError):
            read_musicxml(start + data)
    with contextlib.suppress(ScoreError):
        read_musicxml(with_container(zlib.compress(data)))
