"""The arrangement: loudness, who keeps time how, where the drums fill."""

from __future__ import annotations

from functools import lru_cache
from itertools import accumulate, groupby
from typing import TYPE_CHECKING

from backing import chance
from backing.band.hits import asked_hit
from backing.chart.model import LEVELS
from backing.chart.sequence import opens
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.chart.sequence import SequencedBar
    from backing.style.model import DrumGroove, Style

Levels = tuple[tuple[int, float], ...]

Peaks = tuple[tuple[float, float], ...]
"""How loud a part becomes, as pairs of (level, loudest bar at this level or a lower one)."""

_SOFT, _PLAIN, _LOUD, _BUILT = 0.74, 1.0, 1.16, 1.22
_BUILD_STEP_BEATS = 2
_FIRST_CHORUS, _LAST_CHORUS = 0.93, 1.07
_SOLO_CHORUSES = (0.95, 1.02)
_BRIDGE, _LEADING, _LEADING_BARS = 1.05, 1.02, 2
_LANDING = (1.1, 1.05, 1.02)
"""Factors on the first bars of a part: the band lands and settles."""

_MIDDLE_FILL_SHARE = 0.4
_LONG_PART = 8
"""Bars from which on a part is long enough to be led into each time."""

_SHORT_FILLS_SHARE = 0.65
_SOFTLY = {"soft", "break"}
"""What a fill leads into with little."""

_PHRASE_BARS = 4


def levels_of(sequence: tuple[SequencedBar, ...]) -> tuple[Levels, ...]:
    """Return the loudness of each bar of a chorus, as pairs of (tick, factor on velocity).

    `soft`, `loud` and `build` hold to the end of their part; a build grows in steps of two beats.
    """
    found: list[Levels] = []
    here, slope, left = _PLAIN, 0.0, 0
    for index, place in enumerate(sequence):
        bar = place.bar
        if place.index == 0:
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
            levels.append((tick, here))
        found.append(tuple(levels))
    return tuple(found)


def _rest_of_part(sequence: tuple[SequencedBar, ...], index: int) -> list[SequencedBar]:
    form_index = sequence[index].form_index
    return [each for each in sequence[index:] if each.form_index == form_index]


def bridge_of(chart: Chart) -> str:
    """Return the name of the second part of a tune; "" without one."""
    names = [part.name for part in chart.parts if not opens(part.name)]
    return names[1] if len(names) > 1 else ""


def part_of(place: SequencedBar) -> str:
    """Return the part of the chart that a bar comes from, in an intro and a tag too."""
    return place.origin.part if place.origin else place.part


def dynamics(place: SequencedBar, *, is_bridge: bool, chorus: int, choruses: int) -> float:
    """Return the factor on velocity of a bar: the curve over a performance.

    The band settles in the first chorus, breathes in the first and gives more in the second chorus
    of each solo of two, and builds into the last. It lifts in the second part of the tune, lands on
    the start of each part and leans into the next one in its last two bars.
    """
    level = 1.0
    if choruses > 1:
        if chorus == 1:
            level = _FIRST_CHORUS
        elif chorus == choruses:
            level = _LAST_CHORUS
        else:
            level = _SOLO_CHORUSES[chorus % 2]
    return level * (_BRIDGE if is_bridge else 1.0) * _inside_part(place)


def peaks_of(sequence: tuple[SequencedBar, ...], levels: tuple[Levels, ...]) -> tuple[Peaks, ...]:
    """Return how loud the part around each bar of a chorus becomes."""
    found: list[Peaks] = []
    for _, group in groupby(
        zip(sequence, levels, strict=True), key=lambda each: each[0].form_index
    ):
        part = list(group)
        bars = sorted(
            (level, level * _inside_part(place)) for place, steps in part for _, level in steps
        )
        loudest = accumulate((factor for _, factor in bars), max)
        peaks = {level: peak for (level, _), peak in zip(bars, loudest, strict=True)}
        found += [tuple(peaks.items())] * len(part)
    return tuple(found)


def swell(place: SequencedBar, level: float, peaks: Peaks) -> float:
    """Return the factor from a bar at a level to the loudest bar that its part has at it."""
    here = level * _inside_part(place)
    return max(here, *(peak for least, peak in peaks if least <= level)) / here


def _inside_part(place: SequencedBar) -> float:
    """Return the factor on velocity of a bar inside its part."""
    if place.length < _LONG_PART:
        return 1.0
    if place.index < len(_LANDING):
        return _LANDING[place.index]
    return _LEADING if place.length - place.index <= _LEADING_BARS else 1.0


