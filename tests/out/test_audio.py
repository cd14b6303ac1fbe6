"""Recordings, checked by independent meters and readers."""

from __future__ import annotations

import io
from functools import cache
from typing import TYPE_CHECKING

import mido
import mutagen
import numpy as np
import pyloudnorm
import pytest
import soundfile

from backing.chart.read import read_chart
from backing.errors import BackingError
from backing.notes import RHYTHM, Player
from backing.out.audio import Recording, RecordingSettings, record
from backing.out.formats import FORMATS, format_of
from backing.out.levelling import TARGET_LUFS, gain_for, hop_energies, lufs
from backing.out.midifile import midi_tracks
from backing.out.renderer import usual_sound_font
from backing.out.tags import Tags
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from tests.out.meter import loudness, onsets, rms, true_peak_db

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from backing.out.tracks import MidiTracks

CHART = """title: Two Lamps ♯ & Ink
by: A. Nobody
key: F#m
style: swing
tempo: 180
[A] 8
| F#m | Bm7 | C#7 | F#m | D6 | Bm7 | C#7 | F#m C#7 |
"""
RATE = 48_000
USUAL = RecordingSettings(usual_sound_font())


@pytest.fixture(scope="module")
def performance() -> Performance:
    return Performance(read_chart(CHART, "lamps.chart"), Settings(choruses=1, looseness=0.0))


@pytest.fixture(scope="module")
def midi(performance: Performance) -> MidiTracks:
    return midi_tracks(performance)


@pytest.fixture(scope="module")
def tags(performance: Performance) -> Tags:
    chart = performance.chart
    return Tags(chart.title, chart.by, chart.key, performance.bpm, "swing", "seed 1")


@pytest.fixture(scope="module")
def recording(midi: MidiTracks, tags: Tags) -> Recording:
    return record(midi, FORMATS["wav"], USUAL, tags, stems=True)


@pytest.fixture(scope="module")
def made(midi: MidiTracks, tags: Tags) -> Callable[[str], Recording]:
    """Return a cached function from an ending to its recording; FLAC is mono."""

    @cache
    def make(ending: str) -> Recording:
        sound = RecordingSettings(usual_sound_font(), mono=ending == "flac")
        return record(midi, FORMATS[ending], sound, tags, stems=False)

    return make


def samples_of(file: io.BytesIO) -> NDArray[np.float64]:
    samples, rate = soundfile.read(io.BytesIO(file.getvalue()), always_2d=True)
    assert rate == RATE
    return np.asarray(samples, np.float64)


@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_is_as_loud_and_as_long_as_it_says(
    made: Callable[[str], Recording], performance: Performance, ending: str
) -> None:
    """-16 LUFS by two other meters, true peak below -1 dB, 2.5 s longer than the MIDI file."""
    samples = samples_of(made(ending).mix)
    assert samples.shape[1] == (1 if ending == "flac" else 2)
    assert pyloudnorm.Meter(RATE).integrated_loudness(samples) == pytest.approx(-16, abs=0.5)
    assert loudness(samples) == pytest.approx(-16, abs=0.5)
    assert true_peak_db(samples) < -1
    assert len(samples) / RATE == pytest.approx(performance.tempo.seconds() + 2.5, abs=0.001)
    assert np.abs(samples[-480:]).max() < 0.001


@pytest.mark.parametrize("ending", FORMATS)
def test_tags_are_read_back(made: Callable[[str], Recording], ending: str) -> None:
    """Title, composer, key, tempo and style, read by mutagen."""
    found = made(ending)

    read = mutagen.File(io.BytesIO(found.mix.getvalue()))
    id3 = {"TITLE": "TIT2", "COMPOSER": "TCOM", "KEY": "TKEY", "BPM": "TBPM", "GENRE": "TCON"}
    tags = {
        name: str(read[id3[name]] if ending in ("wav", "mp3") else read[name][0]) for name in id3
    }
    assert tags == {
        "TITLE": "Two Lamps ♯ & Ink",
        "COMPOSER": "A. Nobody",
        "KEY": "F#m",
        "BPM": "180",
        "GENRE": "swing",
    }
    assert read.info.length == pytest.approx(found.seconds, abs=0.05)


def test_stems_add_up_to_the_mix(recording: Recording) -> None:
    """The sum of the players' files is the mix, with less than -60 dB of difference."""
    mix = samples_of(recording.mix)
    stems = {player: samples_of(file) for player, file in recording.stems.items()}

    assert set(stems) == set(RHYTHM)
    assert rms(mix - sum(stems.values())) < rms(mix) / 1000
    assert all(rms(stem) > rms(mix) / 30 for stem in stems.values())


