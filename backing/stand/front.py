"""The page itself: its buttons and choices, from what the band knows."""

from __future__ import annotations

from functools import lru_cache

from backing.fretboard.instrument import instrument_files
from backing.notes import Player
from backing.stand.markup import drawn
from backing.style.library import all_styles

KEYS = {
    " ": ("toggle", "play, pause"),
    "+": ("tempo +", "a step faster"),
    "-": ("tempo -", "a step slower"),
    "t": ("tap", "tap the tempo"),
    "k": ("key +1", "a half-step up"),
    "j": ("key -1", "a half-step down"),
    "n": ("part next", "go to the next part"),
    "l": ("loop here", "go round this part, and off"),
    "b": ("mute bass | unmute bass", "bass out, and in again"),
    "c": ("mute chop | unmute chop", "chop out, and in again"),
    "d": ("mute drums | unmute drums", "drums out, and in again"),
    "m": ("mute lead | unmute lead", "the melody out, and in again"),
    "]": ("level +10", "louder"),
    "[": ("level -10", "softer"),
    "e": ("last-time", "last time: end after this chorus"),
    "s": ("stop", "stop, back to the beginning"),
    "p": ("practice", "open and close Practice"),
    "f": ("songbook", "the songbook"),
    "?": ("help", "this list"),
}
"""Each key of the page, the line that it says, and what that does; as on the terminal."""

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
def page() -> str:
    """Return the page."""
    return drawn(
        "page",
        styles=[style.name for style in all_styles()[0]],
        instruments=list(instrument_files()),
        players=list(Player),
        leads=_LEADS,
        keys=KEYS,
        pedal_lines=PEDAL_LINES,
        pedals=PEDALS,
    )
