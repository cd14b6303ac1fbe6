"""How many examples property tests try: the same few every day, many new ones with `-m long`."""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, settings

DEEP = 2000
"""Examples of each property test in a deep run."""

settings.register_profile(
    "daily", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile(
    "deep", settings.get_profile("daily"), derandomize=False, max_examples=DEEP
)


def examples(count: int, **others: Any) -> settings:
    """Return settings for `count` examples a day and `DEEP` in a deep run."""
    is_deep = not settings.default.derandomize
    return settings(max_examples=DEEP if is_deep else count, **others)
