"""What all tests share: none fails because the machine is slow, none is random."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile(
    "the same each time",
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("the same each time")
