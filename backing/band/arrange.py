"""The arrangement: dynamics, the style's variations and drum grooves."""

from __future__ import annotations

from functools import lru_cache
from itertools import accumulate, groupby
from typing import TYPE_CHECKING

from backing import chance
from backing.band.fills import with_answer
from backing.band.habits import played
from backing.band.plan import PHRASE_BARS
from backing.chart.model import LEVELS
from backing.chart.sequence import opens
from backing.notes import Player

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.chart.sequence import SequencedBar
    from backing.style.model import ChopPattern, DrumGroove, Lanes, Style

Levels = tuple[tuple[int, float], ...]

Peaks = tuple[tuple[float, float], ...]
"""Pairs of (level, loudness of the loudest bar of a part at this level or a lower one)."""

_SOFT, _PLAIN, _LOUD, _BUILT = 0.74, 1.0, 1.16, 1.22
_BUILD_STEP_BEATS = 2
_QUIETEST, _LOUDEST = 0.9, 1.1
"""Factors on velocity of choruses without energy and with all of it."""

_PEAK = 0.8
"""Energy from which all parts have the style's last variation."""

_BRIDGE, _LEADING, _LEADING_BARS = 1.05, 1.02, 2
_LANDING = (1.1, 1.05, 1.02)
"""Factors on the first bars of a part: the band lands and settles."""

_LONG_PART = 8
"""Least bars of a part that has a course of its own."""

_GROOVE_BARS = 4
"""Bars that a groove of one bar is kept for (ours)."""


def levels_of(sequence: tuple[SequencedBar, ...]) -> tuple[Levels, ...]:
    """Return the written loudness of each bar, as pairs of (tick, factor on velocity).

    `soft`, `loud` and `build` hold to the end of their part; a build grows in steps of two beats.
    """
    found: list[Levels] = []
    here, slope, left = _PLAIN, 0.0, 0
    for index, sequenced in enumerate(sequence):
        bar = sequenced.bar
        if sequenced.index == 0:
            here, slope = _PLAIN, 0.0
        levels = [(0, here)]
        words = {each.tick: each.word for each in bar.directions if each.word in LEVELS}
        step = bar.meter.beat_ticks * _BUILD_STEP_BEATS
        for tick in sorted({*words, *range(0, bar.ticks, step)}):
            if word := words.get(tick):
                if word == "build":
                    left = sum(each.bar.ticks for each in _rest_of_part(sequence, index)) - tick
                    slope = (_BUILT - here) / max(left / step, 1)
                else:
                    here, slope = (_SOFT if word == "soft" else _LOUD), 0.0
            elif slope:
                here += slope
            if here != levels[-1][1]:
                levels.append((tick, here))
        found.append(tuple(levels))
    return tuple(found)


def _rest_of_part(sequence: tuple[SequencedBar, ...], index: int) -> list[SequencedBar]:
    form_index = sequence[index].form_index
    return [each for each in sequence[index:] if each.form_index == form_index]


def bridge_of(chart: Chart) -> str:
    """Return the name of the second part of a tune, or "" if it has one part."""
    names = [part.name for part in chart.parts if not opens(part.name)]
    return names[1] if len(names) > 1 else ""


def part_of(sequenced: SequencedBar) -> str:
    """Return the name of the chart's part that a bar comes from, also in an intro or a tag."""
    return sequenced.origin.part if sequenced.origin else sequenced.part


def dynamics(sequenced: SequencedBar, *, is_bridge: bool, energy: float) -> float:
    """Return the factor on velocity of a bar, from its chorus, its part and its index in the part.

    It grows with the energy of the chorus. The second part of the tune is louder, and so are the
    first three bars of a long part and its last two.
    """
    return chorus_level(energy) * (_BRIDGE if is_bridge else 1.0) * _inside_part(sequenced)


def chorus_level(energy: float) -> float:
    """Return the factor on velocity of a chorus."""
    return _QUIETEST + (_LOUDEST - _QUIETEST) * energy


def peaks_of(sequence: tuple[SequencedBar, ...], levels: tuple[Levels, ...]) -> tuple[Peaks, ...]:
    """Return, for each bar of a chorus, the peaks of the part that it is in."""
    found: list[Peaks] = []
    for _, group in groupby(
        zip(sequence, levels, strict=True), key=lambda each: each[0].form_index
    ):
        part = list(group)
        bars = sorted(
            (level, level * _inside_part(sequenced))
            for sequenced, steps in part
            for _, level in steps
        )
        loudest = accumulate((factor for _, factor in bars), max)
        peaks = {level: peak for (level, _), peak in zip(bars, loudest, strict=True)}
        found += [tuple(peaks.items())] * len(part)
    return tuple(found)


def swell(sequenced: SequencedBar, level: float, peaks: Peaks) -> float:
    """Return the loudest bar of a part, at this level or a lower one, divided by this bar."""
    here = level * _inside_part(sequenced)
    return max(here, *(peak for least, peak in peaks if least <= level)) / here


