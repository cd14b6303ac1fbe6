"""The page with its controls, made from the tables of commands, styles and instruments."""

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
"""Keys of the page alone: command and help of each."""

_OWN_LINES = {"pause | play": "toggle", "loop off | loop here": "loop here"}
"""Commands that the page replaces by its own, since it knows whether the band plays or loops."""


def page_keys() -> dict[str, tuple[str, str]]:
    """Return command and help of each key of the page; the terminal's keys, and its own."""
    shared = {
        key.sign: (_OWN_LINES.get(key.line, key.line), key.about)
        for key, command in keys()
        if command.for_pages
    }
    return shared | _OWN_KEYS


PEDAL_LINES = {
    "toggle": "Play, pause",
    "loop here": "Loop this part",
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
"""The labels of the choices of `band/lead.py: WHEN`."""

PEDALS = {"forward": "toggle", "back": "loop here"}
"""The commands of the pedals until the player chooses others."""


@lru_cache(1)
def page_html() -> str:
    """Return the page; its `usual` are the values of controls before a tune is open."""
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
