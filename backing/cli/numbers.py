"""Numbers on the command line."""

from __future__ import annotations

import re

from backing.errors import SettingsError


def whole_number(option: str, text: str) -> int:
    """Read a whole number.

    Raises:
        SettingsError: when it is none.

    """
    if not re.fullmatch("[+-]?[0-9]{1,18}", text.strip(), re.ASCII):
        raise SettingsError(f"{option} {text}: write a whole number, such as {option} 4")
    return int(text)


def number(option: str, text: str) -> float:
    """Read a number.

    Raises:
        SettingsError: when it is none.

    """
    if not re.fullmatch(
        r"[+-]?(?:[0-9]{1,9}(?:\.[0-9]{0,9})?|\.[0-9]{1,9})", text.strip(), re.ASCII
    ):
        raise SettingsError(f"{option} {text}: write a number, such as {option} 0.5")
    return float(text)
