"""Cells of an offer: one combination of its price bands, with its price and the limits that earn it.

A blend lies in one cell. An end of a band is a limit only where what lies beyond pays less: a blend that is
better than its cell asks for is paid at least as much.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from lodestarch.plan.allocate.problem import PlanOffer, PlanProblem, PriceBand
from lodestarch.plan.allocate.scale import Ceiling, ceilings, of_band

__all__ = ["Cell", "cells_of"]


@dataclass(frozen=True, slots=True)
class Cell:
    """What a blend is paid here and what it has to keep.

    Parameters
    ----------
    price_per_t : float
        [money/t]
    ceilings : tuple of Ceiling
        Those of the clauses, then those of the bands.
    bands : tuple of PriceBand
        One for each factor with bands.
    """

    price_per_t: float
    ceilings: tuple[Ceiling, ...]
    bands: tuple[PriceBand, ...]


def cells_of(offer: PlanOffer, problem: PlanProblem, most_t: float) -> tuple[Cell, ...]:
    """Every cell that is not turned away; one where the offer has no bands."""
    fixed = ceilings(offer, problem, most_t)
    factors = list(dict.fromkeys(b.factor for b in offer.bands))
    by_factor = [[b for b in offer.bands if b.factor == f] for f in factors]
    kept = [[(b, *_ends(b, bands)) for b in bands if b.change_per_t is not None] for bands in by_factor]
    cells = []
    for chosen in product(*kept):
        limits = [c for b, low, high in chosen for c in of_band(offer, problem, b.factor, low, high)]
        changes = [b.change_per_t or 0.0 for b, _, _ in chosen]
        change = min(changes, default=0.0) if offer.worst_only else sum(changes)
        cells.append(Cell(offer.price_per_t + change, (*fixed, *limits), tuple(b for b, _, _ in chosen)))
    return tuple(cells)


def _ends(one: PriceBand, bands: Sequence[PriceBand]) -> tuple[float | None, float | None]:
    """Ends of a band beyond which less is paid, or nothing."""
    below = [b for b in bands if b is not one and _low(b) < _low(one)]
    above = [b for b in bands if b is not one and _low(b) > _low(one)]
    low = one.low if _pays_less(below, one) else None
    high = one.high if _pays_less(above, one) else None
    return low, high


def _pays_less(others: Sequence[PriceBand], one: PriceBand) -> bool:
    here = -math.inf if one.change_per_t is None else one.change_per_t
    return not others or any(b.change_per_t is None or b.change_per_t < here for b in others)


def _low(band: PriceBand) -> float:
    return -math.inf if band.low is None else band.low
