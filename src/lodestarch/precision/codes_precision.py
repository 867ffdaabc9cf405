"""Codes of findings that this room puts together from parts, with the keys of their values."""

from __future__ import annotations

from typing import Final

__all__ = ["CODES"]

CODES: Final = {
    "pair-value-missing": (),
    "pair-value-missing-more": ("rows",),
    "pair-value-out-of-range": ("seconds",),
    "pair-value-out-of-range-more": ("rows",),
    "pair-floor-and-stopped": ("seconds",),
    "pair-floor-and-stopped-more": ("rows",),
    "pairs-all-at-floor": ("pairs",),
    "pairs-all-at-bound": ("pairs",),
}
"""What cannot be read off a call; every other code stands in its call."""
