"""Floors and windows that buyers state, without their prices."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Limit"]


@dataclass(frozen=True, slots=True)
class Limit:
    """A buyer's floor or window, as the terms state it. [s]"""

    buyer_id: str
    buyer: str
    at_least_s: float | None
    at_most_s: float | None
    terms_id: str
