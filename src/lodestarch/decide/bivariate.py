"""Two correlated normal values below two limits at once."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, owens_t

from lodestarch.common.arrays import FloatArray, as_array

__all__ = ["both_below"]


def both_below(h: npt.ArrayLike, k: npt.ArrayLike, rho: npt.ArrayLike) -> FloatArray:
    """P(X <= h, Y <= k) of standard normals with correlation rho.

    Parameters
    ----------
    h, k : array_like
        May be infinite. [1]
    rho : array_like
        [1]  Above -1, below 1.

    Notes
    -----
    (Phi(h) + Phi(k))/2 - T(h, a_h) - T(k, a_k) - d with Owen's T, a_h = (k/h - rho)/sqrt(1 - rho^2), a_k
    likewise, and d = 1/2 where h k < 0, or h k = 0 and h + k < 0.

    References
    ----------
    .. [1] D. B. Owen, Tables for computing bivariate normal probabilities, Annals of Mathematical
       Statistics 27:1075-1090, 1956 (recalled).

    Examples
    --------
    >>> print(f"{float(both_below(0.0, 0.0, 0.5)):.6f}")  # 1/4 + asin(rho)/(2 pi) = 1/3
    0.333333
    """
    a, b, r = np.broadcast_arrays(as_array(h), as_array(k), as_array(rho))
    x, y = np.clip(a, -38.0, 38.0), np.clip(b, -38.0, 38.0)  # Phi(38) is 1 in floats
    root = np.sqrt(1.0 - r * r)
    # At h = 0 Owen's parameter is infinite with the sign of k; a tiny h keeps that sign.
    tiny = 1e-200
    xs = np.where(x == 0.0, tiny, x)
    ys = np.where(y == 0.0, tiny, y)
    with np.errstate(over="ignore"):
        t = owens_t(xs, (ys / xs - r) / root) + owens_t(ys, (xs / ys - r) / root)
    opposite = (xs < 0.0) != (ys < 0.0)
    return np.asarray(np.clip(0.5 * (ndtr(xs) + ndtr(ys)) - t - 0.5 * opposite, 0.0, 1.0), dtype=np.float64)
