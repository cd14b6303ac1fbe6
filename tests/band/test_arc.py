"""The course of a performance over its choruses, and the plan of its phrases."""

from __future__ import annotations

from itertools import groupby

import pytest
from listening import BLUES, SONG

from backing.band.arc import energy_of
from backing.band.plan import PHRASE_BARS
from backing.chart.read import read_chart
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import MOST_CHORUSES, Settings

SEEDS = range(40)


def course(seed: int, choruses: int) -> list[float]:
    """Return the energies of so many choruses, as if there was no end."""
    return [energy_of(seed, chorus, is_last=False) for chorus in range(1, choruses + 1)]


@pytest.mark.parametrize("seed", SEEDS)
def test_energy_stays_for_two_choruses_or_more(seed: int) -> None:
    """Every plateau has at least two choruses, and energy lies between 0 and 1."""
    found = course(seed, MOST_CHORUSES)
    plateaus = [len(list(group)) for _, group in groupby(found)]
    assert min(plateaus[:-1]) >= 2
    assert max(plateaus) <= 8
    assert min(found) >= 0
    assert max(found) <= 1


@pytest.mark.parametrize("seed", SEEDS)
def test_it_rises_to_a_peak_and_comes_down(seed: int) -> None:
    """The first chorus is held back; energy rises to a peak, and later choruses are lower."""
    found = course(seed, 16)
    peak = next(index for index in range(16) if found[index + 1] < found[index])
    assert found[0] < 0.45
    assert found[peak] > 0.7
    assert found[: peak + 1] == sorted(found[: peak + 1])
    assert min(found[peak:]) < 0.5


def test_no_two_waves_are_alike() -> None:
    """Another seed and another wave have another course."""
    waves = {tuple(course(seed, 20)) for seed in SEEDS}
    assert len(waves) == len(SEEDS)
    long = course(1, 480)
    assert len({tuple(long[start : start + 48]) for start in range(0, 480, 48)}) == 10


@pytest.mark.parametrize("choruses", [2, 3, 8, 20, 100])
def test_the_last_chorus_is_the_last(choruses: int) -> None:
    """It rises above the chorus before; the choruses before do not know about it."""
    for seed in SEEDS:
        before, last = (
            energy_of(seed, choruses - 1, is_last=False),
            energy_of(seed, choruses, is_last=True),
        )
        assert last > before or last == 1.0


def contexts(text: str, **settings: object) -> list[object]:
    """Return what the players see of all bars."""
    performance = Performance(read_chart(text), Settings(**settings))  # type: ignore[arg-type]
    return [performance.context(number) for number in range(performance.length)]


def test_last_time_changes_nothing_before() -> None:
    """A performance that ends after four choruses begins as one without an end."""
    ends = contexts(BLUES, choruses=4, seed=3)
    goes_on = contexts(BLUES, choruses=MOST_CHORUSES, seed=3)[: 3 * 12]
    assert [(e.energy, e.plan, e.variation) for e in ends[: 3 * 12 - 1]] == [
        (e.energy, e.plan, e.variation) for e in goes_on[: 3 * 12 - 1]
    ]


def test_a_loop_is_practised_at_one_level() -> None:
    """Rounds of a loop have the same energy."""
    found = contexts(SONG, choruses=30, loop=(0, 3))
    assert len({each.energy for each in found}) == 1


def test_phrases_have_plans() -> None:
    """A plan holds for a phrase; answers are at its end; the drums lay out in few phrases."""
    found = [each for seed in range(8) for each in contexts(SONG, choruses=24, seed=seed)]
    drums_out = [Player.DRUMS in each.plan.lays_out for each in found]
    assert 0 < sum(drums_out) / len(found) < 0.15
    for each in found:
        if each.plan.answers and not each.fill:
            index = each.sequenced.index % PHRASE_BARS
            assert index == PHRASE_BARS - 1 or each.sequenced.is_part_end
        assert all(0 <= tick < each.ticks for tick in each.plan.accents)
        assert not each.plan.lays_out or each.plan.is_thin
    answered = {each.plan.answers for each in found}
    assert answered == {None, Player.BASS, Player.CHOP, Player.DRUMS}
