"""Fixtures of the fretboard's tests."""

from __future__ import annotations

import pytest

from backing.fretboard.instrument import OWN_FOLDER_VARIABLE, Instrument, find_instrument


@pytest.fixture(scope="session", autouse=True)
def no_own_instruments(tmp_path_factory: pytest.TempPathFactory):
    """Hide the user's own instruments from the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(OWN_FOLDER_VARIABLE, str(tmp_path_factory.mktemp("instruments")))
        yield


@pytest.fixture
def mandolin() -> Instrument:
    """Return a mandolin."""
    return find_instrument("mandolin")


@pytest.fixture
def guitar() -> Instrument:
    """Return a guitar."""
    return find_instrument("guitar")
