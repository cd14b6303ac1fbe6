"""Digests of everything that a file of a pack is made from, and the manifest that lists them."""

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
from backing.packs.record import file_digest
from backing.style.library import requested_style_file, style_file

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backing.packs.plan import Piece, Plan


_METHOD = 2
"""Increase it when files are made in another way from the same inputs."""


def digest_of(plan: Plan, piece: Piece) -> str:
    """Return the digest of everything that a file is made from."""
    request = plan.request
    parts: dict[str, object] = {
        "recipe": _METHOD,
        "version": version("backing"),
        "chart": write_chart(plan.chart),
        "melody": repr(plan.chart.melody),
        "piece": {**asdict(piece), "name": ""},
        "styles": [_digest(path) for path in _style_files(plan)],
        "settings": _settings(plan),
    }
    if piece.kind is PieceKind.SHEET:
        parts["left"] = request.left
    elif piece.kind is not PieceKind.MIDI:
        sound = request.sound
        parts["sound"] = [_digest(sound.font), sound.mono, sound.fade, request.ending]
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def styles_of(plan: Plan) -> list[str]:
    """Return the names of the styles that are played."""
    return sorted({path.stem for path in _style_files(plan)})


def _style_files(plan: Plan) -> list[Path]:
    """Return the files of the styles that are played."""
    chart, style = plan.chart, plan.request.settings.style
    if style:
        first = requested_style_file(style)
    else:
        first = style_file(chart.style or usual_style(chart.meter))
    own = (style_file(part.style) for part in chart.parts if part.style)
    return sorted({first, *own}, key=lambda path: path.stem)


def _settings(plan: Plan) -> list[object]:
    settings = plan.request.settings
    return [
        settings.style,
        settings.choruses,
        settings.seed,
        settings.count_in,
        settings.looseness,
        sorted(settings.players),
        sorted(settings.called),
        repr(settings.fretting),
        repr(settings.lead),
        repr(find_instrument(instrument)) if (instrument := settings.fretting.instrument) else "",
    ]


def _digest(path: Path) -> str:
    """Return the digest of a file; cached while its modification time is the same."""
    return _digest_at(path, path.stat().st_mtime_ns)


@cache
def _digest_at(path: Path, _: int) -> str:
    return file_digest(path)


MANIFEST = "manifest.json"


def manifest_of(plan: Plan, command: Callable[[str], str]) -> bytes:
    """Return the manifest of a pack as JSON in UTF-8; the same pack gives the same bytes.

    Args:
        plan: the pack.
        command: returns the shell command that makes the file of a name.
    """
    files = [
        {
            "file": piece.name,
            "kind": piece.kind,
            "key": piece.key,
            "tempi": [plan.chart.counted(bpm).bpm for bpm in piece.tempi],
            "unit": plan.chart.tempo_unit,
            "quarters_a_minute": list(piece.tempi),
            "part": piece.part or None,
            "without": piece.without,
            "made_from": digest_of(plan, piece),
            "command": command(piece.name),
        }
        for piece in plan.pieces
    ]
    manifest = {
        "chart": plan.source,
        "title": plan.chart.title,
        "styles": styles_of(plan),
        "seed": plan.request.settings.seed,
        "version": version("backing"),
        "files": files,
    }
    return (json.dumps(manifest, indent=2, ensure_ascii=False) + "\n").encode("utf-8", "replace")
