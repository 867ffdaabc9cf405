"""Codes of findings that ring tests, comparisons and places put together, with the keys of their values."""

from __future__ import annotations

from typing import Final

__all__ = ["CODES"]

_TEST: Final = ("material", "lab", "test", "statistic", "critical_5pc", "critical_1pc")
_CONSENSUS: Final = ("material", "labs")
_EFFECT: Final = ("place", "readings", "effect_pct", "low_pct", "high_pct")

CODES: Final = {
    "ring-labs-few": ("material", "labs"),
    "ring-straggler": _TEST,
    "ring-outlier": _TEST,
    "ring-score-warning": ("material", "lab", "score"),
    "ring-score-action": ("material", "lab", "score"),
    "ring-all-equal": _CONSENSUS,
    "ring-consensus-too-few-labs": _CONSENSUS,
    "compare-pairs-few": ("pairs", "enough"),
    "compare-one-level": ("level",),
    "place-effect-high": _EFFECT,
    "place-effect-low": _EFFECT,
    "chart-values-few": ("values", "enough"),
    "chart-all-equal": ("values", "value"),
    "chart-rule": ("material", "rule", "value", "when", "values"),
}
"""What cannot be read off a call; every other code stands in its call."""