def _inside_part(sequenced: SequencedBar) -> float:
    """Return the factor on velocity that a bar gets from its index in its part."""
    if sequenced.length < _LONG_PART:
        return 1.0
    if sequenced.index < len(_LANDING):
        return _LANDING[sequenced.index]
    return _LEADING if sequenced.length - sequenced.index <= _LEADING_BARS else 1.0


def variation_of(
    style: Style,
    chart: Chart,
    sequenced: SequencedBar,
    energy: float,
    *,
    is_first: bool,
    is_last: bool,
) -> str:
    """Return the style's variation for a bar.

    Variations come in the order of their energy. If they change with the parts, the parts take
    them in turn, from the one that fits the chorus on; at the peak, and in the last of several
    choruses, all parts have the last one. If they change with the choruses, the first chorus has
    the first one.
    """
    variations = style.variations
    if style.turns == "choruses" and is_first:
        return variations[0]
    if is_last or energy >= _PEAK:
        return variations[-1]
    fitting = min(int(energy / _PEAK * len(variations)), len(variations) - 1)
    if style.turns == "choruses":
        return variations[fitting]
    names = [part.name for part in chart.parts]
    home = part_of(sequenced)
    part = names.index(home) if home in names else 0
    return variations[(part + fitting) % len(variations)]


def groove_of(
    style: Style,
    variation: str,
    sequenced: SequencedBar,
    address: tuple[int, int, int],
    *,
    bpm: float,
    energy: float,
    answers: Player | None = None,
) -> Lanes:
    """Return the strokes of the drums in a bar, without the fill at its end.

    A groove of one bar is kept for four bars; if the style has longer ones, grooves change as often
    as the longest ends. Of two that follow each other in a part the second is another. Bars are
    counted from the start of the part.

    Args:
        style: the style.
        variation: the variation that the groove must fit.
        sequenced: the bar.
        address: the seed, the chorus and the bar's index in it.
        bpm: quarter notes a minute.
        energy: from 0 to 1; the more, the livelier.
        answers: who answers in this bar; the drummer leaves room for another.

    """
    groove = _written_groove(style, variation, sequenced, address, bpm)
    meter = sequenced.meter
    bar = sequenced.index * meter.bar_ticks % groove.ticks, sequenced.bar.ticks, meter.beat_ticks
    lanes = played(style, groove, bar, address, bpm=bpm, energy=energy)
    if answers not in (None, Player.DRUMS):
        return lanes
    return with_answer(style, lanes, sequenced.bar.ticks, address, energy)


def _written_groove(
    style: Style,
    variation: str,
    sequenced: SequencedBar,
    address: tuple[int, int, int],
    bpm: float,
) -> DrumGroove:
    """Return the groove that a bar belongs to."""
    fits = _grooves_in(style, variation, bpm)
    longest = max(groove.ticks for groove, _ in fits) // sequenced.meter.bar_ticks
    bars = longest if longest > 1 else _GROOVE_BARS
    seed, chorus, step = address
    turn, rest = divmod(sequenced.index, bars)
    found = chance.choose(fits, seed, "groove", chorus, step - rest - turn % 2 * bars)
    if turn % 2 and len(fits) > 1:
        others = tuple([each for each in fits if each[0] is not found])
        return chance.choose(others, seed, "groove", chorus, step - rest)
    return found


def pattern_of(
    style: Style, variation: str, sequenced: SequencedBar, address: tuple[int, int, int]
) -> ChopPattern:
    """Return the chop's pattern of a bar; patterns of several bars begin with the part.

    A phrase keeps its pattern, mostly one of the likelier; its last bar, or group of bars, differs.

    Args: as for `groove_of`.
    """
    patterns = _patterns_in(style, variation)
    longest = max(pattern.grid.ticks for pattern, _ in patterns)
    bars = max(longest // sequenced.meter.bar_ticks, 1)
    seed, chorus, step = address
    phrase, index = max(PHRASE_BARS, bars), sequenced.index
    likely = tuple([(pattern, weight * weight) for pattern, weight in patterns])
    kept = chance.choose(likely, seed, "chop pattern", chorus, step - index % phrase)
    turns = index % phrase >= phrase - bars or (bars == 1 and sequenced.is_part_end)
    if not turns or phrase == bars:
        return kept
    others = tuple([each for each in patterns if each[0] is not kept])
    return chance.choose(others or patterns, seed, "chop turn", chorus, step - index % bars)


@lru_cache(64)
def _patterns_in(style: Style, variation: str) -> tuple[tuple[ChopPattern, float], ...]:
    return tuple(
        (pattern, pattern.weight)
        for pattern in style.chop.patterns
        if pattern.variation in ("", variation)
    )


@lru_cache(64)
def _grooves_in(style: Style, variation: str, bpm: float) -> tuple[tuple[DrumGroove, float], ...]:
    """Return the grooves of a variation at a tempo, with their weights."""
    return tuple(
        (groove, groove.weight)
        for groove in style.drums.grooves
        if groove.variation in ("", variation) and bpm <= groove.fastest_bpm
    )
