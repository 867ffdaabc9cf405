"""Robust location and scale of ring tests: median and MAD, Algorithm A, the Q method with Hampel's mean.

Formulas of ISO 13528, read in secondary copies; the Q method's details are recalled and agree with that
standard's printed example. Constants: 1.483 and 1.134 as printed, exact ones on request.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import NoAnswer

__all__ = ["Robust", "algorithm_a", "hampel_location", "mad_e", "n_iqr", "q_hampel", "q_scale"]

_PRINTED: Final = (1.483, 1.134)
_EXACT: Final = (1.4826022185056018, 1.1333927)
_MORE: Final = 1.25
"""Standard uncertainty of a robust mean over s*/sqrt(p) [1] (ISO 13528:2022, secondary copy)."""


@dataclass(frozen=True, slots=True)
class Robust:
    """Robust location and scale.

    Parameters
    ----------
    location, scale : float
        x* and s*.
    u : float
        Standard uncertainty of the location, 1.25 s*/sqrt(p).
    p : int
        Number of values.
    method : str
        ``algorithm-a`` or ``q-hampel``.
    steps : int
        Iterations.
    collapsed : bool
        True where more than half the values are equal, so that Algorithm A cannot start and the Q method
        stood in.
    """

    location: float
    scale: float
    u: float
    p: int
    method: str
    steps: int
    collapsed: bool = False


def _finite(values: npt.ArrayLike, least: int) -> FloatArray:
    x = np.asarray(values, dtype=np.float64).ravel()
    x = x[np.isfinite(x)]
    if x.size < least:
        raise NoAnswer("robust-too-few", values=int(x.size), enough=least)
    return x


def mad_e(values: npt.ArrayLike) -> float:
    """Scaled median absolute deviation, 1.483 MAD."""
    x = _finite(values, 1)
    return _PRINTED[0] * float(np.median(np.abs(x - np.median(x))))


def n_iqr(values: npt.ArrayLike) -> float:
    """Normalised interquartile range, 0.7413 IQR, with linear (type 7) quartiles."""
    low, high = np.quantile(_finite(values, 1), [0.25, 0.75])
    return 0.7413 * float(high - low)


def algorithm_a(values: npt.ArrayLike, *, constants: Literal["printed", "exact"] = "printed") -> Robust:
    """Robust mean and SD by Algorithm A, iterated to full convergence.

    Parameters
    ----------
    values : array_like
        At least three finite values.
    constants : str
        ``printed``: 1.483 and 1.134; ``exact``: 1.4826 and 1.1333927, about 0.1 % less in scale.

    Returns
    -------
    Robust
        By the Q method, marked ``collapsed``, where the MAD is 0: more than half the values are equal, as
        happens with few laboratories and whole seconds.

    Raises
    ------
    NoAnswer
        ``robust-too-few`` below three values, ``robust-all-equal`` when no scale exists at all.

    Notes
    -----
    Start at the median and 1.483 MAD; winsorise at x* +- 1.5 s*; new x* is the mean, new s* 1.134 times the
    SD of the winsorised values. Stopping at the third significant figure, as some tables do, moves s* by up
    to 0.1 %.

    Examples
    --------
    >>> r = algorithm_a([2.9, 3.1, 3.4, 3.4, 3.7, 28.95])
    >>> round(r.location, 3), round(r.scale, 3)
    (3.47, 0.566)
    """
    x = _finite(values, 3)
    first, growth = _PRINTED if constants == "printed" else _EXACT
    location = float(np.median(x))
    scale = first * float(np.median(np.abs(x - location)))
    if scale == 0.0:
        q = q_hampel(x)
        return Robust(q.location, q.scale, q.u, q.p, q.method, q.steps, collapsed=True)
    steps = 0
    for steps in range(1, 2001):  # noqa: B007  # the count is reported
        w = np.clip(x, location - 1.5 * scale, location + 1.5 * scale)
        new_location = float(w.mean())
        new_scale = growth * float(w.std(ddof=1))
        moved = max(abs(new_location - location), abs(new_scale - scale))
        location, scale = new_location, new_scale
        if moved <= 1e-13 * max(abs(location), scale):
            break
    return Robust(location, scale, _MORE * scale / math.sqrt(x.size), x.size, "algorithm-a", steps)


def q_scale(values: npt.ArrayLike, lab: npt.ArrayLike | None = None) -> float:
    """Scale by the Q method: a quantile of the differences between laboratories.

    Parameters
    ----------
    values : array_like
        At least two finite values.
    lab : array_like, optional
        Laboratory of each value; differences within one do not count. Each value its own when left out.

    Notes
    -----
    H(x): mean over pairs of laboratories of the share of differences at most x. G at each distinct difference
    is the mean of H there and at the one before; s* = G^-1(0.25 + 0.75 H(0))/(sqrt(2) Phi^-1(0.625 + 0.375
    H(0))), linear between. Survives up to half of outlying laboratories, and ties.
    """
    x = np.asarray(values, dtype=np.float64).ravel()
    label = (
        np.arange(x.size)
        if lab is None
        else np.unique(np.asarray(lab).ravel(), return_inverse=True)[1].ravel()
    )
    good = np.isfinite(x)
    x, label = x[good], label[good]
    if np.unique(label).size < 2:
        raise NoAnswer("robust-too-few", values=int(np.unique(label).size), enough=2)
    i, j = np.triu_indices(x.size, 1)
    between = label[i] != label[j]
    i, j = i[between], j[between]
    size = np.bincount(label).astype(np.float64)
    weight = 1.0 / (size[label[i]] * size[label[j]])
    gap = np.abs(x[i] - x[j])
    order = np.argsort(gap, kind="stable")
    gap, weight = gap[order], weight[order]
    # Differences equal but for the last bit are one point of discontinuity.
    point = np.round(gap / max(float(gap[-1]), 1e-300), 12)
    last = np.append(np.flatnonzero(np.diff(point) > 0.0), gap.size - 1)
    h = np.cumsum(weight)[last] / weight.sum()
    at = gap[last]
    zero = float(h[0]) if at[0] <= 1e-12 * max(float(gap[-1]), 1e-300) else 0.0
    g = 0.5 * (h + np.concatenate([[0.0], h[:-1]]))
    if zero > 0.0:
        g[0] = 0.0
        at = at.copy()
        at[0] = 0.0
    else:
        g, at = np.concatenate([[0.0], g]), np.concatenate([[0.0], at])
    want = 0.25 + 0.75 * zero
    return float(np.interp(want, g, at)) / (math.sqrt(2.0) * float(ndtri(0.625 + 0.375 * zero)))


def hampel_location(values: npt.ArrayLike, scale: float) -> float:
    """Hampel's robust mean for a given scale.

    Parameters
    ----------
    values : array_like
        At least one finite value.
    scale : float
        s*. Above 0.

    Notes
    -----
    Root of sum psi((y - x)/s*), psi rising to 1.5, flat to 3, back to 0 at 4.5. The sum is a broken line
    in x, so that its roots are found exactly; the one nearest the median is taken.
    """
    x = _finite(values, 1)
    corners = np.sort(np.concatenate([x + c * scale for c in (-4.5, -3.0, -1.5, 1.5, 3.0, 4.5)]))
    q = (x[None, :] - corners[:, None]) / scale
    size = np.abs(q)
    psi = np.sign(q) * np.clip(np.minimum(size, 4.5 - size), 0.0, 1.5)
    total = psi.sum(axis=1)
    total[np.abs(total) < 1e-12 * x.size] = 0.0
    median = float(np.median(x))
    a, b, fa, fb = corners[:-1], corners[1:], total[:-1], total[1:]
    crossing = (fa > 0.0) & (fb <= 0.0) | (fa >= 0.0) & (fb < 0.0)
    if not bool(crossing.any()):
        return median
    roots = a[crossing] + (b - a)[crossing] * fa[crossing] / (fa - fb)[crossing]
    return float(roots[np.argmin(np.abs(roots - median))])


def q_hampel(values: npt.ArrayLike, lab: npt.ArrayLike | None = None) -> Robust:
    """Robust mean and SD by the Q method and Hampel's estimator.

    Raises
    ------
    NoAnswer
        ``robust-too-few`` below two laboratories, ``robust-all-equal`` when the scale is 0.
    """
    x = _finite(values, 2)
    scale = q_scale(values, lab)
    if not scale > 0.0:
        raise NoAnswer("robust-all-equal", values=int(x.size), value=float(np.median(x)))
    if lab is None:
        means = x
    else:
        y = np.asarray(values, dtype=np.float64).ravel()
        label = np.asarray(lab).ravel()[np.isfinite(y)]
        _, where = np.unique(label, return_inverse=True)
        means = np.bincount(where.ravel(), weights=x) / np.bincount(where.ravel())
    location = hampel_location(means, scale)
    return Robust(location, scale, _MORE * scale / math.sqrt(means.size), int(means.size), "q-hampel", 1)
