"""Plan the files of a pack and their names.

Conventions: each key has a folder with its sheet, MIDI file and recordings. A name has the tune,
the key, the kind and the tempo, so that it says enough outside its folder. Names consist of
letters, digits and hyphens.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from backing.chart.selection import part_name
from backing.chart.transpose import in_key
from backing.notes import Player
from backing.packs.settings import usual_tempi
from backing.performance.ladder import practice_rungs
from backing.performance.performance import Performance

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.harmony.key import Key
    from backing.packs.settings import PackSettings
    from backing.timing import Tempo, WrittenTempo

_LONGEST_NAME = 50
"""Bytes of a part of a name."""

_SIGNS = {"#": "-sharp", "b": "-flat"}


class PieceKind(StrEnum):
    """A kind of file of a pack."""

    SHEET = "sheet"
    MIDI = "midi"
    WHOLE = "whole"
    PART = "part"
    LADDER = "ladder"


@dataclass(frozen=True, slots=True)
class Piece:
    """A file of a pack.

    Attributes:
        name: its path in the pack, with slashes.
        kind: its kind.
        key: its key, as written in charts.
        tempi: the tempi in quarter notes a minute: of each chorus of a ladder; of a sheet, the
            practice tempi; else one.
        part: the part that is looped, or "".
        without: the player who is left out, or None.
    """

    name: str
    kind: PieceKind
    key: str
    tempi: tuple[float, ...]
    part: str = ""
    without: Player | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan of a pack.

    Attributes:
        source: the file of the chart.
        chart: the chart.
        request: the settings.
        tempi: the tempi as the chart counts them, ascending.
        keys: the keys, as written in charts.
        pieces: its files except the page and the manifest.
    """

    source: str
    chart: Chart
    request: PackSettings
    tempi: tuple[Tempo, ...]
    keys: tuple[str, ...]
    pieces: tuple[Piece, ...]


def plan(source: str, chart: Chart, request: PackSettings) -> Plan:
    """Return the plan of the pack of a chart.

    Raises:
        SettingsError: when a key or a part is not valid, or nobody plays.
    """
    performance = Performance(chart, request.settings)
    tempi = _tempi(chart, request.tempi) or usual_tempi(chart.counted(performance.bpm))
    keys = tuple(dict.fromkeys(in_key(chart, each).key for each in request.keys)) or (chart.key,)
    parts = _parts(chart, request.parts)
    pieces = [piece for key in keys for piece in _pieces(chart, key, tempi, parts, request)]
    return Plan(
        source=source,
        chart=chart,
        request=request,
        tempi=tempi,
        keys=tuple(str(key) for key in keys),
        pieces=_with_unique_names(pieces),
    )


def _tempi(chart: Chart, written: tuple[WrittenTempo, ...]) -> tuple[Tempo, ...]:
    """Return the tempi as the chart counts them, each once, ascending."""
    return tuple(chart.counted(bpm) for bpm in sorted(set(map(chart.quarter_bpm, written))))


def _parts(chart: Chart, names: tuple[str, ...] | None) -> tuple[str, ...]:
    if names is None:
        return tuple(dict.fromkeys(chart.order))
    return tuple(dict.fromkeys(part_name(chart, each) for each in names))


def _pieces(
    chart: Chart, key: Key, tempi: tuple[Tempo, ...], parts: tuple[str, ...], request: PackSettings
) -> list[Piece]:
    tonic, ending = str(key), request.ending
    stem = f"{slug(tonic, signs=True)}/{slug(chart.title)}-{slug(tonic, signs=True)}"
    at = [(each.quarter_bpm, each.figure.replace(".", "-")) for each in tempi]
    bpms = tuple(bpm for bpm, _ in at)
    ladder = tuple(each.quarter_bpm for each in practice_rungs(tempi))
    pieces = [
        Piece(f"{stem}-sheet.pdf", PieceKind.SHEET, tonic, bpms),
        Piece(f"{stem}.mid", PieceKind.MIDI, tonic, bpms[-1:]),
    ]
    playing = request.settings.players - (set() if chart.melody else {Player.LEAD})
    left_out = [each for each in request.minus if each in playing and len(playing) > 1]
    for without in (None, *left_out):
        less = f"-without-{without}" if without else ""
        pieces += [
            Piece(
                f"{stem}-whole-{figure}{less}.{ending}", PieceKind.WHOLE, tonic, (bpm,), "", without
            )
            for bpm, figure in at
        ]
    if len(ladder) > 1:
        name = f"{stem}-ladder-{at[0][1]}-{at[-1][1]}.{ending}"
        pieces.append(Piece(name, PieceKind.LADDER, tonic, ladder))
    pieces += [
        Piece(f"{stem}-part-{slug(part)}-{figure}.{ending}", PieceKind.PART, tonic, (bpm,), part)
        for part in parts
        for bpm, figure in at
    ]
    return pieces


def slug(text: str, *, signs: bool = False) -> str:
    """Return a text as part of a file name: letters, digits and hyphens.

    Args:
        text: any text.
        signs: whether the text is a key, whose sharp or flat is spelled out.
    """
    if signs:
        text = text[:1] + "".join(_SIGNS.get(sign, sign) for sign in text[1:2]) + text[2:]
    kept = "".join(sign if sign.isalnum() else "-" for sign in text)
    words = "-".join(word for word in kept.split("-") if word)
    if not signs:
        words = words.lower()
    while len(words.encode()) > _LONGEST_NAME:
        words = words[:-1]
    return words.strip("-") or "tune"


def _with_unique_names(pieces: list[Piece]) -> tuple[Piece, ...]:
    """Return the pieces with numbers in names that would be equal without regard to case."""
    seen: dict[str, int] = {}
    found = []
    for piece in pieces:
        number = seen[piece.name.casefold()] = seen.get(piece.name.casefold(), 0) + 1
        stem, dot, ending = piece.name.rpartition(".")
        name = piece.name if number == 1 else f"{stem}-no-{number}{dot}{ending}"
        found.append(replace(piece, name=name))
    return tuple(found)
