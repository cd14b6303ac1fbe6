"""What all tests share: none fails because the machine is slow; only a deep run is random."""

from __future__ import annotations

from typing import TYPE_CHECKING

import properties  # noqa: F401 (it registers the profiles)
from hypothesis import settings

if TYPE_CHECKING:
    import pytest

DEEP_RUN = "long or hypothesis"
"""Hypothesis' plugin marks every property test `hypothesis`."""


def pytest_configure(config: pytest.Config) -> None:
    """Let `-m long` run all property tests as well, with many new examples."""
    if config.option.markexpr in ("long", DEEP_RUN):
        config.option.markexpr = DEEP_RUN
        settings.load_profile("deep")
    else:
        settings.load_profile("daily")
