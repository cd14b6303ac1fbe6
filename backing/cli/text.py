"""Numbers and times as the command line prints them."""

from __future__ import annotations


def counted(number: int, noun: str, plural: str = "") -> str:
    """Return a number with its noun: "1 chart", "3 charts".

    Args:
        number: how many.
        noun: the noun for one.
        plural: the noun for several; "" for the noun with an s.
    """
    return f"{number} {noun if number == 1 else plural or f'{noun}s'}"


def clock(seconds: float) -> str:
    """Return a length of time as minutes and seconds, such as "2:05"."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02}"
