"""The shape of the code: folders are the flow, imports run one way, start-up is cheap."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "backing"
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
LONGEST_GUIDE_LINES = 200


def _layers(guide: str) -> list[list[str]]:
    """Return the names of each layer in the picture of a guide, the top layer first.

    The picture is the first fenced block below "## The layers": a line for each layer, its names
    joined by " · ", then two spaces or more, then what the layer holds.
    """
    section = guide.split("\n## The layers\n")[1].split("\n## ")[0]
    picture = section.split("```")[1].strip().splitlines()
    return [re.split(r"\s{2,}", line.strip())[0].split(" · ") for line in picture]


RANK = {name: -depth for depth, names in enumerate(_layers(GUIDE)) for name in names}
"""How high each module or folder stands in the picture of DEVELOPERS.md; the top layer is 0."""

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


def test_the_picture_shows_every_module_and_folder() -> None:
    """The picture of the layers names each module and folder of the package once, and no other."""
    shown = [name for names in _layers(GUIDE) for name in names]
    found = {_first_name(path) for path in MODULES} - {"__init__"}

    assert sorted(found) == sorted(shown)


def test_a_picture_is_read_line_by_line() -> None:
    """Names stand before the first wide space; words after it are no names."""
    guide = "# A\n\n## The layers\n\n```\ntop   reads · writes\na · b     below\n```\n\n## More\n"

    assert _layers(guide) == [["top"], ["a", "b"]]


def _in_code(guide: str) -> list[str]:
    """Return what stands between backticks in a guide, outside its fenced blocks."""
    return re.findall("`([^`]+)`", re.sub(r"```.*?```", "", guide, flags=re.DOTALL))


def _file(named: str) -> Path | None:
    """Return the first file or folder of a path or pattern, in the package or beside it."""
    found = (path for root in (PACKAGE, ROOT) for path in root.glob(named.rstrip("/")))
    return next(found, None)


def test_the_guide_names_what_there_is() -> None:
    """Each path in DEVELOPERS.md exists; `path: name` stands for a name that the file has."""
    named = [re.fullmatch(r"([\w.*-]*/[\w./*-]*)(?:: (.+))?", code) for code in _in_code(GUIDE)]
    places = [match.groups() for match in named if match]

    assert len(places) > 60
    assert [path for path, _ in places if not _file(path)] == []
    for path, names in places:
        text = file.read_text("utf-8") if names and (file := _file(path)) else ""
        for name in re.findall(r"\w+", names or ""):
            assert re.search(rf"\b{name}\b", text), f"{path} has no {name}"


def test_the_guide_is_short() -> None:
    """A newcomer reads DEVELOPERS.md at one sitting."""
    lines = GUIDE.splitlines()

    assert len(lines) < LONGEST_GUIDE_LINES
    assert [line for line in lines if len(line) > 120 and not line.startswith("|")] == []


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

    assert {"out/midifile.py", "scores/sidecar.py"} == users
