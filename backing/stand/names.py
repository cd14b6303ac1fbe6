"""Names of the songbook's files as pages may give them: one check for all.

Conventions: a name has at most 200 bytes in UTF-8, so that a file system (255 bytes on most) takes
it with what a temporary name adds. Names that differ in case alone, or in how an accent is
composed, are one name: systems differ in that, and a folder may be on any of them.
"""

from __future__ import annotations

import unicodedata

from backing.errors import BackingError

LONGEST_BYTES = 200
"""The longest name of a file, its ending counted in."""

_FORBIDDEN = '/\\:*?"<>|'


class FileNameError(BackingError):
    """A name that no file of the songbook has or may have."""


def check_name(name: str, suffix: str) -> None:
    """Refuse what cannot be the name of a file.

    Args:
        name: the name with its ending.
        suffix: the ending that it must have.

    Raises:
        FileNameError: when the name will not do; the sentence says why.
    """
    if found := _wrong(name, suffix):
        shown = "".join(sign if sign.isprintable() else "�" for sign in name[:80])
        raise FileNameError(
            f"'{shown}' {found}: a name of the songbook ends in {suffix}, begins with no dot, has "
            f"no blank at either end, none of {' '.join(_FORBIDDEN)} and at most {LONGEST_BYTES} "
            "bytes"
        )


def _wrong(name: str, suffix: str) -> str:
    """Return what is wrong with a name, or ""."""
    stem = name.removesuffix(suffix)
    if stem == name:
        return "has another ending"
    if stem != stem.strip() or not stem:
        return "has a blank at an end" if stem else "is empty"
    if stem.startswith("."):
        return "begins with a dot"
    if not name.isprintable():
        return "has a sign that cannot be printed"
    if bad := next((sign for sign in _FORBIDDEN if sign in stem), ""):
        return f"has a {bad}"
    return "is too long" if len(name.encode()) > LONGEST_BYTES else ""


def fitted(stem: str, rest: str) -> str:
    """Return a name of a stem, cut where it is too long, and the rest of the name."""
    room = LONGEST_BYTES - len(rest.encode())
    return f"{stem.encode()[:room].decode('utf-8', 'ignore').rstrip()}{rest}"


def folded(name: str) -> str:
    """Return a name so that names which some systems take for one are equal."""
    return unicodedata.normalize("NFC", name).casefold()
