"""Malicious and broken files in ABC."""

from __future__ import annotations

import random

HEAD = "X:1\nT:t\nM:4/4\nL:1/8\nK:C\n"


def _noise(length: int) -> bytes:
    return random.Random(1).randbytes(length)


HOSTILE = {
    "nested repeats": (HEAD + "|:" * 1_000_000).encode(),
    "nested repeats with notes": (HEAD + "|:C" * 500_000 + ":|" * 500_000).encode(),
    "nested repeats in the limit": (HEAD + "|:C" * 40_000 + ":|" * 40_000).encode(),
    "colons": (HEAD + "C|" + ":" * 1_000_000 + "|").encode(),
    "colons in the limit": (HEAD + "C|" + ":" * 200_000 + "|C").encode(),
    "strokes and brackets": (HEAD + "[|" * 60_000 + "|]" * 60_000).encode(),
    "open brackets": (HEAD + "[" * 200_000).encode(),
    "open braces": (HEAD + "{" * 200_000).encode(),
    "open quotes": (HEAD + '"A' * 100_000).encode(),
    "exclamation marks": (HEAD + "!a" * 100_000).encode(),
    "noise": _noise(1_000_000),
    "printable noise": bytes(32 + byte % 95 for byte in _noise(200_000)),
    "noise as a tune": HEAD.encode() + bytes(32 + byte % 95 for byte in _noise(200_000)),
    "NULs": bytes(1_000_000),
    "half of UTF-16": "X:1\nT:t\nK:C\nC|]".encode("utf-16")[:-1],
    "huge tuplet": (HEAD + "(999999999999:999999999:99999999 CDE|]").encode(),
    "huge length": (HEAD + "C999999999999999999999|D/99999999999|E//////////////////|]").encode(),
    "huge octaves": (HEAD + "c" + "'" * 100_000 + " C" + "," * 100_000 + "|]").encode(),
    "huge endings": (HEAD + "|:C8|1-999999999 D8:|2" + ",3" * 50_000 + " E8|]").encode(),
    "huge rest": (HEAD + "Z999999999|" * 1000).encode(),
    "huge order": ("X:1\nT:t\nP:" + "(" * 150 + "A" + ")9" * 150 + "\nK:C\nP:A\nC8|]").encode(),
    "long order": ("X:1\nT:t\nP:" + "A9" * 10_000 + "\nK:C\nP:A\nC8|]").encode(),
    "huge meter": b"X:1\nT:t\nM:" + b"9" * 10_000 + b"/8\nK:C\nC8|]",
    "huge unit": b"X:1\nT:t\nL:1/" + b"9" * 10_000 + b"\nK:C\nC8|]",
    "huge tempo": b"X:1\nT:t\nQ:1/4=" + b"9" * 10_000 + b"\nK:C\nC8|]",
    "many tunes": b"X:1\nT:t\nK:C\nC8|]\n\n" * 500,
    "many empty tunes": b"X:1\n" * 500_000,
    "many empty lines": b"X:1\nK:C\n" + b"\n" * 1_000_000 + b"C|",
    "many voices": (HEAD + "".join(f"V:{n}\nC8|\n" for n in range(10_000))).encode(),
    "many keys": (HEAD + "[K:G]C8|[K:D]D8|" * 5000).encode(),
    "many labels": (HEAD + "".join(f"[P:x{n}]C8|" for n in range(4000))).encode(),
    "many double bars": (HEAD + "C8||" * 4000).encode(),
    "many grace notes": (HEAD + "{cdefgab}" * 25_000 + "C8|]").encode(),
    "ties": (HEAD + "C8-|" * 4000 + "C8|]").encode(),
    "a long bar": (HEAD + "C" * 200_000 + "|]").encode(),
    "too large": b"X:1\nK:C\n" + b"C8|" * 4_000_000,
    "long title": b"X:1\nT:" + b"a" * 200_000 + b"\nK:C\nC8|]",
    "per cent signs": (HEAD + "\\%" * 100_000 + "\nC8|]").encode(),
    "spaces": (HEAD + "C|" + " " * 200_000 + "1|" + " " * 50_000).encode(),
    "nothing": b"",
    "HTML": b"<html><body>K: tunes | here</body></html>",
    "da capo again and again": (HEAD + "C8!D.C.!|" * 3000).encode(),
    "endings again and again": (HEAD + "|:C8" + "|1 D8:|2 E8" * 2000 + "|]").encode(),
}
"""Bytes by description."""
