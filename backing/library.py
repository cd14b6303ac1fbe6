"""The public functions of `backing`, for other programs.

They print nothing and write only the file that is named. Input that cannot be read or played raises
a `BackingError`, whose text says where the fault is, what was found and what is allowed.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backing.chart import read
from backing.chart.model import Chart
from backing.errors import BackingError, SettingsError
from backing.harmony.chord import read_chord
from backing.notes import Note, Player
from backing.performance.performance import Performance, PlayedBar
from backing.performance.settings import Settings
from backing.scores.sidecar import load_tune
from backing.style.library import style_meters

if TYPE_CHECKING:
    from collections.abc import Iterator
    from os import PathLike

    from backing.fretboard.hand import Shape

__all__ = [
    "BackingError",
    "Chart",
    "Note",
    "PlayedBar",
    "Player",
    "Settings",
    "convert",
    "load",
    "perform",
    "read_chart",
    "render_audio",
    "shapes",
    "write_midi",
]

_USUAL = Settings()


def read_chart(text: str) -> Chart:
    r"""Return the chart that a text describes.

    >>> read_chart("title: Two Chords\nkey: G\n[A] 2\n| G | D7 |\n").title
    'Two Chords'

    Raises:
        BackingError: with every fault of the text, each with its line and column.

    """
    return read.read_chart(text, styles=style_meters())


def load(path: str | PathLike[str]) -> Chart:
    r"""Return the chart in a file, with its melody if it names a melody file.

    >>> _ = Path("two-chords.chart").write_text("title: Two Chords\nkey: G\n[A] 2\n| G | D7 |\n")
    >>> load("two-chords.chart").order
    ('A',)

    Raises:
        BackingError: when the file cannot be read or has faults.

    """
    return load_tune(str(path), style_meters())


def perform(chart: Chart, settings: Settings = _USUAL) -> Iterator[PlayedBar]:
    r"""Return the bars of a performance in order, the count-in first, each made on demand.

    A bar has its `start` in ticks (960 a quarter note), `meter`, `key`, `bpm` and `notes`.

    >>> chart = read_chart("title: Two Chords\nkey: G\n[A] 2\n| G | D7 |\n")
    >>> bars = list(perform(chart, Settings(choruses=1, count_in=1)))
    >>> [bar.start for bar in bars[:3]]
    [0, 3840, 7680]
    >>> sorted({note.player.value for bar in bars for note in bar.notes})
    ['bass', 'chop', 'drums']

    Raises:
        BackingError: when the settings do not fit the chart.

    """
    return Performance(chart, settings).bars()


def write_midi(
    chart: Chart,
    path: str | PathLike[str],
    settings: Settings = _USUAL,
    *,
    overwrite: bool = False,
) -> None:
    r"""Write a performance as a Standard MIDI File of format 1, with a track for each player.

    >>> chart = read_chart("title: Two Chords\nkey: G\n[A] 2\n| G | D7 |\n")
    >>> write_midi(chart, "two-chords.mid", Settings(style="swing", choruses=2))

    Args:
        chart: the chart.
        path: the file, ending in .mid or .midi.
        settings: how it is played.
        overwrite: whether an existing file is replaced.

    Raises:
        BackingError: when the settings do not fit the chart, or the file cannot be written.

    """
    from backing.out.files import check_free, write_file
    from backing.out.formats import MIDI
    from backing.out.midifile import midi_bytes

    check_free(Path(path), force=overwrite, kind=MIDI)
    data = midi_bytes(Performance(chart, settings))
    write_file(Path(path), data, force=overwrite, kind=MIDI)


def render_audio(
    chart: Chart,
    path: str | PathLike[str],
    settings: Settings = _USUAL,
    *,
    overwrite: bool = False,
) -> None:
    r"""Record a performance as a sound file, at the loudness of `backing render`.

    >>> chart = read_chart("title: Two Chords\nkey: G\n[A] 2\n| G | D7 |\n")
    >>> render_audio(chart, "two-chords.flac", Settings(choruses=1))

    Args:
        chart: the chart.
        path: the file, ending in .wav, .flac, .mp3 or .ogg.
        settings: how it is played.
        overwrite: whether an existing file is replaced.

    Raises:
        BackingError: when the settings do not fit the chart, or the file cannot be written.

    """
    from backing.out.audio import RecordingSettings, sound_bytes
    from backing.out.files import check_free, write_file
    from backing.out.formats import FORMATS, format_of
    from backing.out.renderer import usual_sound_font

    target = Path(path)
    kind = format_of(target.suffix)
    if kind is None:
        allowed = ", ".join(f".{ending}" for ending in FORMATS)
        raise SettingsError(f"{target} is not a sound file: its name must end in {allowed}")
    check_free(target, force=overwrite)
    performance, sound = Performance(chart, settings), RecordingSettings(usual_sound_font())
    data = sound_bytes(performance, kind, sound, settings.seed)
    write_file(target, data, force=overwrite)


def convert(
    source: str | PathLike[str], target: str | PathLike[str], *, overwrite: bool = False
) -> tuple[str, ...]:
    r"""Convert a tune and its melody between a chart, ABC and MusicXML.

    >>> _ = Path("two-chords.chart").write_text("title: Two Chords\nkey: G\n[A] 2\n| G | D7 |\n")
    >>> convert("two-chords.chart", "two-chords.musicxml")
    ()

    Args:
        source: a file of one tune, ending in .chart, .abc, .musicxml, .xml or .mxl.
        target: a file ending in .chart, .abc, .musicxml or .mxl; the melody of a chart goes to a
            file beside it that ends in .melody.
        overwrite: whether existing files are replaced.

    Returns:
        A sentence for each correction, move or omission.

    Raises:
        BackingError: when a file cannot be read or written, or has several tunes.

    """
    from backing.out.tunes import read_tunes, write_tune

    tunes, inputs = read_tunes(str(source))
    if len(tunes) != 1:
        raise SettingsError(f"{source} has {len(tunes)} tunes: name a file of one tune")
    (tune,) = tunes
    if isinstance(tune, BackingError):
        raise tune
    return write_tune(tune, Path(target), force=overwrite, inputs=inputs).remarks


def shapes(chord: str, instrument: str = "mandolin", *, most: int = 5) -> tuple[Shape, ...]:
    """Return the playable shapes of a chord, from the easiest to the hardest.

    The text of a shape is its frets from the bass side, `x` for a muted string.

    >>> [str(shape) for shape in shapes("G", most=1)]
    ['7557']

    Args:
        chord: a chord symbol, such as Gm7.
        instrument: the name of a fretted instrument, or a file that describes one.
        most: the most shapes to return.

    Raises:
        BackingError: when the chord or the instrument cannot be read, or no shape is playable.

    """
    from backing.fretboard.request import FrettingSettings
    from backing.fretboard.shapes import easiest
    from backing.fretboard.voices import as_played

    fretting = FrettingSettings(instrument=instrument).over()
    played = as_played(read_chord(chord), fretting.adds)
    return easiest(fretting.instrument, fretting.hand, played, fretting.request, most)
