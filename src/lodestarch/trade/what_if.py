"""What would change the answer: a longer haul, or some seconds more or less."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.trade.net_price import net_at, net_prices
from lodestarch.trade.outlets import Outlet

__all__ = ["BreakEven", "Turn", "break_even_haul", "turns_at"]

_REACH_S: Final = 150
"""How far a change of the answer is looked for. [s]  A choice of ours."""


@dataclass(frozen=True, slots=True)
class BreakEven:
    """How far, or how dear, the haul to an outlet may be until the next best brings as much.

    Parameters
    ----------
    ahead_per_t : float
        What it brings more than the best of the others; negative where it brings less. [money/t]
    freight_per_t : float
        The freight at which they are even. [money/t]
    distance_km : float or None
        The loaded distance at which they are even, where freight goes by distance; 0 where no haul is short
        enough.
    """

    ahead_per_t: float
    freight_per_t: float
    distance_km: float | None


@dataclass(frozen=True, slots=True)
class Turn:
    """The nearest number at which another outlet is the best. [s]

    ``shift_s`` is signed: how far from the result.
    """

    shift_s: float
    outlet: int


def break_even_haul(outlets: Sequence[Outlet], net_per_t: FloatArray, index: int) -> BreakEven | None:
    """Return the break-even haul of one outlet for one result.

    Parameters
    ----------
    outlets : sequence of Outlet
    net_per_t : ndarray, shape (outlets,)
        Of that result. [money/t]
    index : int

    Returns
    -------
    BreakEven or None
        ``None`` where this net is not evaluated, or no other is.

    Notes
    -----
    Exact while nothing is turned away there; grain that comes back pays the haul twice, which is left out.
    """
    others = [float(n) for i, n in enumerate(net_per_t) if i != index and not math.isnan(n)]
    if math.isnan(net_per_t[index]) or not others:
        return None
    haul = outlets[index].haul
    ahead = float(net_per_t[index]) - max(others)
    distance = None
    if haul.per_t_km and haul.distance_km is not None:
        distance = max(haul.distance_km + ahead / haul.per_t_km, 0.0)
    return BreakEven(ahead, haul.per_t + ahead, distance)


def turns_at(
    outlets: Sequence[Outlet], mean_s: float, u_s: float, tonnes: float, *, turned_away_per_t: float | None
) -> tuple[Turn | None, Turn | None]:
    """Return the nearest lower and higher numbers, in whole seconds away, at which another outlet is best.

    Returns
    -------
    lower, higher : Turn or None
        ``None`` where the answer stays within 150 s.
    """
    shifts = np.arange(-_REACH_S, _REACH_S + 1.0)
    if turned_away_per_t is None:
        best = net_prices(outlets, mean_s + shifts, u_s, tonnes, turned_away_per_t=None).best
    else:
        net = net_at(outlets, mean_s + shifts, u_s, tonnes, turned_away_per_t=turned_away_per_t)
        best = net.argmax(axis=1)
    here = best[_REACH_S]
    other = np.flatnonzero(best != here)
    below, above = other[other < _REACH_S], other[other > _REACH_S]
    lower = Turn(float(shifts[below[-1]]), int(best[below[-1]])) if below.size else None
    higher = Turn(float(shifts[above[0]]), int(best[above[0]])) if above.size else None
    return lower, higher
