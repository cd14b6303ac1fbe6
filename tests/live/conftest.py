"""Real MIDI ports for the tests: a JACK server with a dummy driver."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
import uuid
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator


def missing(what: str) -> None:
    """Skip a test because a system package is missing; fail it in the gate."""
    if os.environ.get("CI"):
        pytest.fail(f"{what} is missing, and the gate installs it")
    pytest.skip(f"{what} is not installed")


@pytest.fixture(scope="session")
def jack() -> Iterator[str]:
    """Run a JACK server, synchronous, 64 frames at 48 kHz, and return its name."""
    if shutil.which("jackd") is None:
        missing("jackd")
    name = f"backing-{uuid.uuid4().hex[:8]}"
    command = ["jackd", "-r", "-S", "-n", name, "-d", "dummy", "-r", "48000", "-p", "64"]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    before = os.environ.get("JACK_DEFAULT_SERVER")
    os.environ["JACK_DEFAULT_SERVER"] = name
    try:
        _until_it_answers()
        yield name
    finally:
        server.terminate()
        server.wait(10)
        if before is None:
            del os.environ["JACK_DEFAULT_SERVER"]
        else:
            os.environ["JACK_DEFAULT_SERVER"] = before


def _until_it_answers() -> None:
    from backing.out.port import PortError, port_names

    for _ in range(50):
        try:
            port_names()
        except PortError:
            time.sleep(0.1)
        else:
            return
    pytest.fail("the JACK server does not answer")
