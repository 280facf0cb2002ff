"""One profile for generated tests: no deadline (machines differ), the same examples in every CI run."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "project", deadline=None, derandomize=bool(os.environ.get("CI")), suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("project")
