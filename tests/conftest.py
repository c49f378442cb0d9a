"""Settings of every test: no deadlines, and the same examples each time where the variable CI is set."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]
settings.register_profile("here", deadline=None, suppress_health_check=SLOW)
settings.register_profile("ci", deadline=None, suppress_health_check=SLOW, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")
