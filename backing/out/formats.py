"""The sound file formats, by the ending of the name."""

from __future__ import annotations

from dataclasses import dataclass

from backing.errors import OutputError
from backing.out.files import FileKind

MIDI_ENDINGS = ("mid", "midi", "smf")
MIDI = FileKind("a MIDI file", tuple(f".{each}" for each in MIDI_ENDINGS), b"MThd")
"""MIDI files; their names may have no ending."""

_OTHERS = {"aac", "aif", "aiff", "m4a", "mp4", "opus", "wma", "webm", "au", "caf"}
"""Endings of sound files that are not supported."""


@dataclass(frozen=True, slots=True)
class Format:
    """A sound file format.

    Attributes:
        container, encoding: its names in soundfile.
        exact: whether it is lossless.
        highest_db: the highest true peak before encoding, in dB below full scale; decoding a lossy
            format may raise it.
    """

    container: str
    encoding: str
    exact: bool
    highest_db: float


FORMATS = {
    "wav": Format("WAV", "PCM_16", exact=True, highest_db=-1.0),
    "flac": Format("FLAC", "PCM_16", exact=True, highest_db=-1.0),
    "mp3": Format("MP3", "MPEG_LAYER_III", exact=False, highest_db=-2.0),
    "ogg": Format("OGG", "VORBIS", exact=False, highest_db=-2.0),
}
"""The supported formats, by the ending of the name without its dot."""


def format_of(ending: str) -> Format | None:
    """Return the format of an ending, with or without its dot; None if it is not a sound file's.

    Raises:
        OutputError: when the ending is that of an unsupported sound file.
    """
    ending = ending.lower().lstrip(".")
    if ending in _OTHERS:
        raise OutputError(
            f".{ending} files are not supported: end the name in {', '.join(FORMATS)}"
        )
    return FORMATS.get(ending)
