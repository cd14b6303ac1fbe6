"""What the options of a pack say, from their texts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backing.cli.numbers import whole_number
from backing.errors import SettingsError, SymbolError
from backing.packs.wish import MOST_KEYS, MOST_TEMPI

if TYPE_CHECKING:
    from backing.notes import Player

MOST_PROCESSES = 64
NONE = "none"


def tempi_of(text: str | None) -> tuple[float, ...]:
    """Read tempi, such as 120,160 or half=80,half=100."""
    from backing.chart.fields import read_tempo

    try:
        found = sorted({read_tempo(each).quarter_bpm for each in _listed("--tempi", text)})
    except SymbolError as error:
        raise SettingsError(str(error)) from None
    if len(found) > MOST_TEMPI:
        raise SettingsError(f"--tempi: {len(found)} tempi; at most {MOST_TEMPI} make a pack")
    return tuple(found)


def keys_of(text: str | None) -> tuple[str, ...]:
    """Read keys, such as E,G."""
    found = _listed("--keys", text)
    if len(found) > MOST_KEYS:
        raise SettingsError(f"--keys: {len(found)} keys; at most {MOST_KEYS} make a pack")
    return found


def parts_of(text: str | None) -> tuple[str, ...] | None:
    """Read names of parts; none for none, None for all."""
    if text is None:
        return None
    return () if text.strip().lower() == NONE else _listed("--parts", text)


def minus_of(text: str) -> tuple[Player, ...]:
    """Read who is left out."""
    from backing.cli.options import players_of

    if text.strip().lower() == NONE:
        return ()
    return tuple(sorted(players_of(",".join(_listed("--minus", text)), None)))


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


def _listed(option: str, text: str | None) -> tuple[str, ...]:
    if text is None:
        return ()
    found = tuple(each.strip() for each in text.split(","))
    if not all(found):
        raise SettingsError(f"{option} {text}: write them with a comma between them")
    return found
