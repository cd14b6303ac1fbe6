"""What a page is told first: what the band knows."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from typing import Any

from backing.chart.model import DIRECTIONS
from backing.fretboard.instrument import instrument_files
from backing.live.verbs import VERBS
from backing.notes import Player
from backing.stand.sheet import NAMES, NO_INSTRUMENT, THE_BAND
from backing.style.library import all_styles
from backing.timing import FASTEST_BPM, SLOWEST_BPM, TICKS_PER_QUARTER


def hello() -> dict[str, Any]:
    """Return the first message."""
    return {
        "type": "hello",
        "version": _version(),
        "verbs": {name: {"usage": verb.usage, "about": verb.about} for name, verb in VERBS.items()},
        "players": list(Player),
        "styles": [
            {
                "name": style.name,
                "about": style.about,
                "meters": [str(meter) for meter in style.meters],
                "tempo": [style.slowest_bpm, style.fastest_bpm, style.usual_bpm],
            }
            for style in all_styles()[0]
        ],
        "instruments": [NO_INSTRUMENT, THE_BAND, *instrument_files()],
        "names": list(NAMES),
        "directions": DIRECTIONS,
        "tempo_range": [SLOWEST_BPM, FASTEST_BPM],
        "ticks_per_quarter": TICKS_PER_QUARTER,
    }


def _version() -> str:
    try:
        return version("backing")
    except PackageNotFoundError:
        return "not installed"
