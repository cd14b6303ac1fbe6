"""Property tests try the same few examples every day, and with `-m long` many new ones."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from properties import DEEP

TESTS = Path(__file__).parent

SUITE = """
import json
import os
from pathlib import Path

import pytest
from hypothesis import given, strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule
from properties import examples

tried = {}
numbers = st.integers(0, 10**12)


@pytest.fixture(scope="module", autouse=True)
def told():
    yield
    Path(os.environ["TOLD"]).write_text(json.dumps(tried))


@given(numbers)
@examples(3)
def test_few(number):
    tried.setdefault("few", []).append(number)


@given(numbers)
def test_usual(number):
    tried.setdefault("usual", []).append(number)


class Machine(RuleBasedStateMachine):
    @initialize(number=numbers)
    def begin(self, number):
        tried.setdefault("machine", []).append(number)

    @rule()
    def move(self):
        pass


TestMachine = Machine.TestCase
TestMachine.settings = examples(3, stateful_step_count=1)


def test_plain():
    tried["plain"] = []


@pytest.mark.long
def test_long():
    tried["long"] = []
"""


def _tried(folder: Path, *options: str) -> dict[str, list[int]]:
    """Return what the tests of a small suite try when it is run with options."""
    (folder / "test_suite.py").write_text(SUITE, encoding="utf-8")
    told = folder / "told.json"
    paths = os.pathsep.join([str(TESTS), os.environ.get("PYTHONPATH", "")])
    command = [sys.executable, "-m", "pytest", "-p", "conftest", "-p", "no:cacheprovider"]
    subprocess.run(
        [*command, "-c", str(TESTS.parent / "pyproject.toml"), *options, "test_suite.py"],
        cwd=folder, env={**os.environ, "PYTHONPATH": paths, "TOLD": str(told)},
        check=True, capture_output=True, timeout=300,
    )  # fmt: skip
    found: dict[str, list[int]] = json.loads(told.read_text(encoding="utf-8"))
    return found


def test_daily_examples_are_few_and_the_same(tmp_path: Path) -> None:
    """An ordinary run tries as many examples as a test says, and the next run the same ones."""
    first, second = (_tried(tmp_path, "-n", "0") for _ in range(2))

    assert {name: len(numbers) for name, numbers in first.items()} == {
        "few": 3, "usual": 100, "machine": 3, "plain": 0,
    }  # fmt: skip
    assert first == second


def test_long_runs_try_many_new_examples(tmp_path: Path) -> None:
    """`-m long` runs the property tests as well as the long ones, deep, in one process or more."""
    first, second = (_tried(tmp_path, "-m", "long", "-n", processes) for processes in "01")

    for found in (first, second):
        assert {name: len(numbers) for name, numbers in found.items()} == {
            "few": DEEP, "usual": DEEP, "machine": DEEP, "long": 0,
        }  # fmt: skip
    assert first["usual"] != second["usual"]
