"""Printed signs: sharps, flats and the sign for no chord."""

NO_CHORD = "N.C."
"""The sign for no chord (common practice, no source)."""


def signed(text: str) -> str:
    """Return a chord, a note or a key with ♯ (U+266F) for # and ♭ (U+266D) for b.

    In these texts every b is a flat.
    """
    return text.replace("#", "♯").replace("b", "♭")