def variation_of(
    style: Style, chart: Chart, place: SequencedBar, chorus: int, choruses: int
) -> str:
    """Return which of the style's ways to play holds in a bar.

    Where parts take turns, each chorus begins with the next colour; where choruses do, the last
    colour stays. The last chorus takes the last colour all through.
    """
    variations = style.variations
    if 1 < choruses == chorus:
        return variations[-1]
    if style.turns == "choruses":
        return variations[min(chorus, len(variations)) - 1]
    names = [part.name for part in chart.parts]
    home = part_of(place)
    part = names.index(home) if home in names else 0
    return variations[(part + chorus - 1) % len(variations)]


def groove_of(
    style: Style, variation: str, place: SequencedBar, address: tuple[int, int, int]
) -> DrumGroove:
    """Return what the drums keep time with in a bar.

    Grooves of several bars begin with the part. The last group of bars of each phrase never takes
    the likeliest groove, if there are others: a drummer turns the phrase there.

    Args:
        style: the style.
        variation: which grooves fit.
        place: the bar.
        address: the seed, the chorus and the bar's place in it.

    """
    grooves = _grooves_in(style, variation)
    bars = max(max(groove.ticks for groove in grooves) // place.meter.bar_ticks, 1)
    seed, chorus, step = address
    phrase = _PHRASE_BARS * (2 if bars > 1 else 1)
    turns = place.index % phrase >= phrase - bars and place.length > bars
    fits = grooves[1:] if turns and len(grooves) > 1 else grooves
    weighted = tuple([(groove, groove.weight) for groove in fits])
    return chance.choose(weighted, seed, "groove", chorus, step - place.index % bars)


@lru_cache(64)
def _grooves_in(style: Style, variation: str) -> tuple[DrumGroove, ...]:
    """Return the grooves of a colour, the likeliest first."""
    fits = [groove for groove in style.drums.grooves if groove.variation in ("", variation)]
    return tuple(sorted(fits, key=lambda groove: -groove.weight))


def fill_of(
    style: Style,
    place: SequencedBar,
    coming: SequencedBar | None,
    *,
    ends: bool,
    round_bars: int,
    address: tuple[int, int, int],
) -> DrumGroove | None:
    """Return the fill of a bar, or None.

    There is one where the chart says so, into the ending, into each new part - a short part that
    comes again is no new one - and now and then in the middle of a long part, eight bars from
    either end.

    Args:
        style: the groove.
        place: the bar.
        coming: the bar that follows, or None.
        ends: whether the last chord of all comes on the next first beat.
        round_bars: bars of the chorus.
        address: the seed, the chorus and the bar's place in it.
    """
    bar = place.bar
    seed, chorus, step = address
    words = frozenset(each.word for each in bar.directions)
    is_last = step == round_bars - 1
    leads = ends or _leads(place, coming, round_bars, chorus, is_last=is_last)
    if "fill" not in words and not (leads or _is_middle(place)):
        return None
    source = chance.source(seed, "fill", chorus, step)
    if "fill" not in words:
        if asked_hit(words):
            return None
        if not leads and source.random() > _MIDDLE_FILL_SHARE:
            return None
    soft = coming is not None and bool(_SOFTLY & coming.bar.words_at(0))
    big = not soft and (ends or (is_last and round_bars >= _LONG_PART))
    longest = bar.ticks if big or source.random() > _SHORT_FILLS_SHARE else bar.ticks // 2
    longest = TICKS_PER_QUARTER if soft else longest
    fits = [fill for fill in style.drums.fills if fill.ticks <= max(longest, TICKS_PER_QUARTER)]
    fits = [fill for fill in fits if fill.ticks <= bar.ticks]
    return chance.pick(source, tuple((fill, fill.weight) for fill in fits)) if fits else None


def _is_middle(place: SequencedBar) -> bool:
    """Whether eight bars of a part end here and eight more follow."""
    return place.index % _LONG_PART == _LONG_PART - 1 and place.length - place.index > _LONG_PART


def _leads(
    place: SequencedBar, coming: SequencedBar | None, round_bars: int, chorus: int, *, is_last: bool
) -> bool:
    """Whether a new part comes that wants to be led into; a pickup leads in by itself."""
    if coming is None or coming.bar.pickup:
        return False
    if place.bar.pickup:
        return True
    if not place.is_part_end:
        return False
    if place.length >= _LONG_PART or coming.part != place.part:
        return True
    every = max(_LONG_PART // round_bars, 1)
    return is_last and chorus % every == 0
