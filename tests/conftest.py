"""Hypothesis on shared machines: no test is timed, and a checking run draws the same examples each time.

A failure that comes by chance says nothing about the change that is being checked. New examples are
searched with ``LODESTARCH_EXPLORE=1``; what that finds becomes an ``@example``.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile("exploring", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("repeatable", settings.get_profile("exploring"), derandomize=True)
settings.load_profile("exploring" if os.environ.get("LODESTARCH_EXPLORE") else "repeatable")
