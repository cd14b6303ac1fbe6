"""The page itself: its buttons and choices, from what the band knows."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from functools import lru_cache

from backing.control.commands import keys
from backing.control.settings import FULL_LEVEL, LOUDEST
from backing.fretboard.instrument import instrument_files
from backing.notes import Player
from backing.stand.labels import tempo_unit
from backing.stand.markup import render
from backing.style.library import all_styles

_OWN_KEYS = {
    "p": ("practice", "open and close Practice"),
    "f": ("songbook", "the songbook"),
    "?": ("help", "this list"),
}
"""Keys that the page has for itself: the line that each says, and what that does."""

_OWN_LINES = {"pause | play": "toggle", "loop off | loop here": "loop here"}
"""Lines of keys that the page carries out itself, as it knows whether the band plays and loops."""


def page_keys() -> dict[str, tuple[str, str]]:
    """Return the line of each key of the page, and what that does; as on the terminal."""
    shared = {
        key.sign: (_OWN_LINES.get(key.line, key.line), key.about)
        for key, command in keys()
        if command.for_pages
    }
    return shared | _OWN_KEYS


PEDAL_LINES = {
    "toggle": "Play, pause",
    "loop here": "This part round and round",
    "part next": "Next part",
    "tempo +": "A step faster",
    "tempo -": "A step slower",
    "tap": "Tap the tempo",
    "last-time": "Last time",
    "stop": "Stop",
    "next-tune": "Next tune of the set",
}
_LEADS = {
    "always": "every time",
    "first": "first time only",
    "other": "every other time: you play the others",
}
"""What `band/lead.py: WHEN` is on the page."""

PEDALS = {"forward": "toggle", "back": "loop here"}
"""What each pedal says until the player chooses otherwise."""


@lru_cache(1)
def page_html() -> str:
    """Return the page; `usual` is what its controls show before the first tune is open."""
    unit = replace(tempo_unit("quarter"), mark="")
    return render(
        "page",
        usual=json.dumps({"level": FULL_LEVEL, "unit": asdict(unit)}),
        slowest=unit.slowest,
        fastest=unit.fastest,
        loudest=LOUDEST,
        styles=[style.name for style in all_styles()[0]],
        instruments=list(instrument_files()),
        players=list(Player),
        leads=_LEADS,
        keys=page_keys(),
        pedal_lines=PEDAL_LINES,
        pedals=PEDALS,
    )
