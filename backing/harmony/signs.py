"""Sharps and flats as they are printed."""

NO_CHORD = "N.C."
"""What stands where nobody plays a chord (common practice, no source)."""


def signed(text: str) -> str:
    """Return a chord, a note or a key with ♯ (U+266F) for # and ♭ (U+266D) for b.

    No quality and no mode has a b of another kind.
    """
    return text.replace("#", "♯").replace("b", "♭")
