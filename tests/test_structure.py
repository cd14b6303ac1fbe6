"""The shape of the code: folders are the flow, imports run one way, start-up is cheap."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "backing"

LAYERS = (
    ("errors", "nearest"),
    ("chance", "timing", "tables", "reading", "harmony"),
    ("notes", "chart"),
    ("fretboard",),
    ("style", "scores"),
    ("band",),
    ("performance",),
    ("out",),
    ("control", "library"),
    ("live", "packs"),
    ("stand",),
    ("cli",),
    ("__main__",),
)
"""What may import only from the layers above it, and from its own folder."""

RANK = {name: rank for rank, names in enumerate(LAYERS) for name in names}
MODULES = sorted(PACKAGE.rglob("*.py"))


def _first_name(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def _imports(path: Path) -> set[str]:
    """Return the dotted names that a module imports, anywhere in it."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module == "backing":
            names |= {f"backing.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return names


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_run_one_way(path: Path) -> None:
    """A module imports from its own folder and from layers above it, never sideways or down."""
    own = _first_name(path)
    if own == "__init__":
        return
    for name in _imports(path):
        parts = name.split(".")
        if parts[0] == "backing" and len(parts) > 1 and parts[1] != own:
            assert RANK[parts[1]] < RANK[own], f"{path} imports {name}"


def test_modules_of_the_chart_import_no_circle() -> None:
    """What one of them needs for its types alone counts as well."""
    needs = {
        f"backing.chart.{path.stem}": _imports(path) for path in (PACKAGE / "chart").glob("*.py")
    }
    while needs:
        free = [name for name, wanted in needs.items() if not wanted & needs.keys()]
        assert free, f"these import each other: {sorted(needs)}"
        for name in free:
            del needs[name]


def test_every_folder_has_its_layer() -> None:
    """No module stands outside the layers."""
    found = {_first_name(path) for path in MODULES} - {"__init__"}

    assert set(RANK) == found


def test_recipes_name_what_there_is() -> None:
    """Each path in the recipes for developers is there, in the package or beside it."""
    text = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    recipes = text.split("## How to add")[1].split("\n## ")[0]
    words = [word for code in re.findall("`([^`]+)`", recipes) for word in code.split()]
    named = [word.rstrip(":") for word in words if "/" in word]

    assert len(named) > 20
    assert [
        path for path in named if not any(root.glob(path) for root in (PACKAGE, PACKAGE.parent))
    ] == []


def test_help_starts_cheaply() -> None:
    """`backing --help` loads no MIDI, numeric, audio, web or terminal-drawing library."""
    code = (
        "import sys\n"
        "sys.argv = ['backing', '--help']\n"
        "from backing.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print(*sys.modules, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = {name.split(".")[0] for name in done.stderr.split()}

    heavy = {"mido", "rtmidi", "numpy", "pretty_midi", "soundfile", "starlette", "rich", "tomllib"}
    heavy |= {"uvicorn", "websockets", "midirenderer", "segno", "platformdirs"}
    heavy |= {"fpdf", "fontTools", "mutagen", "filelock"}
    assert "Usage: backing" in done.stdout
    assert set() == loaded & heavy


def test_two_modules_know_mido() -> None:
    """The MIDI library is imported where files are written, and where melodies are read."""
    users = {
        str(path.relative_to(PACKAGE))
        for path in MODULES
        if any(name.split(".")[0] == "mido" for name in _imports(path))
    }

    assert {"out/midifile.py", "scores/midi.py"} == users
