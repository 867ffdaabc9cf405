"""Mixed-integer linear programmes with second-order cones, on HiGHS: what the plans are built of."""

from __future__ import annotations
