"""Compare with music21, an independent reader of ABC; its errors are listed with the rule."""

from __future__ import annotations

import re
import warnings
from itertools import islice
from pathlib import Path

import pytest
from cases import HEAD, NOTES, ORDERS
from playing import only_tune, played_abc, played_by_music21

from backing.errors import ScoreError
from backing.scores.abc.read import read_abc
from backing.scores.abc.text import split_tunes

NOT_READ = {
    "no opening repeat (4.8)", ":|: (4.8)", "thick bar lines (4.8)", "three times (4.8)",
    "double bar begins a repeat (4.8)", "three endings (4.10)", "listed endings (4.10)",
    "a range of endings (4.10)", "an order that a chart cannot say (4.10)", "parts (3.1.9)",
    "behind an ending of two times", "like parts, the second longer",
    "parts with numbers (3.1.9)", "parts with repeats (3.1.9)", "parts inline (3.2)",
    "da capo al fine (4.14)", "dal segno (4.14)", "coda (4.14)", "da capo in words",
    "dal segno in short (4.14, 4.16)", "coda in short (4.14, 4.16)", "signs of one's own (4.16)",
    "repeats are not played again behind D.C.", "an overlay (7.4)", "voices (7.1)",
    "voices inline (7.1)",
    # by its own choice it lets an accidental hold in files of version 2 only
    "accidentals hold in every octave (4.2, 11.3)",
    "a key with accidentals (3.1.14)", "explicit (3.1.14)", "phrygian with a sharp (3.1.14)",
    "pipes (3.1.14)", "a key change inside (3.2)", "decorations and slurs (4.14, 4.11)",
    "strings are no notes (4.19)",
}  # fmt: skip
"""Rules that music21 does not follow, which are checked by hand only."""


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    [
        pytest.param(each, marks=pytest.mark.xfail(reason="music21 does not follow it"))
        if each in NOT_READ
        else each
        for each in {**ORDERS, **NOTES}
    ],
)
def test_rules_that_it_follows(name: str) -> None:
    """Both readers give the same keys in the same order as played."""
    text = HEAD + {**ORDERS, **NOTES}[name][0]

    ours = [key for bar in played_abc(text) for _, _, key in bar]

    assert ours == [key for bar in played_by_music21(text) for key in bar]


def _corpus() -> Path:
    import music21

    return Path(music21.__file__).parent / "corpus"


def _texts(folder: str, number: int) -> list[str]:
    """Return evenly spaced tunes of a folder of music21's corpus."""
    texts = []
    for path in sorted((_corpus() / folder).glob("*.abc")):
        for tune in islice(split_tunes(path.read_bytes(), path.name), 40):
            texts.append("\n".join(line.text for line in tune.lines))
    return texts[:: max(len(texts) // number, 1)][:number]


def _written_keys_by_music21(text: str) -> list[int]:
    import music21

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = music21.converter.parse(f"%abc-2.1\n{text}\n", format="abc")
    return [
        key
        for note in score.parts[0].flatten().notes
        if not isinstance(note, music21.harmony.Harmony) and not note.duration.isGrace
        if note.tie is None or note.tie.type == "start"  # it parts notes that cross a bar line
        for key in sorted({pitch.midi for pitch in note.pitches})
    ]


_ODD = re.compile(r"\[[A-Z]:|-|&|[_^<>@]\"|!|\+|\((?!3)|::|~|[H-Yh-wy][a-gA-G]|\{|Z")


def _is_plain(text: str) -> bool:
    """Whether music21 can read a tune: one key, no ties, grace notes or annotations."""
    lines = text.splitlines()
    fields = [line[0] for line in lines if re.match("[A-Za-z]:", line)]
    music = [line for line in lines if not re.match(r"[A-Za-z]:|\s*%", line)]
    keys = [line for line in lines if line.startswith("K:")]
    odd = any(map(_ODD.search, music)) or re.search("HP|Hp|exp|[=^_]", keys[0] if keys else "")
    return fields.count("K") == 1 and fields.count("M") == 1 and "V" not in fields and not odd


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["oneills1850", "airdsAirs"])
def test_real_tunes_have_the_same_notes(folder: str) -> None:
    """Both readers give the same written notes for tunes of its corpus."""
    compared = 0
    for text in filter(_is_plain, _texts(folder, 150)):
        theirs = _written_keys_by_music21(text)
        ours = [note.pitch.key for bar in only_tune(text).bars for note in bar.notes]
        assert ours == theirs, text
        compared += 1
    assert compared >= 5


@pytest.mark.slow
def test_the_reels_with_chords() -> None:
    """Both readers give the same chords at the same offsets for its two tunes with chords."""
    import music21

    path = _corpus() / "nottingham-dataset" / "reelsa-c.abc"
    for number, tune in enumerate(read_abc(path.read_bytes(), path.name)):
        assert not isinstance(tune, ScoreError)
        score = music21.converter.parse(path).scores[number]
        theirs = [
            (float(each.getOffsetInHierarchy(score)), each.root().pitchClass)
            for each in score.recurse().getElementsByClass(music21.harmony.ChordSymbol)
        ]
        ours, start = [], 0
        for bar in tune.bars:
            ours += [
                ((start + sign.tick) / 960, sign.chord.root.pitch_class)
                for sign in bar.chords
                if sign.chord
            ]
            start += bar.ticks
        assert ours == theirs


@pytest.mark.slow
@pytest.mark.parametrize("first", range(8))
def test_every_tune_of_the_corpus_converts(first: int) -> None:
    """All thirteen thousand tunes become charts that are read back unchanged."""
    from backing.chart.read import read_chart
    from backing.chart.write import write_chart
    from backing.scores.to_chart import to_chart
    from backing.style.library import style_meters

    count = 0
    for path in sorted(_corpus().rglob("*.abc"))[first::8]:
        for tune in read_abc(path.read_bytes(), path.name):
            assert not isinstance(tune, ScoreError), tune
            chart = to_chart(tune, style_meters()).chart
            assert read_chart(write_chart(chart), "x", style_meters()) == chart
            count += 1
    assert count > 1000
