"""Bass lines aim: none comes back soon, leaps are answered, the register follows the energy.

That players vary a line from chorus to chorus, answer a leap by going back, build over the choruses
and play with the drummer is common practice, no source; bounds are ours.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from listening import share
from test_bass_harmony import AABA, chart_for

from backing.band.bass import Bass
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import all_styles, find_style

if TYPE_CHECKING:
    from backing.band.context import BarContext, Stroke

STYLES = [style.name for style in all_styles()[0]]
SOME = ["swing", "two-beat", "jazz-waltz", "bossa-nova", "shuffle", "jig"]
BLUES = (
    "form: A\n[A] 12\n| F7 | Bb7 | F7 | F7 | Bb7 | Bdim7 | F7 | D7 | Gm7 | C7 | {F7 D7} |"
    " {Gm7 C7} |\n"
)
CHORUSES = 32


class Line:
    """The bass of a performance: its bars and their strokes."""

    def __init__(self, name: str, text: str, seed: int, choruses: int = CHORUSES) -> None:
        settings = Settings(style=name, seed=seed, choruses=choruses, looseness=0.0)
        performance = Performance(chart_for(text, find_style(name), "F"), settings)
        bass = Bass(performance.contexts)
        self.bars: list[tuple[BarContext, list[Stroke]]] = []
        for number in range(performance.length):
            context = performance.context(number)
            assert context
            self.bars.append((context, bass.play(context)))

    @property
    def pitches(self) -> list[int]:
        """The keys in order; a note that is repeated counts once."""
        every = [each.pitch for _, strokes in self.bars for each in strokes]
        return every[:1] + [after for before, after in pairwise(every) if after != before]

    @property
    def of_the_tune(self) -> list[tuple[BarContext, list[Stroke]]]:
        """The bars that no ending changes."""
        return [(context, strokes) for context, strokes in self.bars if not context.is_end]


@pytest.mark.parametrize("text", [AABA, BLUES])
@pytest.mark.parametrize("name", STYLES)
def test_no_line_comes_back(name: str, text: str) -> None:
    """No four bars from the start of a phrase come back at the same place in 32 choruses."""
    line = Line(name, text, seed=5 + len(name))
    seen: set[object] = set()
    bars = line.of_the_tune
    for index, (context, _) in enumerate(bars):
        four = bars[index : index + 4]
        if context.sequenced.index % 4 or len(four) < 4:
            continue
        notes = tuple(tuple((each.tick, each.pitch) for each in strokes) for _, strokes in four)
        assert (context.step, notes) not in seen
        seen.add((context.step, notes))
    assert len(seen) >= 90


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("text", [AABA, BLUES])
def test_no_walk_comes_back_anywhere(text: str, seed: int) -> None:
    """No four bars of a walk come back in the same bars, wherever they start."""
    bars = Line("swing", text, seed).of_the_tune
    seen: set[object] = set()
    for index, (context, _) in enumerate(bars[:-3]):
        four = (
            context.step,
            tuple(
                tuple((each.tick, each.pitch) for each in strokes)
                for _, strokes in bars[index : index + 4]
            ),
        )
        assert four not in seen
        seen.add(four)
    assert len(seen) > 380


@pytest.mark.parametrize("name", SOME)
def test_leaps_are_answered(name: str) -> None:
    """After a minor sixth or more the next other note goes back, in 80 % of leaps or more.

    Where a riding line climbs its figure and falls to the next root, 65 %.
    """
    answered = []
    for seed in (1, 2):
        for text in (AABA, BLUES):
            pitches = Line(name, text, seed, choruses=10).pitches
            for before, here, after in zip(pitches, pitches[1:], pitches[2:], strict=False):
                if abs(here - before) >= 8:
                    answered.append((after > here) != (here > before))
    assert len(answered) > 20
    assert share(answered) >= (0.65 if name == "shuffle" else 0.80)


@pytest.mark.parametrize("name", SOME)
def test_register_follows_the_energy(name: str) -> None:
    """At the peak the bass plays 3 semitones higher or more than where the band holds back."""
    low, high = [], []
    for seed in (1, 2, 3):
        for context, strokes in Line(name, BLUES, seed).of_the_tune:
            keys = low if context.energy < 0.3 else high if context.energy > 0.75 else []
            keys += [each.pitch for each in strokes]
    assert min(len(low), len(high)) > 100
    assert sum(high) / len(high) - sum(low) / len(low) >= 3
    least, most = find_style(name).bass.range
    assert least <= min(low) <= max(high) <= most


@pytest.mark.parametrize("name", ["swing", "western-swing", "la-pompe"])
def test_a_walk_goes_up_the_neck(name: str) -> None:
    """At the peak one note in twenty or more lies above D3, held back hardly one."""
    shares = []
    for is_peak in (False, True):
        above = [
            each.pitch > 50
            for seed in (1, 2, 3)
            for context, strokes in Line(name, AABA, seed, choruses=12).of_the_tune
            if (context.energy > 0.75)
            if is_peak or context.energy < 0.3
            if (context.energy > 0.75) == is_peak
            for each in strokes
        ]
        shares.append(share(above) if above else 0.0)
    assert shares[0] <= 0.02
    assert shares[1] >= 0.05


@pytest.mark.parametrize("name", SOME)
def test_phrases_have_a_contour(name: str) -> None:
    """The bars of a phrase lie apart: by 4 semitones or more in most phrases."""
    spreads = []
    for seed in (1, 2):
        bars = Line(name, AABA, seed, choruses=6).of_the_tune
        for index in range(0, len(bars) - 3, 4):
            means = [
                sum(each.pitch for each in strokes) / len(strokes)
                for _, strokes in bars[index : index + 4]
                if strokes
            ]
            spreads.append(max(means) - min(means))
    assert share([each >= 4 for each in spreads]) >= 0.7


@pytest.mark.parametrize("name", STYLES)
def test_a_thin_phrase_is_thin(name: str) -> None:
    """Where everybody plays less, the bass has fewer notes a bar than elsewhere."""
    thin, full = [], []
    for seed in (1, 2, 3, 4):
        for context, strokes in Line(name, AABA, seed, choruses=12).of_the_tune:
            (thin if context.plan.is_thin else full).append(len(strokes))
    assert len(thin) > 20
    assert sum(thin) / len(thin) <= 0.9 * sum(full) / len(full)


@pytest.mark.parametrize("name", ["swing", "two-beat", "shuffle", "train-beat"])
def test_takes_up_the_kick(name: str) -> None:
    """The bass plays more of the kick's off-beats in the phrases in which it takes them up."""
    shares = {}
    for takes_up in (False, True):
        found = []
        for seed in range(1, 7):
            for context, strokes in Line(name, AABA, seed, choruses=8).of_the_tune:
                plan = context.plan
                if plan.takes_up != takes_up or plan.is_thin or plan.answers or context.fill:
                    continue
                struck = {each.tick for each in strokes}
                found += [tick in struck for tick in kicks_of(context) if tick not in plan.accents]
        shares[takes_up] = share(found)
    always = find_style(name).bass.with_kick
    assert shares[True] >= 0.3
    assert always or shares[True] >= 2 * shares[False]


