"""The tags of sound files, through mutagen.

Source of the names: ID3v2.4 (TIT2, TCOM, TKEY, TBPM, TCON, COMM) in WAV and MP3; Vorbis comments in
FLAC and OGG, where KEY and BPM are common practice. TBPM is the number of beats a minute, a whole
number (ID3v2.3, 4.2.1); the beat is the note that the chart counts. A key of ID3 has at most three
characters and no mode: the tonic, with m where the tonic chord is minor.
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
    """The tags of a recording.

    Attributes:
        title: the title of the tune.
        by: its composer, or "".
        key: the key it sounds in.
        bpm: beats a minute at the start.
        style: the name of the groove.
        comment: the version of this program and the take.
    """

    title: str
    by: str
    key: Key
    bpm: float
    style: str
    comment: str


def tags_of(played: Played, seed: int, about: str = "") -> Tags:
    """Return the tags of a recording.

    Args:
        played: the performance.
        seed: the number of the take.
        about: which part of the tune it is; "" for the whole tune.
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


def write_tags(file: io.BytesIO, container: str, tags: Tags) -> None:
    """Write tags into a sound file in memory and rewind it.

    Args:
        file: the sound file.
        container: WAV, FLAC, MP3 or OGG.
        tags: the tags.
    """
    from mutagen.flac import FLAC
    from mutagen.mp3 import MP3
    from mutagen.oggvorbis import OggVorbis
    from mutagen.wave import WAVE

    readers: dict[str, Any] = {"WAV": WAVE, "MP3": MP3, "FLAC": FLAC, "OGG": OggVorbis}
    opened = readers[container](file)
    if opened.tags is None:
        opened.add_tags()
    (_add_id3 if container in ("WAV", "MP3") else _add_comments)(opened.tags, tags)
    file.seek(0)
    opened.save(file)
    file.seek(0)


def _add_id3(into: Any, tags: Tags) -> None:
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


def _add_comments(into: Any, tags: Tags) -> None:
    into["TITLE"] = tags.title
    into["KEY"] = str(tags.key)
    into["BPM"] = f"{tags.bpm:g}"
    into["GENRE"] = tags.style
    into["COMMENT"] = tags.comment
    if tags.by:
        into["COMPOSER"] = tags.by
