"""What a file of a pack is made from, as a digest: another one where anything of it changes."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from functools import cache
from importlib.metadata import version
from typing import TYPE_CHECKING

from backing.chart.grooves import usual_style
from backing.chart.write import write_chart
from backing.fretboard.instrument import find_instrument
from backing.packs.plan import PieceKind
from backing.style.library import requested_style_file, style_file

if TYPE_CHECKING:
    from pathlib import Path

    from backing.packs.plan import Piece, Plan

_RECIPE = 2
"""Another number where the same things are made in another way."""


def digest_of(plan: Plan, piece: Piece) -> str:
    """Return the digest of all that a file is made from."""
    wish = plan.wish
    parts: dict[str, object] = {
        "recipe": _RECIPE,
        "version": version("backing"),
        "chart": write_chart(plan.chart),
        "melody": repr(plan.chart.lead),
        "piece": {**asdict(piece), "name": ""},
        "styles": [_digest(path) for path in _style_files(plan)],
        "settings": _settings(plan),
    }
    if piece.kind is PieceKind.SHEET:
        parts["left"] = wish.left
    elif piece.kind is not PieceKind.MIDI:
        parts["sound"] = [_digest(wish.sound.font), wish.sound.mono, wish.sound.fade, wish.ending]
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def styles_of(plan: Plan) -> list[str]:
    """Return the names of the grooves that are played."""
    return sorted({path.stem for path in _style_files(plan)})


def _style_files(plan: Plan) -> list[Path]:
    """Return the files of the grooves that are played."""
    chart, wished = plan.chart, plan.wish.settings.style
    if wished:
        first = requested_style_file(wished)
    else:
        first = style_file(chart.style or usual_style(chart.meter))
    own = (style_file(part.style) for part in chart.parts if part.style)
    return sorted({first, *own}, key=lambda path: path.stem)


def _settings(plan: Plan) -> list[object]:
    wished = plan.wish.settings
    return [
        wished.style,
        wished.choruses,
        wished.seed,
        wished.count_in,
        wished.looseness,
        sorted(wished.players),
        sorted(wished.called),
        repr(wished.fretting),
        repr(wished.lead),
        repr(find_instrument(instrument)) if (instrument := wished.fretting.instrument) else "",
    ]


def _digest(path: Path) -> str:
    """Return the digest of a file that does not change while we work."""
    return _digest_at(path, path.stat().st_mtime_ns)


@cache
def _digest_at(path: Path, _: int) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
