"""What a sound file says about itself, through mutagen.

Source of the names: ID3v2.4 (TIT2, TCOM, TKEY, TBPM, TCON, COMM) in WAV and MP3; Vorbis comments in
FLAC and OGG, where KEY and BPM are common practice. TBPM is the number of beats a minute, a whole
number (ID3v2.3, 4.2.1); the beat is the note that the chart counts. A key of ID3 has three signs at
most and no modes: there the tonic stands, with m where the home chord is minor.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import io

    from backing.harmony.key import Key
    from backing.out.midifile import Played


@dataclass(frozen=True, slots=True)
class Tags:
    """What is said about a recording.

    Attributes:
        title, by: of the tune; who wrote it may be empty.
        key: the key it sounds in.
        bpm: beats a minute; where the tempo changes, those at the start.
        style: the groove.
        comment: how it was made.
    """

    title: str
    by: str
    key: Key
    bpm: float
    style: str
    comment: str


def tags_of(played: Played, seed: int, about: str = "") -> Tags:
    """Return what a recording says about itself.

    Args:
        played: what is played.
        seed: the number of the take.
        about: what it is of the tune; "" for the whole tune.
    """
    chart = played.chart
    return Tags(
        title=f"{chart.title} ({about})" if about else chart.title,
        by=chart.by,
        key=chart.key,
        bpm=chart.counted(played.bpm).bpm,
        style=played.style.name,
        comment=f"made with backing {version('backing')}, take {seed}",
    )


def write_tags(file: io.BytesIO, kind: str, tags: Tags) -> None:
    """Put tags into a sound file in memory, which is then read from its beginning.

    Args:
        file: the sound file.
        kind: WAV, FLAC, MP3 or OGG.
        tags: what to say.
    """
    from mutagen.flac import FLAC
    from mutagen.mp3 import MP3
    from mutagen.oggvorbis import OggVorbis
    from mutagen.wave import WAVE

    readers: dict[str, Any] = {"WAV": WAVE, "MP3": MP3, "FLAC": FLAC, "OGG": OggVorbis}
    opened = readers[kind](file)
    if opened.tags is None:
        opened.add_tags()
    (_id3 if kind in ("WAV", "MP3") else _comments)(opened.tags, tags)
    file.seek(0)
    opened.save(file)
    file.seek(0)


def _id3(into: Any, tags: Tags) -> None:
    from mutagen import id3 as frames

    id3: Any = frames
    tonic = f"{tags.key.plain().tonic}{'m' if tags.key.is_minor else ''}"
    for frame in (
        id3.TIT2(text=tags.title),
        id3.TKEY(text=tonic),
        id3.TBPM(text=f"{tags.bpm:.0f}"),
        id3.TCON(text=tags.style),
        id3.COMM(lang="eng", text=tags.comment),
        *([id3.TCOM(text=tags.by)] if tags.by else ()),
    ):
        into.add(frame)


def _comments(into: Any, tags: Tags) -> None:
    into["TITLE"] = tags.title
    into["KEY"] = str(tags.key)
    into["BPM"] = f"{tags.bpm:g}"
    into["GENRE"] = tags.style
    into["COMMENT"] = tags.comment
    if tags.by:
        into["COMPOSER"] = tags.by
