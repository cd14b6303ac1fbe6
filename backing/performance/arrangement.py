"""The arrangement: bars, styles, tempi and ending, decided from the chart and the settings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.band.ending import ending_kind, ending_of
from backing.band.hits import KICK_OFF_HIT, LAST_SHORT
from backing.band.route import Route
from backing.chart.grooves import usual_style
from backing.chart.model import KICK_OFF
from backing.chart.sequence import has_closing_part, length_in_bars
from backing.errors import SettingsError
from backing.notes import Player
from backing.style.library import all_styles, find_style, requested_style
from backing.timing import FASTEST_BPM, QUARTER, SLOWEST_BPM, Tempo, bare_number, notes_a_minute

if TYPE_CHECKING:
    from backing.band.hits import Hit
    from backing.chart.model import Chart
    from backing.chart.sequence import SequencedBar
    from backing.performance.settings import Settings
    from backing.style.model import Style


class Arrangement:
    """How a chart is performed.

    Attributes:
        chart: the chart.
        settings: the settings.
        style: the style of parts that have none of their own.
        bpm: the tempo of parts that have none of their own, in quarter notes a minute.
        ending_kind: one of `ENDINGS`.
        route: the bars of all choruses.
        ending: the end of the performance.

    Raises:
        SettingsError: if the settings do not fit the chart.

    """

    def __init__(self, chart: Chart, settings: Settings) -> None:
        self.chart = chart
        self.settings = settings
        if settings.style:
            self.style = requested_style(settings.style)
        else:
            self.style = find_style(chart.style or usual_style(chart.meter))
        named = self.style if settings.style or chart.style else None
        self._part_styles = _part_styles(chart, named)
        self._check_players()
        self._own_bpm = chart.tempo.quarter_bpm if chart.tempo else self.style.usual_bpm
        self.bpm = settings.bpm or self._own_bpm
        self.ending_kind = ending_kind(chart, self.style, live=settings.live)
        has_tag = self.ending_kind == "tag"
        self.route = Route(chart, settings.choruses, settings.loop, has_tag=has_tag)
        self.ending = ending_of(chart, self.ending_kind, self.route, self.bpm_at)

    @property
    def length(self) -> int:
        """Number of bars after the count-in, including a pickup and the ending."""
        return self.route.bars + len(self.ending.extra)

    @property
    def players(self) -> frozenset[Player]:
        """Who may play; the lead only where there is a melody."""
        absent = frozenset() if self.chart.melody else frozenset({Player.LEAD})
        return self.settings.players - absent

    def bar(self, number: int) -> SequencedBar:
        """Return a bar of the choruses or the ending by its number, from 0."""
        extra = number - self.route.bars
        return self.ending.extra[extra] if extra >= 0 else self.route.sequenced_bar(number)

    def own_hit(self, number: int) -> Hit | None:
        """Return the band's own hit in a bar of the kick-off or the ending, or None."""
        if number >= self.route.bars:
            return LAST_SHORT
        is_kick_off = self.chart.intro == KICK_OFF and self.bar(number).is_intro
        return KICK_OFF_HIT if is_kick_off else None

    def ends_with(self, kind: str) -> bool:
        """Whether the performance has an ending of this kind; a loop has none."""
        return self.ending_kind == kind and not self.settings.loop

    def style_of(self, sequenced: SequencedBar) -> Style:
        """Return the style in which a bar is played."""
        return self._part_styles.get(sequenced.part, self.style)

    def bpm_at(self, sequenced: SequencedBar) -> float:
        """Return the tempo of a bar in quarter notes a minute, without a ritard."""
        if sequenced.tempo is None:
            return self.bpm
        bpm = sequenced.tempo.quarter_bpm * self.bpm / self._own_bpm
        return min(max(bpm, SLOWEST_BPM), FASTEST_BPM)

    def _check_players(self) -> None:
        """Raise a SettingsError if nobody plays in the styles of the chart."""
        if not self.players:
            raise SettingsError(
                "nobody plays: the lead has no melody, since the chart names none in a line "
                "'melody:'; leave at least one of bass, chop and drums in"
            )
        called = self.settings.called
        styles = {self._part_styles.get(name, self.style) for name in self.chart.order}
        silent = {style.name for style in styles if not self.players - (style.sits_out - called)}
        if len(silent) == len(styles):
            idle = sorted(set.union(*(set(style.sits_out) for style in styles)))
            raise SettingsError(
                f"nobody would be heard: in {' and '.join(sorted(silent))} {' and '.join(idle)} "
                f"only play when called; call them, --with {','.join(idle)}, or leave others in"
            )

    def remarks(self) -> tuple[str, ...]:
        """Return remarks on settings that are valid but unusual, such as tempi out of range."""
        tempi = {self._counted(each) for _, sequence in self.route.rounds() for each in sequence}
        remarks = [
            _unusual(style, Tempo.counted(bpm, unit))
            for style, unit, bpm in sorted(tempi, key=lambda each: (each[0].name, *each[1:]))
            if not style.slowest_bpm <= bpm <= style.fastest_bpm
        ]
        bars = length_in_bars(self.chart)
        if isinstance(self.chart.intro, int) and self.chart.intro > bars:
            remarks.append(
                f"the intro asks for the last {self.chart.intro} bars; the form has {bars}"
            )
        if self.chart.ending == "tag" and has_closing_part(self.chart):
            remarks.append(
                f"the part {self.chart.order[-1]} is played as the tag: 'ending: tag' adds no bars"
            )
        return tuple(remarks)

    def _counted(self, sequenced: SequencedBar) -> tuple[Style, str, float]:
        """Return the style of a bar, the note value that its tempo counts, and its tempo in bpm."""
        unit = sequenced.tempo.unit if sequenced.tempo else self.chart.tempo_unit
        return self.style_of(sequenced), unit, self.bpm_at(sequenced)


def _unusual(style: Style, tempo: Tempo) -> str:
    """Return the remark on a tempo outside a style's range, in the tempo's unit."""
    slow, fast = (
        Tempo.counted(bpm, tempo.unit).figure for bpm in (style.slowest_bpm, style.fastest_bpm)
    )
    remark = (
        f"{style.name} is usually {slow}-{fast} {notes_a_minute(tempo.unit)}; "
        f"this is {tempo.figure}"
    )
    would_do = tempo.unit != QUARTER and style.slowest_bpm <= tempo.bpm <= style.fastest_bpm
    return f"{remark}: {bare_number(tempo)}" if would_do else remark


def _part_styles(chart: Chart, named: Style | None) -> dict[str, Style]:
    """Return the style of every part: its own, the named one, or the usual one of its meter.

    Raises:
        SettingsError: if a style does not play its part's meter.

    """
    found = {}
    for name in dict.fromkeys(chart.order):
        part = chart.part(name)
        meter = part.meter or chart.meter
        style = find_style(part.style or usual_style(meter)) if part.style or not named else named
        if meter not in style.meters:
            fits = [each.name for each in all_styles()[0] if meter in each.meters]
            raise SettingsError(
                f"the style {style.name} is played in {' or '.join(map(str, style.meters))}, "
                f"part {name} is in {meter}: "
                + (f"choose from {', '.join(fits)}" if fits else f"no style here plays {meter} yet")
            )
        found[name] = style
    return found
