"""What known grain can bring when it is blended up to the limits at load-out, and what LN is worth in it."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy.optimize import linprog
from scipy.sparse import coo_array

from lodestarch.plan.receive.envelope import Envelope, envelope_of
from lodestarch.plan.receive.grades import Grades

__all__ = ["best_blend", "worth_by_ln"]

Array = npt.NDArray[np.float64]


def best_blend(grades: Grades, ln: npt.ArrayLike, tonnes: npt.ArrayLike) -> float:
    """Return what grain brings, each source divisible and every grade open. [money]

    Parameters
    ----------
    grades : Grades
    ln, tonnes : array_like, shape (n,)
        LN and mass of each source. [1], [t]
    """
    return _deal(grades, np.asarray(ln, dtype=np.float64), np.asarray(tonnes, dtype=np.float64))[0]


def worth_by_ln(grades: Grades, ln: npt.ArrayLike, tonnes: npt.ArrayLike) -> Envelope:
    """Return what a tonne more of any LN would bring beside this grain: the best of straight lines.

    Notes
    -----
    max sum p_k x_nk subject to sum_n (LN_n - most_k) x_nk <= 0 and sum_k x_nk = t_n. With multipliers u_k
    of the limits, a tonne of LN l in grade k brings p_k + u_k (most_k - l): linear programming duality.
    """
    _, over, under = _deal(grades, np.asarray(ln, dtype=np.float64), np.asarray(tonnes, dtype=np.float64))
    most = np.where(np.isfinite(grades.ln_most), grades.ln_most, 0.0)
    return envelope_of(grades.price + over * most - under * grades.ln_least, under - over)


def _deal(grades: Grades, ln: Array, tonnes: Array) -> tuple[float, Array, Array]:
    k, q = grades.size, ln.size
    n = k * q
    kept = [(i, 1.0, float(limit)) for i, limit in enumerate(grades.ln_most) if math.isfinite(limit)]
    kept += [(i, -1.0, float(limit)) for i, limit in enumerate(grades.ln_least) if limit > 0]
    rows = np.repeat(np.arange(len(kept)), q)
    columns = np.concatenate([np.arange(i * q, (i + 1) * q) for i, _, _ in kept])
    entries = np.concatenate([sign * (ln - limit) for _, sign, limit in kept])
    result = linprog(  # type: ignore[call-overload]  # the stubs know dense arrays only
        -np.repeat(grades.price, q),
        A_ub=coo_array((entries, (rows, columns)), shape=(len(kept), n)).tocsr(),
        b_ub=np.zeros(len(kept)),
        A_eq=coo_array((np.ones(n), (np.tile(np.arange(q), k), np.arange(n))), shape=(q, n)).tocsr(),
        b_eq=tonnes,
        method="highs",
    )
    over, under = np.zeros(k), np.zeros(k)
    if result.status != 0:  # grain beyond the widest grade: it earns that grade's price all the same
        inside = np.clip(ln, None, float(grades.ln_most.max()))
        if np.array_equal(inside, ln):
            raise RuntimeError(f"the programme of blending did not solve: {result.message}")
        return _deal(grades, inside, tonnes)
    for (i, sign, _), worth in zip(kept, -np.asarray(result.ineqlin.marginals), strict=True):
        (over if sign > 0 else under)[i] = worth
    return float(-result.fun), over, under