def kicks_of(context: BarContext) -> list[int]:
    """Return the ticks of the kick's off-beats in a bar."""
    kicks = (hits for lane, hits in context.groove if lane == "kick")
    return sorted({tick for hits in kicks for tick, _ in hits if tick % 960})


def test_accents_are_struck() -> None:
    """In swing the bass strikes two thirds or more of the accents that all players have."""
    found = [
        any(each.tick == tick for each in strokes)
        for seed in range(1, 7)
        for context, strokes in Line("swing", AABA, seed, choruses=6).of_the_tune
        for tick in context.plan.accents
    ]
    assert len(found) > 100
    assert share(found) >= 0.66


@pytest.mark.parametrize("name", ["swing", "two-beat", "bossa-nova"])
def test_the_bass_answers(name: str) -> None:
    """At the end of a phrase the bass plays most when it answers, least when others do."""
    means = []
    for who in (Player.BASS, Player.DRUMS):
        counts = [
            len(strokes)
            for seed in range(1, 9)
            for context, strokes in Line(name, AABA, seed, choruses=8).of_the_tune
            if context.plan.answers is who and not context.plan.is_thin
            if not context.sequenced.is_part_end
        ]
        assert len(counts) > 10
        means.append(sum(counts) / len(counts))
    assert means[0] >= means[1] + 0.8


@pytest.mark.parametrize("name", ["swing", "two-beat", "shuffle"])
def test_the_bass_grows_into_a_fill(name: str) -> None:
    """The last note of a bar with a fill is no softer than a plain one, mostly."""
    louder = []
    for seed in range(1, 9):
        for context, strokes in Line(name, AABA, seed, choruses=4).of_the_tune:
            if not context.fill or context.plan.is_thin or context.fill.ticks >= context.ticks:
                continue
            start = context.ticks - context.fill.ticks
            before = [
                each.velocity for each in strokes if each.tick < start and not each.tick % 960
            ]
            after = [each.velocity for each in strokes if each.tick > start and not each.tick % 960]
            if before and after:
                louder.append(after[-1] - context.style.bass.velocity[1] >= 0)
    assert len(louder) > 10
    assert share(louder) >= 0.7


@pytest.mark.parametrize("name", ["two-beat", "bluegrass"])
def test_notes_in_two_have_many_lengths(name: str) -> None:
    """In two, the notes that fill half a bar last from a damped to a held-over one."""
    lengths = [
        each.ticks
        for _, strokes in Line(name, AABA, 3, choruses=3).of_the_tune
        for each in strokes
        if not each.tick % 1920
    ]
    ranked = sorted(lengths)
    assert len(set(lengths)) >= 8
    assert ranked[len(ranked) // 20] <= 0.75 * 1920
    assert ranked[-len(ranked) // 20] >= 0.9 * 1920


def test_any_phrase_can_be_made_alone() -> None:
    """A bar of a late chorus is the same whether or not the ones before were made."""
    settings = Settings(style="two-beat", seed=9, choruses=40, looseness=0.0)
    chart = chart_for(AABA, find_style("two-beat"), "F")
    line = Line("two-beat", AABA, 9, choruses=40)
    for number in (1000, 37, 613):
        performance = Performance(chart, settings)
        context = performance.context(number)
        assert context
        assert Bass(performance.contexts).play(context) == line.bars[number][1]
