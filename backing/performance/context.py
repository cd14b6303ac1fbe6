"""Makes what the players see of every bar: chords, loudness, drum groove and fill."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from typing import TYPE_CHECKING

from backing.band import arrange
from backing.band.arc import EVEN, energy_of
from backing.band.context import BarContext, harmony_of, level_at
from backing.band.fills import fill_of
from backing.band.plan import LOUDEST, PHRASE_BARS, Plan, accented, accents_of, plan_of
from backing.notes import Player

if TYPE_CHECKING:
    from backing.band.context import SoundingChord
    from backing.band.fills import Fill
    from backing.band.voicing import Voicings
    from backing.chart.sequence import SequencedBar
    from backing.performance.arrangement import Arrangement
    from backing.style.model import ChopPattern, Lanes, Style

_KEPT = 128

_FADED_BARS, _SOFTEST = 8, 0.08
"""Most bars of a fade, and the least share of loudness in it."""


class Contexts:
    """The bars of a performance as the players see them.

    Attributes:
        seed: the seed of all chance.
        voicings: the shapes of the chop.

    Args:
        arrangement: how the chart is performed.
        start: the start of the first bar, in ticks from the start of the performance.
        voicings: the shapes of the chop.

    """

    def __init__(self, arrangement: Arrangement, start: int, voicings: Voicings) -> None:
        self.seed = arrangement.settings.seed
        self.voicings = voicings
        self._arrangement = arrangement
        self._start = start
        self._bridge = arrange.bridge_of(arrangement.chart)
        self._contexts: OrderedDict[int, BarContext] = OrderedDict()
        self._harmonies: dict[tuple[int, int, int], tuple[SoundingChord, ...]] = {}

    def context(self, number: int) -> BarContext | None:
        """Return a bar after the count-in by its number, or None outside the performance."""
        found = self._contexts.get(number)
        if found is None and 0 <= number < self._arrangement.length:
            found = self._contexts[number] = self._make(number)
            if len(self._contexts) > _KEPT:
                self._contexts.popitem(last=False)
        return found

    def _make(self, number: int) -> BarContext:
        arrangement = self._arrangement
        chorus, step = arrangement.route.locate(number)
        sequenced = arrangement.bar(number)
        style = arrangement.style_of(sequenced)
        energy, address = self._energy(chorus), (self.seed, chorus, step)
        variation = arrange.variation_of(
            style,
            arrangement.chart,
            sequenced,
            energy,
            is_first=chorus == 1,
            is_last=self._is_last(chorus),
        )
        bpm = arrangement.bpm_at(sequenced)
        plan = self._plan(sequenced, address, energy)
        groove = arrange.groove_of(
            style, variation, sequenced, address, bpm=bpm, energy=energy, answers=plan.answers
        )
        pattern = arrange.pattern_of(style, variation, sequenced, address)
        fill = self._fill(number, style)
        plan = plan._replace(
            accents=self._accents(sequenced, address, energy, pattern, groove),
            answers=Player.DRUMS if fill else plan.answers,
        )
        harmony = arrangement.ending.changed(number, self._harmony(number))
        levels = self._levels(number, energy)
        return BarContext(
            number=number,
            start=self._start + arrangement.route.tick(number),
            chorus=chorus,
            step=step,
            sequenced=sequenced,
            style=style,
            bpm=bpm,
            harmony=harmony,
            levels=accented(levels, plan),
            variation=variation,
            energy=energy,
            plan=plan,
            pattern=pattern,
            groove=groove,
            fill=fill,
            is_top=arrangement.route.is_top(number),
            is_end=arrangement.ending.begins(number),
            hit_levels=self._hit_levels(number, harmony, levels),
        )

    def _is_last(self, chorus: int) -> bool:
        """Whether a chorus is the last of several."""
        return 1 < self._arrangement.settings.choruses == chorus

    def _energy(self, chorus: int) -> float:
        settings = self._arrangement.settings
        if settings.choruses == 1 or settings.loop:
            return EVEN
        return energy_of(self.seed, chorus, is_last=self._is_last(chorus))

    def _plan(self, sequenced: SequencedBar, address: tuple[int, int, int], energy: float) -> Plan:
        """Return what the players agree on for a bar, still without accents."""
        if sequenced.bar.pickup:
            return Plan()
        ends = sequenced.is_part_end or sequenced.index % PHRASE_BARS == PHRASE_BARS - 1
        return plan_of(*address, sequenced.index, energy=energy, ends_phrase=ends)

    def _accents(
        self,
        sequenced: SequencedBar,
        address: tuple[int, int, int],
        energy: float,
        pattern: ChopPattern,
        groove: Lanes,
    ) -> tuple[int, ...]:
        """Return what everybody strikes firmly, from the off-beats of chop and kick."""
        bar, meter = sequenced.bar, sequenced.meter

        def figures() -> set[int]:
            kick = [hits for lane, hits in groove if lane == "kick"]
            chop = pattern.grid.within(0, bar.ticks, sequenced.index * meter.bar_ticks)
            ticks = [tick for hits in (chop, *kick) for tick, _ in hits]
            return {tick for tick in ticks if tick % meter.beat_ticks and tick < bar.ticks}

        return () if bar.pickup else accents_of(*address, energy=energy, figures=figures)

    def _harmony(self, number: int) -> tuple[SoundingChord, ...]:
        """Return the chords of a bar without the ending, cached by the bars around it."""
        bar = self._arrangement.bar(number).bar
        before = self._arrangement.bar(number - 1).bar if number else None
        following = self._following(number)
        following_bar = following.bar if following else None
        key = (id(before), id(bar), id(following_bar))  # the arrangement keeps the bars alive
        if key not in self._harmonies:
            self._harmonies[key] = self._with_own_hit(
                number, harmony_of(before, bar, following_bar)
            )
        return self._harmonies[key]

    def _with_own_hit(
        self, number: int, harmony: tuple[SoundingChord, ...]
    ) -> tuple[SoundingChord, ...]:
        """Return the chords of a bar with the hit of a kick-off or an ending."""
        hit, joined = self._arrangement.own_hit(number), self._arrangement.bar(number).joined
        if hit is None:
            return harmony
        own = joined.own if joined else len(harmony)
        return tuple(
            replace(each, hit=hit) if each.span < own and not each.in_next_bar else each
            for each in harmony
        )

    def _following(self, number: int) -> SequencedBar | None:
        is_last = number + 1 >= self._arrangement.length
        return None if is_last else self._arrangement.bar(number + 1)

    def _levels(self, number: int, energy: float) -> arrange.Levels:
        """Return the loudness of a bar, with dynamics and a fade."""
        arrangement = self._arrangement
        sequenced = arrangement.bar(number)
        written = sequenced if number < arrangement.route.bars else arrangement.route.last
        dynamics = arrange.dynamics(
            sequenced,
            is_bridge=arrange.part_of(written) == self._bridge,
            energy=energy,
        )
        levels = arrangement.route.levels(number)
        if arrangement.ends_with("fade"):
            levels = self._faded(number, levels)
        return tuple((tick, level * dynamics) for tick, level in levels)

    def _faded(self, number: int, levels: arrange.Levels) -> arrange.Levels:
        """Return the loudness of a bar with a fade over the last bars, in steps of a beat."""
        sequenced = self._arrangement.bar(number)
        bars, left = self._faded_bars, self._arrangement.route.bars - number
        if left > bars:
            return levels
        ticks = sequenced.bar.ticks
        fade = tuple(
            (tick, max((left - tick / ticks) / bars, _SOFTEST))
            for tick in range(0, ticks, sequenced.meter.beat_ticks)
        )
        return tuple(
            (tick, level_at(levels, tick) * level_at(fade, tick))
            for tick in sorted({tick for tick, _ in (*levels, *fade)})
        )

    @property
    def _faded_bars(self) -> int:
        """Number of bars of a fade: the last chorus, at most eight."""
        last = self._arrangement.route.sequence_of(self._arrangement.settings.choruses)
        return min(_FADED_BARS, sum(not each.is_intro for each in last))

    def _hit_levels(
        self, number: int, harmony: tuple[SoundingChord, ...], levels: arrange.Levels
    ) -> tuple[tuple[int, float], ...]:
        """Return the hits of the whole band, as pairs of (tick, factor on velocity)."""
        arrangement, last = self._arrangement, self._arrangement.ending.last
        comes_to_rest = arrangement.ending_kind == "ritard" and last and last.hit and last.hit.rings
        rests = (last,) if comes_to_rest else ()
        return tuple(
            (each.tick, level_at(levels, each.tick) * self._swell(number, each.tick) * LOUDEST)
            for each in harmony
            if each.is_hit and each not in rests
        )

    def _swell(self, number: int, tick: int) -> float:
        """Return the loudness of the loudest bar of a tick's part, divided by the tick's own."""
        arrangement = self._arrangement
        level = level_at(arrangement.route.levels(number), tick)
        return arrange.swell(arrangement.bar(number), level, arrangement.route.peaks(number))

    def _fill(self, number: int, style: Style) -> Fill | None:
        arrangement = self._arrangement
        if arrangement.own_hit(number) or (
            arrangement.ending.last and number >= arrangement.ending.bar
        ):
            return None
        chorus, step = arrangement.route.locate(number)
        return fill_of(
            style,
            arrangement.bar(number),
            self._following(number),
            ends=arrangement.ending.begins_on_one(number + 1),
            chorus_bars=arrangement.route.length_of(chorus),
            address=(self.seed, chorus, step),
            energy=self._energy(chorus),
        )
