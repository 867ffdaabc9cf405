"""The largest share of a low lot with which a mix still makes a target, with the error of both results."""

from __future__ import annotations

import numpy as np

from lodestarch.method.liquefaction import ln_from_fn, u_of_ln
from lodestarch.plan.programme.outer import Solved, solve
from lodestarch.plan.programme.programme import Cone, Programme

__all__ = ["largest_low_share"]


def largest_low_share(
    high_s: float, low_s: float, target_s: float, *, cv: float = 0.0, z: float = 0.0
) -> Solved:
    """Find the largest share by mass; the point of the answer holds the shares of the high and the low lot.

    Parameters
    ----------
    high_s, low_s, target_s : float
        Falling numbers. [s]  Above 50.
    cv : float
        Standard deviation of each result over its value. [1]
    z : float
        Normal quantile of the wanted odds. [1]  At least 0.

    Notes
    -----
    (1 - w) LN_high + w LN_low + z sqrt(((1 - w) s_high)^2 + (w s_low)^2) at most LN_target, with s to first
    order.

    Examples
    --------
    >>> round(-largest_low_share(400.0, 220.0, 300.0).objective, 9)
    0.377777778
    >>> round(-largest_low_share(400.0, 220.0, 300.0, cv=0.02, z=1.645).objective, 6)
    0.341105
    """
    p = Programme()
    x = p.add_columns(2, cost=np.array([0.0, -1.0]), high=1.0)
    p.add_row(x, np.ones(2), 1.0, 1.0)
    lots = np.array([high_s, low_s])
    ln, spread = np.asarray(ln_from_fn(lots)), np.asarray(u_of_ln(lots, cv * lots))
    p.add_cone(Cone(x, ln, x, spread, z, ln_from_fn(target_s)))
    return solve(p)
