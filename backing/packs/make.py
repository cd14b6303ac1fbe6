"""Make the files of a pack."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.chart.selection import bars_of
from backing.chart.transpose import in_key
from backing.out.formats import FORMATS
from backing.packs.plan import PieceKind
from backing.packs.settings import TIMES_ROUND
from backing.performance.ladder import LadderPerformance
from backing.performance.performance import Performance

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.out.midifile import Played
    from backing.packs.plan import Piece, Plan
    from backing.performance.settings import Settings


def make(plan: Plan, piece: Piece) -> bytes:
    """Return the bytes of a file of a pack.

    Raises:
        BackingError: when it cannot be made.
    """
    chart = in_key(plan.chart, piece.key).plain()
    if piece.kind is PieceKind.SHEET:
        return _sheet(chart, plan)
    played = _played(chart, piece, plan.request.settings)
    if piece.kind is PieceKind.MIDI:
        from backing.out.midifile import midi_bytes

        return midi_bytes(played)
    from backing.out.audio import sound_bytes

    request, about = plan.request, description(piece, played.chart)
    kind = FORMATS[request.ending]
    return sound_bytes(played, kind, request.sound, request.settings.seed, about)


def _played(chart: Chart, piece: Piece, settings: Settings) -> Played:
    if piece.without:
        settings = replace(settings, players=settings.players - {piece.without})
    if piece.kind is PieceKind.LADDER:
        return LadderPerformance(chart, settings, piece.tempi)
    settings = replace(settings, bpm=piece.tempi[0])
    if piece.kind is PieceKind.PART:
        loop = bars_of(chart, piece.part)
        settings = replace(settings, loop=loop, choruses=TIMES_ROUND)
    return Performance(chart, settings)


def description(piece: Piece, chart: Chart) -> str:
    """Return a description of a recording: part or whole tune, tempo, who is left out."""
    tempi = [chart.tempo_text(bpm) for bpm in piece.tempi]
    if piece.kind is PieceKind.LADDER:
        return f"ladder from {tempi[0]} to {tempi[-1]}"
    what = f"part {piece.part}, {TIMES_ROUND} times" if piece.part else "whole tune"
    return f"{what}, {tempi[0]}{f', without {piece.without}' if piece.without else ''}"


def _sheet(chart: Chart, plan: Plan) -> bytes:
    from backing.out.sheet.compose import sheet_of
    from backing.out.sheet.pages import pages_of
    from backing.out.sheet.pdf import pdf_bytes
    from backing.out.sheet.style import SheetStyle

    style, tempi = SheetStyle(), [tempo.bpm for tempo in plan.tempi]
    sheet = sheet_of(
        chart,
        plan.request.settings,
        style,
        goal=plan.tempi[-1],
        tempi=tempi,
        left=plan.request.left,
    )
    return pdf_bytes(pages_of(sheet, style), chart.title, chart.by)
