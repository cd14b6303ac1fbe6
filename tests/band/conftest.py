"""Fixtures of the band's tests, which read written files; no test fails for slowness."""

import sys
from pathlib import Path

from hypothesis import HealthCheck, settings

sys.path.append(str(Path(__file__).parents[1] / "out"))

settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")
