"""The check of names of the songbook's files.

Conventions: a name has at most 200 bytes in UTF-8, which leaves room for the suffix of a temporary
file (most file systems take 255 bytes). Names that differ only in case or in how accents are
composed count as one name, since some systems do not tell them apart.
"""

from __future__ import annotations

import unicodedata

from backing.errors import BackingError

LONGEST_BYTES = 200
"""The longest name of a file with its suffix."""

_FORBIDDEN = '/\\:*?"<>|'


class FileNameError(BackingError):
    """A name that no file of the songbook may have."""


def check_name(name: str, suffix: str) -> None:
    """Check a name of a file.

    Args:
        name: the name with its suffix.
        suffix: the suffix that it must have.

    Raises:
        FileNameError: when it is not allowed.
    """
    if found := _wrong(name, suffix):
        shown = "".join(sign if sign.isprintable() else "�" for sign in name[:80])
        raise FileNameError(
            f"'{shown}' {found}: a name of the songbook ends in {suffix}, begins with no dot, "
            f"has no space at either end, none of {' '.join(_FORBIDDEN)} and at most "
            f"{LONGEST_BYTES} bytes"
        )


def _wrong(name: str, suffix: str) -> str:
    """Return what is wrong with a name, or ""."""
    stem = name.removesuffix(suffix)
    if stem == name:
        return f"does not end in {suffix}"
    if stem != stem.strip() or not stem:
        return "has a space at an end" if stem else "is empty"
    if stem.startswith("."):
        return "begins with a dot"
    if not name.isprintable():
        return "has a character that cannot be printed"
    if bad := next((sign for sign in _FORBIDDEN if sign in stem), ""):
        return f"has a {bad}"
    return "is too long" if len(name.encode()) > LONGEST_BYTES else ""


def fitted(stem: str, rest: str) -> str:
    """Return a stem and the rest of a name joined, the stem cut where that is too long."""
    room = LONGEST_BYTES - len(rest.encode())
    return f"{stem.encode()[:room].decode('utf-8', 'ignore').rstrip()}{rest}"


def folded(name: str) -> str:
    """Return the same text for all names that some systems take for one."""
    return unicodedata.normalize("NFC", name).casefold()
