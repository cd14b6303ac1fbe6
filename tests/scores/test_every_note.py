"""Check that every note and chord sign of a tune is in its chart and melody, or reported."""

from __future__ import annotations

import re
from collections import Counter as Bag
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from by_players import tune
from cases import CHORDS, HEAD, LENGTHS, NOTES, ORDERS
from counted import CountedBar, Counter

from backing.errors import ScoreError
from backing.scores.abc.read import read_tune
from backing.scores.abc.text import TuneText, split_tunes
from backing.scores.to_chart import to_chart

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.scores.to_chart import Converted

WHOLE_TICKS = 3840


def _keys(bar: CountedBar) -> list[tuple[str, int, int]]:
    return [
        (letter, octave, round(end * WHOLE_TICKS) - round(start * WHOLE_TICKS))
        for letter, octave, start, end in bar.notes
    ]


def _bars_of_melody(found: Converted) -> list[Bag[tuple[str, int, int]]]:
    return [
        Bag((str(note.pitch.name)[0], note.pitch.octave, note.ticks) for note in bar)
        for part in found.melody.parts
        for bar in part.bars
    ]


def _holds(melody: Bag[tuple[str, int, int]], bar: CountedBar) -> bool:
    """Whether a melody bar has the notes of a bar; tied notes may be longer."""
    if Bag(_keys(bar)) <= melody:
        return True
    starts = [start for _, _, start, _ in bar.notes]
    tied = Bag(
        key
        for key, start in zip(_keys(bar), starts, strict=True)
        if key[:2] in bar.open or (not start and key[:2] in bar.entered)
    )
    names = {each[:2] for each in melody}
    return Bag(_keys(bar)) - tied <= melody and all(each[:2] in names for each in tied)


def _roots(found: Converted) -> set[str]:
    """Return the roots of all chords."""
    bars = [bar for part in found.chart.parts for bar in part.written()]
    return {str(span.chord.root) for bar in bars for span in bar.chords if span.chord}


def unaccounted(text: TuneText, found: Converted) -> list[str]:
    """Return what of a tune is neither in its chart and melody nor reported with its line."""
    counted = Counter([(line.number, line.text) for line in text.lines])
    reported = Bag(
        int(figure) for each in found.comments for figure in re.findall(r"\d+", each.place)
    )
    above = " ".join(each.text for each in found.comments)
    melody = _bars_of_melody(found)
    roots = _roots(found)
    missing: dict[int, list[CountedBar]] = {}
    for bar in counted.bars:
        known = not bar.notes or any(_holds(each, bar) for each in melody)
        if not known or any(not _has(sign, roots, above) for sign in bar.signs):
            missing.setdefault(bar.line, []).append(bar)
    return [
        f"line {line}: {_keys(bar)} {bar.signs}"
        for line, bars in missing.items()
        for bar in bars
        if len(bars) > reported[line]
    ]


def _has(sign: str, roots: set[str], reported: str) -> bool:
    """Whether the root of a chord sign is in the chart, or the sign is reported."""
    root = re.match(r"\(?([A-G][#b♯♭]?)", sign)
    plain = root[1].replace("♯", "#").replace("♭", "b") if root else ""
    return plain in roots or f"'{sign.strip('() ')}" in reported


def _check(texts: Iterator[TuneText]) -> int:
    """Check some tunes; return how many were read."""
    count = 0
    for text in texts:
        try:
            found = to_chart(read_tune(text))
        except ScoreError:
            continue
        count += 1
        if any("no K: before the music" in remark for remark in found.remarks):
            continue  # it begins where only a guess can say
        music = "\n".join(line.text for line in text.lines)
        assert unaccounted(text, found) == [], music
    return count


def _texts(*bodies: str) -> Iterator[TuneText]:
    for body in bodies:
        yield from split_tunes(body.encode(), "t.abc")


@pytest.mark.parametrize("seeds", [range(start, start + 50) for start in range(0, 200, 50)])
def test_tunes_of_players(seeds: range) -> None:
    """Nothing is lost from tunes with the slips and habits of players."""
    assert _check(text for seed in seeds for text in split_tunes(tune(seed), "t.abc")) >= 45


def test_cases() -> None:
    """Nothing is lost from the small cases of the other tests."""
    bodies = [body for table in (ORDERS, NOTES, LENGTHS) for body, _ in table.values()]
    bodies += [f"K:C\n{sign}C4|D4|]" for sign in CHORDS]

    assert _check(_texts(*(HEAD + body for body in bodies))) == len(bodies)


def test_the_count_is_right() -> None:
    """The counter counts short tunes correctly and notices a lost note."""
    body = 'K:C\n"C"C>D (3EFG {a}[CE]2- |[CE]2 "G"z2|1 C-C & E4 :|2 D4|]'
    counted = Counter(list(enumerate((HEAD + body).splitlines(), 1)))

    assert [len(bar.notes) for bar in counted.bars] == [7, 2, 1, 1]
    lengths = [[end - start for _, _, start, end in bar.notes] for bar in counted.bars]
    assert [sum(each) for each in lengths] == [2, 1, 0.5, 1]
    assert [bar.signs for bar in counted.bars] == [["C"], ["G"], [], []]
    (text,) = _texts(HEAD + "K:C\nC4|D4|]")
    (other,) = _texts(HEAD + "K:C\nC4|E4|]")
    assert unaccounted(text, to_chart(read_tune(other)))


def _corpus() -> list[TuneText]:
    import music21

    folder = Path(music21.__file__).parent / "corpus"
    paths = sorted(folder.rglob("*.abc"))
    return [text for path in paths for text in split_tunes(path.read_bytes(), "")]


def test_some_real_tunes() -> None:
    """Nothing is lost from a sample of music21's tunes."""
    texts = _corpus()

    assert _check(iter(texts[:: len(texts) // 150])) >= 140


@pytest.mark.slow
@pytest.mark.parametrize("first", range(8))
def test_all_real_tunes(first: int) -> None:
    """Nothing is lost from all thirteen thousand tunes, in eight parts for as many workers."""
    assert _check(iter(_corpus()[first::8])) > 1250
