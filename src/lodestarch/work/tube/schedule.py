"""What the apparatus does, and when: the part of a picture that no model computes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

__all__ = ["LIFTED_S", "STROKES_PER_S", "Schedule", "schedule"]

STROKES_PER_S: Final = 2.0
"""Up-and-down strokes of the stirrer. [1/s]  Published: method text of GB/T 10361-1989, equivalent to
ISO 3093:1982 (read online; current edition not seen)."""

LIFTED_S: Final = 59.0
"""When the stirrer has been lifted to the top, a second before it is let go. [s]  Published, same text."""


@dataclass(frozen=True, slots=True)
class Schedule:
    """Strokes of the stirrer: how many a second, from when, until it rests on top. [1/s, s, s]"""

    strokes_per_s: float
    from_s: float
    until_s: float


def schedule(stir_from_s: float) -> Schedule:
    """The schedule of a tube whose first stroke comes at a time."""
    return Schedule(STROKES_PER_S, stir_from_s, LIFTED_S)