def test_stems_of_a_lossy_mix_are_exact(midi: MidiTracks, tags: Tags) -> None:
    """The stems of an OGG file are FLAC files at its loudness."""
    found = record(midi, FORMATS["ogg"], USUAL, tags, stems=True)

    together = sum(samples_of(stem) for stem in found.stems.values())
    assert {stem.getvalue()[:4] for stem in found.stems.values()} == {b"fLaC"}
    assert loudness(np.asarray(together)) == pytest.approx(-16, abs=0.5)


def test_a_stem_is_the_mix_without_the_others(midi: MidiTracks) -> None:
    """The stems together have the notes of the file, and each has its length, by mido."""

    def strokes(data: bytes) -> list[tuple[int, int, int]]:
        found = []
        for track in mido.MidiFile(file=io.BytesIO(data)).tracks:
            tick = 0
            for message in track:
                tick += message.time
                if message.type == "note_on":
                    found.append((tick, message.channel, message.note))
        return sorted(found)

    stems = [midi.stem(player) for player in midi.players]
    assert sorted(each for stem in stems for each in strokes(stem)) == strokes(midi.file())
    whole = mido.MidiFile(file=io.BytesIO(midi.file())).length
    for stem in stems:
        assert mido.MidiFile(file=io.BytesIO(stem)).length == pytest.approx(whole)


def test_drums_sound_where_the_midi_has_them(recording: Recording, midi: MidiTracks) -> None:
    """By spectral flux, 95 of 100 strokes are within 10 ms of the MIDI file, the median within 2.

    The flux of a soft stroke in the ring of a cymbal is not always the highest.
    """
    file = mido.MidiFile(file=io.BytesIO(midi.file()))
    time, struck = 0.0, []
    for message in file:
        time += message.time
        if message.type == "note_on" and message.channel == 9 and message.velocity > 40:
            struck.append(time)
    times = np.unique(np.round(struck, 4))
    before, after = np.diff(times, prepend=-1), np.diff(times, append=np.inf)
    alone = times[(before > 0.09) & (after > 0.05)]  # apart, so that each has its own peak

    late = onsets(samples_of(recording.stems[Player.DRUMS]), RATE, alone) - alone
    assert len(alone) > 20
    assert np.percentile(np.abs(late), 95) < 0.010
    assert np.median(np.abs(late)) < 0.002


def test_held_bass_notes_are_in_tune(tags: Tags) -> None:
    """The fundamental of long notes is within 10 cents of equal temperament at A 440 (ISO 16)."""
    chart = read_chart("key: E\nstyle: ballad\ntempo: 50\n| E | A | B7 | C#m | F | Gb |\n", "slow")
    midi = midi_tracks(Performance(chart, Settings(choruses=1, looseness=0.0)))
    found = record(midi, FORMATS["wav"], USUAL, tags, stems=True)
    samples = samples_of(found.stems[Player.BASS]).mean(axis=1)

    off = {}
    for start, seconds, key in _bass_notes(midi.file()):
        hertz = 440 * 2 ** ((key - 69) / 12)
        piece = samples[int((start + 0.06) * RATE) : int((start + seconds - 0.03) * RATE)]
        if seconds > 1:
            off[key] = 1200 * np.log2(_pitch(piece, hertz) / hertz)

    assert len(off) >= 6
    assert np.abs(list(off.values())).max() < 10


def _bass_notes(midi: bytes) -> list[tuple[float, float, int]]:
    time, found = 0.0, []
    down: dict[int, float] = {}
    for message in mido.MidiFile(file=io.BytesIO(midi)):
        time += message.time
        if message.type not in ("note_on", "note_off") or message.channel != 0:
            continue
        if message.type == "note_on" and message.velocity:
            down[message.note] = time
        elif message.note in down:
            start = down.pop(message.note)
            found.append((start, time - start, message.note))
    return found


def _pitch(piece: NDArray[np.float64], near: float) -> float:
    """Return the strongest frequency within a semitone, from a finely padded spectrum."""
    size = 1 << 20
    power = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), size))
    hertz = np.arange(len(power)) * RATE / size
    inside = np.flatnonzero((hertz > near / 1.06) & (hertz < near * 1.06))
    return float(hertz[inside[np.argmax(power[inside])]])


def test_a_fade_ends_with_the_notes_in_silence(
    recording: Recording, midi: MidiTracks, tags: Tags
) -> None:
    """A faded recording is as long as its MIDI file; the fade is at half gain in its middle."""
    loud = recording
    faded = record(
        midi, FORMATS["wav"], RecordingSettings(usual_sound_font(), fade=4), tags, stems=False
    )

    long, short = samples_of(loud.mix), samples_of(faded.mix)
    end = len(short)
    assert end / RATE == pytest.approx(loud.seconds - 2.5, abs=0.001)
    before = rms(short[: end - 5 * RATE]) / rms(long[: end - 5 * RATE])
    middle = slice(end - 2 * RATE - 2400, end - 2 * RATE + 2400)
    assert rms(short[middle]) / rms(long[middle]) / before == pytest.approx(0.5, abs=0.05)
    assert np.abs(short[-48:]).max() < 0.001


