"""The output of the stand at a MIDI port of the computer."""

from __future__ import annotations

import re
import time
from typing import TYPE_CHECKING

import pytest

from backing.out.port import InputPort
from tests.live.conftest import jack, missing
from tests.stand.server import Server

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["jack", "missing"]


@pytest.mark.slow
def test_the_output_switches_to_a_port_and_back(jack: str, tmp_path: Path, cache: Path) -> None:
    """Programs and notes arrive at the port, and none after the browser is chosen again."""
    (tmp_path / "a.chart").write_text(
        "title: Port\nkey: G\ntempo: 300\nstyle: swing\n[A] 2\n| G | D7 |\n", encoding="utf-8"
    )
    arrived: list[bytes] = []
    port = InputPort("Cellar", arrived.append, virtual=True)
    server = Server(tmp_path, cache)
    try:
        with server.page() as page:
            state = page.state(tune="a.chart")
            if "Cellar" not in state["outputs"]:
                state = page.receive("state", lambda each: "Cellar" in each["outputs"])
            (name,) = re.findall('value="([^"]*Cellar[^"]*)"', state["outputs"])
            page.command("play")
            page.send(type="output", name=name)
            page.state(output=name)
            page.receive("state", lambda each: each["part"] == "A")
            assert arrived
            page.send(type="output", name="browser")
            page.state(output="browser", playing=True)
            time.sleep(0.3)
            kinds = {message[0] & 0xF0 for message in arrived}
            down = [m[1:2] for m in arrived if m[0] & 0xF0 == 0x90 and m[2]]
            count = len(arrived)
            page.receive("bars", lambda each: bool(each["add"]))
            assert len(arrived) == count
    finally:
        server.end()
        port.close()
    assert {0x80, 0x90, 0xB0, 0xC0} <= kinds
    assert down
