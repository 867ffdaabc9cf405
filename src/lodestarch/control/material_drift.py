"""Does the bench drift, or the check material? Told apart where two materials run side by side.

Warm storage lifts a material's falling number, so that one chart alone cannot say. With two materials of
different lots the bench moves both alike, while a material moves alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import stdtr

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError, NoAnswer
from lodestarch.common.findings import Finding, Severity
from lodestarch.control.times import as_seconds
from lodestarch.precision.line import Line, fit_line

__all__ = ["MaterialDrift", "material_drift"]

_DAY_S = 86_400.0
_LEAST = 6


@dataclass(frozen=True, slots=True)
class MaterialDrift:
    """Drift of two materials and of the bench.

    Parameters
    ----------
    pairs : int
        Occasions on which both ran.
    first_pct_per_day, second_pct_per_day, difference_pct_per_day : float
        Slopes of each, and of first minus second. [% of the level per day]
    u_first, u_second, u_difference : float
        Standard uncertainties, same unit.
    p_first, p_second, p_difference : float
        Two-sided p-values.
    verdict : str
        ``steady``, ``bench`` (both move alike), ``first-material``, ``second-material``,
        ``materials-apart`` (they part, and it cannot be told which one moves).
    findings : tuple of Finding
        ``drift-pairs-few``.
    """

    pairs: int
    first_pct_per_day: float
    second_pct_per_day: float
    difference_pct_per_day: float
    u_first: float
    u_second: float
    u_difference: float
    p_first: float
    p_second: float
    p_difference: float
    verdict: str
    findings: tuple[Finding, ...]


def _p(line: Line) -> float:
    if line.u_slope == 0.0:
        return 0.0 if line.slope != 0.0 else 1.0
    return 2.0 * float(stdtr(line.dof, -abs(line.slope) / line.u_slope))


def _relative(values: FloatArray, target: float | None) -> FloatArray:
    """Per cent of the target, or of the geometric mean."""
    log = np.log(values)
    return 100.0 * (log - (math.log(target) if target is not None else log.mean()))


def material_drift(
    at: npt.ArrayLike,
    first_s: npt.ArrayLike,
    second_s: npt.ArrayLike,
    *,
    first_target_s: float | None = None,
    second_target_s: float | None = None,
    alpha: float = 0.01,
) -> MaterialDrift:
    """Tell a drifting material from a drifting bench.

    Parameters
    ----------
    at : array_like of time
        Occasion on which both materials ran.
    first_s, second_s : array_like
        Results; occasions on which one is missing are left out. [s]  Above 0.
    first_target_s, second_target_s : float, optional
        Assigned values; they move levels, not slopes.
    alpha : float
        Level of each test.

    Raises
    ------
    NoAnswer
        ``drift-pairs-missing`` with fewer than four occasions, ``line-one-x`` when all fall on one time.

    Notes
    -----
    Straight lines of ln FN over days. The difference is free of the bench, whatever the bench does; so its
    slope is a material's. Which one: the one whose own line moves while the other's does not.
    """
    t = as_seconds(at) / _DAY_S
    a, b = np.asarray(first_s, dtype=np.float64), np.asarray(second_s, dtype=np.float64)
    if not t.shape == a.shape == b.shape:
        raise LodestarchError("columns of two materials differ in length")
    good = np.isfinite(t) & (a > 0.0) & (b > 0.0) & np.isfinite(a) & np.isfinite(b)
    t, a, b = t[good], a[good], b[good]
    if t.size < 4:
        raise NoAnswer("drift-pairs-missing", pairs=int(t.size), enough=4)
    x, y = _relative(a, first_target_s), _relative(b, second_target_s)
    one, two, apart, both = (fit_line(t, v, origin=float(t.mean())) for v in (x, y, x - y, 0.5 * (x + y)))
    p = [_p(line) for line in (one, two, apart, both)]
    few = Finding("drift-pairs-few", severity=Severity.NOTE, values={"pairs": int(t.size), "enough": _LEAST})
    return MaterialDrift(
        pairs=int(t.size),
        first_pct_per_day=one.slope,
        second_pct_per_day=two.slope,
        difference_pct_per_day=apart.slope,
        u_first=one.u_slope,
        u_second=two.u_slope,
        u_difference=apart.u_slope,
        p_first=p[0],
        p_second=p[1],
        p_difference=p[2],
        verdict=_verdict(p, alpha),
        findings=(few,) if t.size < _LEAST else (),
    )


def _verdict(p: list[float], alpha: float) -> str:
    first, second, apart, both = (value < alpha for value in p)
    if apart:
        if first and not second:
            return "first-material"
        return "second-material" if second and not first else "materials-apart"
    # Not apart, so both share what they do: the mean of both is the sharper test of the bench.
    return "bench" if both else "steady"
