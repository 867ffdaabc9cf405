"""Terms: buyers, clauses, schedules, limits."""

from __future__ import annotations
