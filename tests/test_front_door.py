"""The README's first command on a Python that the system manages, as Debian's and Ubuntu's are."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import mido
import pytest
import soundfile

ROOT = Path(__file__).parent.parent
FIRST = re.search(r"^\$ (.+)$", (ROOT / "README.md").read_text(encoding="utf-8"), re.MULTILINE)
SYSTEM = "/usr/bin:/bin"
"""Where the system's own programs are, and no others."""


def managed_by_the_system() -> bool:
    """Whether the system's Python refuses to install packages (PEP 668)."""
    asks = "import sysconfig; print(sysconfig.get_path('stdlib'))"
    stdlib = subprocess.run(
        ["/usr/bin/python3", "-c", asks], capture_output=True, text=True, check=False
    ).stdout.strip()
    return bool(stdlib) and (Path(stdlib) / "EXTERNALLY-MANAGED").exists()


def copy_of_the_checkout(folder: Path) -> Path:
    """Return a folder with the files of this checkout, and nothing that was made in it."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    for name in filter(None, listed.split("\0")):
        if (ROOT / name).is_file():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ROOT / name, folder / name)
    return folder


@pytest.mark.slow
def test_the_first_command_plays_on_a_stock_system(tmp_path: Path) -> None:
    """It installs, and leaves a recording and the MIDI file beside it."""
    if not managed_by_the_system():
        if os.environ.get("CI"):
            pytest.fail("the gate needs a Python that its system manages: /usr/bin/python3 is none")
        pytest.skip("/usr/bin/python3 is not managed by its system")
    assert FIRST
    folder = copy_of_the_checkout(tmp_path)
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    kept.pop("VIRTUAL_ENV", None)

    done = subprocess.run(
        ["bash", "-c", FIRST[1]],
        cwd=folder,
        env={**kept, "PATH": SYSTEM},
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 0, done.stderr
    recording = soundfile.info(folder / "quarry-hill.mp3")
    written = mido.MidiFile(folder / "quarry-hill.mid")
    assert written.length > 60
    assert 0 <= recording.duration - written.length < 10
