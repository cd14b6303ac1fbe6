"""The versions of other people's packages that we work with."""

from __future__ import annotations

import ast
import sys
from importlib.metadata import packages_distributions, requires, version
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from packaging.requirements import Requirement

if TYPE_CHECKING:
    from collections.abc import Iterator

BACKING = Path(__file__).parent.parent / "backing"
WANTED = {each.name.lower(): each for each in map(Requirement, requires("backing") or ())}


def _extended() -> Iterator[tuple[str, str]]:
    """Yield (package, class) for every class of another package that a class of ours extends."""
    for path in sorted(BACKING.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        imported = {
            alias.asname or alias.name: node.module
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and node.module
            for alias in node.names
        }
        imported |= {
            alias.asname or alias.name: alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.Import)
            for alias in node.names
        }
        for node in ast.walk(tree):
            for base in node.bases if isinstance(node, ast.ClassDef) else ():
                name = ast.unparse(base).partition("[")[0]
                module = imported.get(name.partition(".")[0], "").partition(".")[0]
                if module and module != "backing" and module not in sys.stdlib_module_names:
                    yield module, name


def test_what_we_extend_has_an_upper_bound() -> None:
    """Its insides may change with any release; the installed one lies inside the bounds."""
    distributions = packages_distributions()
    extended = {distributions[module][0].lower() for module, _ in _extended()}

    assert {"uvicorn", "typer"} <= extended
    for name in extended:
        specifier = WANTED[name].specifier
        assert {each.operator for each in specifier} == {">=", "<"}, WANTED[name]
        assert version(name) in specifier


@pytest.mark.parametrize("name", sorted(WANTED))
def test_every_package_has_a_lower_bound(name: str) -> None:
    """The gate installs the lowest versions once, and they are the ones that are said."""
    assert ">=" in {each.operator for each in WANTED[name].specifier}
