"""The arrangement: loudness, who keeps time how, where the drums fill."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing import chance

if TYPE_CHECKING:
    from backing.chart.form import RoadBar
    from backing.chart.model import Chart
    from backing.style.model import DrumGroove, Style

Levels = tuple[tuple[int, float], ...]

_SOFT, _PLAIN, _LOUD, _BUILT = 0.74, 1.0, 1.16, 1.22
_LEVELS = {"soft", "loud", "build"}
_BUILD_STEP_BEATS = 2
_FIRST_CHORUS, _LAST_CHORUS = 0.95, 1.05
_EIGHT_BAR_FILL_SHARE = 0.4
_SHORT_FILLS_SHARE = 0.65


def levels_of(road: tuple[RoadBar, ...]) -> tuple[Levels, ...]:
    """Return the loudness of each bar of a chorus, as pairs of (tick, factor on velocity).

    `soft`, `loud` and `build` hold to the end of their part; a build grows in steps of two beats.
    """
    found: list[Levels] = []
    here, slope, left = _PLAIN, 0.0, 0
    for index, place in enumerate(road):
        bar = place.bar
        if place.index == 0:
            here, slope = _PLAIN, 0.0
        levels = [(0, here)]
        words = {each.tick: each.word for each in bar.directions if each.word in _LEVELS}
        step = bar.meter.beat_ticks * _BUILD_STEP_BEATS
        for tick in sorted({*words, *range(0, bar.ticks, step)}):
            if word := words.get(tick):
                if word == "build":
                    left = sum(each.bar.ticks for each in _rest_of_part(road, index)) - tick
                    slope = (_BUILT - here) / max(left / step, 1)
                else:
                    here, slope = (_SOFT if word == "soft" else _LOUD), 0.0
            elif slope:
                here += slope
            levels.append((tick, here))
        found.append(tuple(levels))
    return tuple(found)


def _rest_of_part(road: tuple[RoadBar, ...], index: int) -> list[RoadBar]:
    turn = road[index].turn
    return [each for each in road[index:] if each.turn == turn]


def chorus_level(chorus: int, choruses: int) -> float:
    """Return the factor on velocity of a whole chorus: the band settles first and lifts last."""
    if choruses == 1:
        return 1.0
    return _FIRST_CHORUS if chorus == 1 else _LAST_CHORUS if chorus == choruses else 1.0


def colour_of(style: Style, chart: Chart, place: RoadBar, chorus: int, choruses: int) -> str:
    """Return how the drums keep time: parts take turns, the last chorus takes the last colour."""
    colours = style.drums.colours
    if 1 < choruses == chorus:
        return colours[-1]
    names = [part.name for part in chart.parts]
    return colours[names.index(place.part) % len(colours)]


def fill_of(
    style: Style, place: RoadBar, *, leads: bool, big: bool, address: tuple[int, int, int]
) -> DrumGroove | None:
    """Return the fill of a bar, or None.

    There is one into each new part, where the chart says so, and now and then after eight bars.

    Args:
        style: the groove.
        place: the bar.
        leads: whether a new part or the ending follows.
        big: whether a chorus ends here; then long fills are as welcome as short ones.
        address: the seed, the chorus and the bar's place in it.

    """
    bar = place.bar
    words = {each.word for each in bar.directions}
    source = chance.source(address[0], "fill", *address[1:])
    at_eight = place.index % 8 == 7 and source.random() < _EIGHT_BAR_FILL_SHARE
    quiet = bar.pickup or words & {"stop", "hold", "break"}
    if "fill" not in words and (quiet or not (leads or at_eight)):
        return None
    longest = bar.ticks if big or source.random() > _SHORT_FILLS_SHARE else bar.ticks // 2
    fits = [fill for fill in style.drums.fills if fill.ticks <= longest]
    return chance.pick(source, tuple((fill, fill.weight) for fill in fits)) if fits else None
