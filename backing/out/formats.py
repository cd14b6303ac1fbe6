"""The sound files that are written, by the ending of the name."""

from __future__ import annotations

from dataclasses import dataclass

from backing.errors import OutputError
from backing.out.files import FileKind

MIDI_ENDINGS = ("mid", "midi", "smf")
MIDI = FileKind("a MIDI file", tuple(f".{each}" for each in MIDI_ENDINGS), b"MThd")
"""MIDI files, which may also have names without an ending."""

_OTHERS = {"aac", "aif", "aiff", "m4a", "mp4", "opus", "wma", "webm", "au", "caf"}
"""What one might ask for as sound, and does not get."""


@dataclass(frozen=True, slots=True)
class Format:
    """A kind of sound file.

    Attributes:
        kind, coding: what soundfile calls it.
        exact: whether every sample comes back as it was.
        highest_db: the highest true peak that it is given; what is not exact may come back higher.
    """

    kind: str
    coding: str
    exact: bool
    highest_db: float


FORMATS = {
    "wav": Format("WAV", "PCM_16", exact=True, highest_db=-1.0),
    "flac": Format("FLAC", "PCM_16", exact=True, highest_db=-1.0),
    "mp3": Format("MP3", "MPEG_LAYER_III", exact=False, highest_db=-2.0),
    "ogg": Format("OGG", "VORBIS", exact=False, highest_db=-2.0),
}
"""What can be written, by the ending of the name."""


def format_of(ending: str) -> Format | None:
    """Return the kind of sound file that an ending asks for, with or without its dot.

    Returns:
        None where it asks for no sound: the file is then a MIDI file.

    Raises:
        OutputError: when it is a sound file that is not written.
    """
    ending = ending.lower().lstrip(".")
    if ending in _OTHERS:
        raise OutputError(
            f".{ending} is not written: for sound end the name in {', '.join(FORMATS)}"
        )
    return FORMATS.get(ending)