def test_the_meter_reads_what_the_standard_says() -> None:
    """A sine of 997 Hz at full scale in one channel is -3.01 LUFS (ITU-R BS.1770-4, annex 1)."""
    sine = np.sin(2 * np.pi * 997 * np.arange(RATE * 3) / RATE)[:, None]
    samples = np.rint(sine * 32_767).astype(np.int16)

    assert lufs(hop_energies(samples)) == pytest.approx(-3.01, abs=0.02)
    assert loudness(sine) == pytest.approx(-3.01, abs=0.02)


def test_quiet_and_loud_passages_are_gated_as_another_meter_does() -> None:
    """Noise of changing level: our figure is within 0.1 LU of pyloudnorm's."""
    level = np.repeat([0.2, 0.001, 0.05, 0.3, 0.0], RATE)[:, None]
    noise = np.random.default_rng(1).normal(0, 0.3, (len(level), 2)) * level
    samples = np.rint(noise * 32_767).astype(np.int16)

    assert lufs(hop_energies(samples)) == pytest.approx(
        pyloudnorm.Meter(RATE).integrated_loudness(noise), abs=0.1
    )


def test_peaks_are_limited_without_distortion() -> None:
    """Clicks over soft noise keep their wave; loudness and true peaks are as requested."""
    rng = np.random.default_rng(2)
    sound = rng.normal(0, 0.01, (RATE * 4, 2))
    for place in range(RATE // 4, len(sound), RATE // 2):
        sound[place : place + 200] += 0.6 * np.sin(np.arange(200) * 2.2)[:, None]
    samples = np.rint(sound * 32_767).astype(np.int16)

    gain = gain_for(samples, target_lufs=-18)
    louder = np.concatenate(list(gain.applied(samples))) / 32_768

    assert true_peak_db(louder) < -1
    assert loudness(louder) == pytest.approx(-18, abs=0.5)
    click = slice(RATE // 4, RATE // 4 + 200)
    assert np.corrcoef(louder[click, 0], samples[click, 0])[0, 1] > 0.999


@pytest.mark.parametrize("place", [RATE // 2, RATE, RATE + 32])
def test_a_peak_is_turned_down_for_a_moment_only(place: int) -> None:
    """The gain falls and rises within 20 ms around a peak (our choice)."""
    rng = np.random.default_rng(3)
    sound = rng.normal(0, 0.01, (RATE * 2, 2))
    sound[place : place + 64] += 0.7 * np.sin(np.arange(64) * 2.2)[:, None]

    gain = gain_for(np.rint(sound * 32_767).astype(np.int16), target_lufs=-20).steps
    turned = np.flatnonzero(gain < 0.999 * gain.max()) * 64

    assert gain.min() < 0.5 * gain.max()
    assert turned.min() <= place
    assert place + 64 <= turned.max()
    assert place - turned.min() < 0.020 * RATE
    assert turned.max() - (place + 64) < 0.020 * RATE


def test_silence_stays_silence() -> None:
    """Silence of any length has a loudness of minus infinity and stays as long."""
    for frames in (0, 1, 63, 64, RATE):
        gain = gain_for(np.zeros((frames, 2), np.int16))

        assert gain.lufs == -np.inf
        assert sum(len(piece) for piece in gain.applied(np.zeros((frames, 2), np.int16))) == frames


@pytest.mark.parametrize("stems", [False, True])
def test_a_performance_without_notes_is_refused(tags: Tags, *, stems: bool) -> None:
    chart = read_chart("key: G\n| N.C. | N.C. |\n", "rests.chart")
    settings = Settings(choruses=1, count_in=0, players=frozenset({Player.BASS}))
    midi = midi_tracks(Performance(chart, settings))

    with pytest.raises(BackingError, match="nobody has a note"):
        record(midi, FORMATS["wav"], USUAL, tags, stems=stems)


@pytest.mark.parametrize("fade", [-1.0, 61.0, float("nan")])
def test_an_invalid_fade_is_refused(fade: float) -> None:
    with pytest.raises(BackingError, match="choose from 0 to 60"):
        RecordingSettings(usual_sound_font(), fade=fade)


def test_an_unsupported_sound_format_is_refused() -> None:
    with pytest.raises(BackingError, match=r"\.m4a files are not supported: .* wav, flac, mp3"):
        format_of(".m4a")


@pytest.mark.parametrize("quieter, count", [(0.0, 0), (0.4, 0), (0.6, 1), (float("inf"), 1)])
def test_a_quiet_recording_has_a_remark(quieter: float, count: int) -> None:
    """A mix that is half a loudness unit below the usual is worth a remark."""
    found = Recording(io.BytesIO(), {}, 1.0, TARGET_LUFS - quieter).remarks()

    assert len(found) == count
    assert all(f"usually {TARGET_LUFS:g}" in each for each in found)
