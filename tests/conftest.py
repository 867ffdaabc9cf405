"""Hypothesis on shared machines: no test is timed, and a checking run draws the same examples each time."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("repeatable", settings.get_profile("untimed"), derandomize=True)
settings.load_profile("repeatable" if os.environ.get("CI") else "untimed")
