"""What the players see of every bar: its chords, how loud it is, how the drums keep time."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from typing import TYPE_CHECKING

from backing.band import arrange
from backing.band.context import BarContext, harmony_of, level_at

if TYPE_CHECKING:
    from backing.band.context import Sounding
    from backing.band.voicing import Voicings
    from backing.chart.sequence import SequencedBar
    from backing.performance.arrangement import Arrangement
    from backing.style.model import DrumGroove, Style

_KEPT = 128

_FADED_BARS, _SOFTEST = 8, 0.08
"""The most bars over which a fade grows softer, and the share of loudness left at its end."""


class Contexts:
    """The bars of a performance as its players see them.

    Attributes:
        seed: the seed of every choice.
        voicings: the shapes of the chop.

    Args:
        arrangement: what is played.
        start: where the first bar begins, in ticks from the start of the performance.
        voicings: the shapes of the chop.

    """

    def __init__(self, arrangement: Arrangement, start: int, voicings: Voicings) -> None:
        self.seed = arrangement.settings.seed
        self.voicings = voicings
        self._arrangement = arrangement
        self._start = start
        self._bridge = arrange.bridge_of(arrangement.chart)
        self._places: OrderedDict[int, BarContext] = OrderedDict()
        self._harmonies: dict[tuple[int, int, int], tuple[Sounding, ...]] = {}

    def place(self, number: int) -> BarContext | None:
        """Return any bar after the count-in by its number, or None outside the performance."""
        if not 0 <= number < self._arrangement.length:
            return None
        if number not in self._places:
            self._places[number] = self._make(number)
            if len(self._places) > _KEPT:
                self._places.popitem(last=False)
        return self._places[number]

    def _make(self, number: int) -> BarContext:
        form = self._arrangement
        chorus, step = form.route.locate(number)
        sequenced = form.bar(number)
        style = form.style_of(sequenced)
        variation = arrange.variation_of(
            style, form.chart, sequenced, chorus, form.settings.choruses
        )
        harmony = form.ending.changed(number, self._harmony(number))
        levels = self._levels(number)
        return BarContext(
            number=number,
            start=self._start + form.route.tick(number),
            chorus=chorus,
            step=step,
            sequenced=sequenced,
            style=style,
            bpm=form.bpm_at(sequenced),
            harmony=harmony,
            levels=levels,
            variation=variation,
            groove=arrange.groove_of(style, variation, sequenced, (self.seed, chorus, step)),
            fill=self._fill(number, style),
            is_top=form.route.is_top(number),
            is_end=form.ending.begins(number),
            accents=self._accents(number, harmony, levels),
        )

    def _harmony(self, number: int) -> tuple[Sounding, ...]:
        """Return what sounds in a bar before the ending changes it, the same for the same bars."""
        bar = self._arrangement.bar(number).bar
        before = self._arrangement.bar(number - 1).bar if number else None
        following = self._following(number)
        behind = following.bar if following else None
        key = (id(before), id(bar), id(behind))  # the bars live as long as we do
        if key not in self._harmonies:
            self._harmonies[key] = self._with_own_hit(number, harmony_of(before, bar, behind))
        return self._harmonies[key]

    def _with_own_hit(self, number: int, harmony: tuple[Sounding, ...]) -> tuple[Sounding, ...]:
        """Return what sounds in a bar with the hit of a kick-off or an ending."""
        hit, joined = self._arrangement.own_hit(number), self._arrangement.bar(number).joined
        if hit is None:
            return harmony
        own = joined.own if joined else len(harmony)
        return tuple(
            replace(each, hit=hit) if each.span < own and not each.is_coming else each
            for each in harmony
        )

    def _following(self, number: int) -> SequencedBar | None:
        is_last = number + 1 >= self._arrangement.length
        return None if is_last else self._arrangement.bar(number + 1)

    def _levels(self, number: int) -> arrange.Levels:
        """Return the loudness of a bar over the whole performance."""
        form = self._arrangement
        sequenced, (chorus, _) = form.bar(number), form.route.locate(number)
        written = sequenced if number < form.route.bars else form.route.last
        dynamics = arrange.dynamics(
            sequenced,
            is_bridge=arrange.part_of(written) == self._bridge,
            chorus=chorus,
            choruses=form.settings.choruses,
        )
        levels = form.route.levels(number)
        if form.ends_with("fade"):
            levels = self._faded(number, levels)
        return tuple((tick, level * dynamics) for tick, level in levels)

    def _faded(self, number: int, levels: arrange.Levels) -> arrange.Levels:
        """Return the loudness of a bar with a fade over the last bars, beat by beat."""
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
        """How many bars a fade takes: those of the last chorus, at most eight."""
        last = self._arrangement.route.sequence_of(self._arrangement.settings.choruses)
        return min(_FADED_BARS, sum(not each.is_intro for each in last))

    def _accents(
        self, number: int, harmony: tuple[Sounding, ...], levels: arrange.Levels
    ) -> tuple[tuple[int, float], ...]:
        """Return where the whole band hits, as pairs of (tick, factor on velocity)."""
        form, last = self._arrangement, self._arrangement.ending.last
        comes_to_rest = form.ending_kind == "ritard" and last and last.hit and last.hit.rings
        rests = (last,) if comes_to_rest else ()
        return tuple(
            (each.tick, level_at(levels, each.tick) * self._swell(number, each.tick))
            for each in harmony
            if each.is_hit and each not in rests
        )

    def _swell(self, number: int, tick: int) -> float:
        """Return the factor on velocity from a tick to the loudest bar of its part."""
        form = self._arrangement
        level = level_at(form.route.levels(number), tick)
        return arrange.swell(form.bar(number), level, form.route.peaks(number))

    def _fill(self, number: int, style: Style) -> DrumGroove | None:
        form = self._arrangement
        if form.own_hit(number) or (form.ending.last and number >= form.ending.bar):
            return None
        chorus, step = form.route.locate(number)
        return arrange.fill_of(
            style,
            form.bar(number),
            self._following(number),
            ends=form.ending.begins_on_one(number + 1),
            round_bars=form.route.length_of(chorus),
            address=(self.seed, chorus, step),
        )
