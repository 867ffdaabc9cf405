"""Charts of check samples: individuals with moving range, and limits that widen with few data."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.control.chart_constants import chart_constants

__all__ = ["Baseline", "IndividualsChart", "baseline_of", "individuals", "widened_factor"]

_ENOUGH: Final = 20
"""Values from which a baseline is called enough (common practice: 20 to 25)."""
_TAIL: Final = 0.0026997960632601866
"""Probability outside three sigma in both tails [1], exact."""
_MOVING_RANGE_YIELD: Final = 0.62
"""Degrees of freedom of a moving-range SD over n - 1 [1]: its relative variance is that of a chi-square SD
with 0.62 (n - 1) (derived, long sequences)."""


@dataclass(frozen=True, slots=True)
class Baseline:
    """What the chart judges against.

    Parameters
    ----------
    centre, sd : float
        In the unit of the values. SD above 0.
    n : int or None
        Values that the SD rests on; ``None``: given, taken as known.
    dof : float
        Degrees of freedom of the SD; infinity when given.
    source : str
        ``given``, ``moving-range`` or ``standard-deviation``.
    centre_given : bool
    """

    centre: float
    sd: float
    n: int | None
    dof: float
    source: str
    centre_given: bool


def baseline_of(
    values: npt.ArrayLike, *, target: float | None = None, sd: float | None = None, by: str = "moving-range"
) -> Baseline:
    """Centre and SD from values in control, or from what is given.

    Parameters
    ----------
    values : array_like
        Finite values in order of time.
    target : float, optional
        Assigned value of the material; the mean of the values when left out.
    sd : float, optional
        Known SD; estimated when left out. Above 0.
    by : str
        ``moving-range``: mean moving range over 1.128, untouched by slow drift; ``standard-deviation``.

    Raises
    ------
    NoAnswer
        ``chart-values-few`` when an SD is wanted of fewer than two values, ``chart-all-equal`` when it is 0.
    """
    x = np.asarray(values, dtype=np.float64)
    if sd is not None and not (math.isfinite(sd) and sd > 0.0):
        raise OutOfRange("sd", sd, 0.0, math.inf, "unit of the values")
    if x.size == 0 and (target is None or sd is None):
        raise NoAnswer("chart-values-few", values=0, enough=2)
    centre = float(x.mean()) if target is None else target
    if sd is not None:
        return Baseline(
            centre, sd, None if target is not None else x.size, math.inf, "given", target is not None
        )
    if x.size < 2:
        raise NoAnswer("chart-values-few", values=int(x.size), enough=2)
    if by == "moving-range":
        # With 1.128 as printed: the digits of the published charts rest on it.
        estimate, dof = float(np.abs(np.diff(x)).mean()) / 1.128, _MOVING_RANGE_YIELD * (x.size - 1)
    else:
        around = float(((x - centre) ** 2).sum())
        dof = float(x.size if target is not None else x.size - 1)
        estimate = math.sqrt(around / dof)
    if not estimate > 0.0:
        raise NoAnswer("chart-all-equal", values=int(x.size), value=float(x[0]))
    return Baseline(centre, estimate, int(x.size), max(dof, 0.5), by, target is not None)


def widened_factor(baseline: Baseline, tail: float = _TAIL) -> float:
    """Factor that gives a new value the false-alarm rate of three sigma although centre and SD are estimates.

    Parameters
    ----------
    baseline : Baseline
    tail : float
        False-alarm probability of one value. [1]

    Notes
    -----
    t(1 - tail/2; dof) sqrt(1 + 1/n): a prediction limit. 3 when all is known.

    Examples
    --------
    >>> widened_factor(Baseline(300.0, 5.0, None, math.inf, "given", True))
    3.0
    """
    t = float(stdtrit(min(baseline.dof, 1e9), 1.0 - 0.5 * tail))
    if baseline.source == "moving-range":
        # A mean range over 1.128 has the SD itself as its mean, where Student's t takes a root-mean-square.
        half = 0.5 * baseline.dof
        t *= math.exp(math.lgamma(half + 0.5) - math.lgamma(half)) / math.sqrt(half)
    centre = 0.0 if baseline.centre_given or baseline.n is None else 1.0 / baseline.n
    return round(t * math.sqrt(1.0 + centre), 6)


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """Individuals and moving ranges.

    Parameters
    ----------
    baseline : Baseline
    upper, lower : float
        Three-sigma limits.
    upper_widened, lower_widened : float
        Limits for a new value, wider while the baseline is short.
    factor : float
        SDs from the centre to the widened limits.
    moving_ranges : tuple of float
    moving_range_mean, moving_range_upper : float or None
        Mean and limit (3.267 times the mean).
    z : tuple of float
        Values from the centre, in SDs.
    beyond : tuple of int
        Places of values beyond the limits that apply: three sigma within the baseline, widened after it.
    range_beyond : tuple of int
        Places of moving ranges beyond theirs (the later value of each).
    in_control : bool
    findings : tuple of Finding
        ``chart-baseline-short``, ``chart-value-missing``.
    """

    baseline: Baseline
    upper: float
    lower: float
    upper_widened: float
    lower_widened: float
    factor: float
    moving_ranges: tuple[float, ...]
    moving_range_mean: float | None
    moving_range_upper: float | None
    z: tuple[float, ...]
    beyond: tuple[int, ...]
    range_beyond: tuple[int, ...]
    in_control: bool
    findings: tuple[Finding, ...]


def clean_values(values: npt.ArrayLike) -> tuple[FloatArray, tuple[Finding, ...]]:
    """Finite values in order, with a finding for each that is missing and for each negative one."""
    x = np.asarray(values, dtype=np.float64).ravel()
    good = np.isfinite(x)
    out = [
        Finding("chart-value-missing", Where(row=int(i) + 1), Severity.STOP)
        for i in np.flatnonzero(~good)[:20]
    ]
    out += [
        Finding("chart-value-negative", Where(row=int(i) + 1), Severity.CHECK, {"value": float(x[i])})
        for i in np.flatnonzero(good & (x < 0.0))[:20]
    ]
    return x[good], tuple(out)


def individuals(
    values: npt.ArrayLike,
    *,
    baseline: int | None = None,
    target: float | None = None,
    sd: float | None = None,
) -> IndividualsChart:
    """Chart of single values with moving ranges.

    Parameters
    ----------
    values : array_like
        In order of time; missing ones are left out with a finding.
    baseline : int, optional
        Number of first values that set centre and SD; all when left out. At least 2.
    target : float, optional
        Assigned value of the material; otherwise the mean of the baseline.
    sd : float, optional
        Known SD; otherwise from the moving ranges of the baseline.

    Returns
    -------
    IndividualsChart

    Raises
    ------
    NoAnswer
        ``chart-values-few``, ``chart-all-equal``.

    Examples
    --------
    >>> c = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(c.upper, 4), round(c.lower, 4), c.in_control
    (55.8041, 45.8159, True)
    """
    x, findings = clean_values(values)
    first = x.size if baseline is None else baseline
    if baseline is not None and baseline < 2:
        raise OutOfRange("baseline", baseline, 2, math.inf, "1")
    base = baseline_of(x[:first], target=target, sd=sd)
    factor = widened_factor(base)
    wide = factor * base.sd
    upper, lower = base.centre + 3.0 * base.sd, base.centre - 3.0 * base.sd
    ranges = np.abs(np.diff(x))
    inner = np.abs(np.diff(x[:first]))
    mean_range = float(inner.mean()) if inner.size else None
    constant = round(chart_constants(2).D4, 3)
    limit = None if mean_range is None else constant * mean_range
    off = np.abs(x - base.centre)
    reach = np.where(np.arange(x.size) < first, 3.0 * base.sd, wide)
    beyond = tuple(int(i) for i in np.flatnonzero(off > reach))
    range_beyond = () if limit is None else tuple(int(i) + 1 for i in np.flatnonzero(ranges > limit))
    if base.n is not None and base.n < _ENOUGH and sd is None:
        values_seen = {"values": base.n, "enough": _ENOUGH, "factor": factor}
        findings = (*findings, Finding("chart-baseline-short", severity=Severity.NOTE, values=values_seen))
    return IndividualsChart(
        baseline=base, upper=upper, lower=lower,
        upper_widened=base.centre + wide, lower_widened=base.centre - wide, factor=factor,
        moving_ranges=tuple(float(v) for v in ranges), moving_range_mean=mean_range, moving_range_upper=limit,
        z=tuple(float(v) for v in (x - base.centre) / base.sd), beyond=beyond, range_beyond=range_beyond,
        in_control=not beyond and not range_beyond, findings=findings,
    )  # fmt: skip
