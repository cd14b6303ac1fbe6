"""The dynamics of a performance in the written file."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import pytest
from listening import REEL, SONG, mean, take

from backing.notes import Player

if TYPE_CHECKING:
    from collections.abc import Sequence

CASES = [(SONG, "swing", 170), (REEL, "two-beat", 200)]


def by_chorus(text: str, style: str, bpm: float, choruses: int, player: Player) -> list[float]:
    """Return a player's mean velocity in each chorus, over strokes common to all choruses."""
    found: dict[int, dict[tuple[int, int], list[int]]] = defaultdict(lambda: defaultdict(list))
    for seed in (1, 2):
        one = take(text, style, bpm, seed, 0.0, choruses)
        bars = len(one.music) // choruses
        for number, bar in enumerate(one.music):
            chorus, step = divmod(number, bars)
            for note in bar.notes:
                if note.player is player:
                    found[chorus][step, note.tick - bar.start].append(note.velocity)
    shared = set.intersection(*(set(found[chorus]) for chorus in range(choruses)))
    assert len(shared) > 20
    return [_mean_of(found[chorus], sorted(shared)) for chorus in range(choruses)]


def _mean_of(strokes: dict[tuple[int, int], list[int]], places: Sequence[tuple[int, int]]) -> float:
    return mean([mean([float(each) for each in strokes[place]]) for place in places])


@pytest.mark.parametrize("choruses", [2, 4])
@pytest.mark.parametrize("player", [Player.BASS, Player.CHOP])
@pytest.mark.parametrize("text, style, bpm", CASES)
def test_the_band_builds_into_the_last_chorus(
    text: str, style: str, bpm: float, player: Player, choruses: int
) -> None:
    """The last chorus is the loudest (our choice)."""
    *others, last = by_chorus(text, style, bpm, choruses, player)
    assert last > max(others)


@pytest.mark.parametrize("text, style, bpm", CASES)
def test_the_band_lands_on_a_part(text: str, style: str, bpm: float) -> None:
    """The first bar of a part of eight is firmer than those in its middle (our choice)."""
    firsts, middles = [], []
    for seed in range(1, 7):
        one = take(text, style, bpm, seed, 0.0, 2)
        for number, bar in enumerate(one.music):
            found = [
                float(note.velocity)
                for note in bar.notes
                if note.player is Player.BASS and note.tick == bar.start
            ]
            if number % 8 == 0:
                firsts += found
            elif number % 8 in (3, 4, 5):
                middles += found
    assert mean(firsts) > 1.05 * mean(middles)
