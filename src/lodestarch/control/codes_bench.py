"""Codes of what the bench rules find, with the keys of their values.

The sentences stand in ``words`` under the same codes; a test compares the two.
"""

from __future__ import annotations

from typing import Final

__all__ = ["CODES"]

_TESTED: Final = ("pairs", "places", "false_alarm_pct", "p")
_SHIFT: Final = ("difference_s", "difference_pct", *_TESTED)
_DRIFT: Final = ("first_s", "last_s", *_TESTED)

CODES: Final = {
    "ground-mass-low": ("ground_mass_g", "least_ground_mass_g"),
    "moisture-on-grain": ("moisture_method", "material_in_tube"),
    "moisture-before-grinding": ("moisture_at", "ground_at"),
    "moisture-old": ("moisture_at", "run_at", "delay_h", "longest_h"),
    "ground-long-before": ("ground_at", "run_at", "delay_h", "longest_h"),
    "run-before-grinding": ("ground_at", "run_at"),
    "check-sample-off": ("material", "seconds", "kind", "target_s", "u_s", "low_s", "high_s"),
    "check-sample-no-target": ("material",),
    "mill-carry-over": (
        "previous_ticket", "previous_sample", "previous_seconds", "previous_kind", "mill_id", "seconds",
        "residue_pct", "shift_s", "gap_min",
    ),
    "tubes-look-swapped": (
        "other_ticket", "other_sample", "seconds_1", "seconds_2", "other_seconds_1", "other_seconds_2",
        "position_1", "position_2", "other_position_1", "other_position_2",
        "with_position_1", "with_position_2", "rows",
    ),
    "place-runs-high": ("place_kind", "place", *_SHIFT),
    "place-runs-low": ("place_kind", "place", *_SHIFT),
    "places-apart": ("place_kind", "place", "beside", *_SHIFT),
    "place-drifts": ("place_kind", "place", *_DRIFT),
    "places-drift-apart": ("place_kind", "place", "beside", *_DRIFT),
}  # fmt: skip
"""Codes that the bench rules emit, with the keys of their values."""
