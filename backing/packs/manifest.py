"""The manifest of a pack: its files, chart, styles, seed and version.

Each file has the command that makes it.
"""

from __future__ import annotations

import json
from importlib.metadata import version
from typing import TYPE_CHECKING

from backing.packs.digest import digest_of, styles_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.packs.plan import Plan

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
