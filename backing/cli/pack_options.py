"""What the options of a pack say, from their texts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backing.cli.numbers import whole_number
from backing.cli.options import listed, players_of
from backing.errors import SettingsError
from backing.packs.wish import MOST_KEYS

if TYPE_CHECKING:
    from backing.notes import Player

MOST_PROCESSES = 64
NONE = "none"


def keys_of(text: str | None) -> tuple[str, ...]:
    """Read keys, such as E,G."""
    found = listed("--keys", text)
    if len(found) > MOST_KEYS:
        raise SettingsError(f"--keys: {len(found)} keys; at most {MOST_KEYS} make a pack")
    return found


def parts_of(text: str | None) -> tuple[str, ...] | None:
    """Read names of parts; none for none, None for all."""
    if text is None:
        return None
    return () if text.strip().lower() == NONE else listed("--parts", text)


def minus_of(text: str) -> tuple[Player, ...]:
    """Read who is left out."""
    if text.strip().lower() == NONE:
        return ()
    return tuple(sorted(players_of(",".join(listed("--minus", text)), None)))


def ending_of(text: str) -> str:
    """Read the ending of recordings."""
    from backing.out.formats import FORMATS

    if text.lower() not in FORMATS:
        raise SettingsError(f"--format {text}: choose from {', '.join(FORMATS)}")
    return text.lower()


def font_of(text: str | None) -> Path:
    """Return the sound font."""
    from backing.out.renderer import check_sound_font, usual_sound_font

    font = Path(text) if text else usual_sound_font()
    check_sound_font(font)
    return font


def processes_of(text: str) -> int:
    """Read how many files are made at the same time."""
    found = whole_number("--processes", text)
    if not 1 <= found <= MOST_PROCESSES:
        raise SettingsError(f"--processes {found}: choose from 1 to {MOST_PROCESSES}")
    return found
