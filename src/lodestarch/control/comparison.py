"""Two columns compared whole: differences, lines, equivalence, with findings for what cannot be used."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError, NoAnswer
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.control.agreement import Agreement, agreement
from lodestarch.control.equivalence import Equivalence, equivalence
from lodestarch.control.structural_lines import StructuralLine, deming, known_variances, passing_bablok

__all__ = ["Comparison", "compare"]

_MOST_FOR_ALL_SLOPES = 3000
"""Pairs up to which all pairwise slopes (4.5 million) are taken."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """What two columns say of each other.

    Parameters
    ----------
    pairs : int
        Pairs used.
    differences : Agreement or None
        First minus second.
    deming, passing_bablok, known_variances : StructuralLine or None
        Second against first; the last where uncertainties were given.
    equivalence : Equivalence or None
        Where a margin was given.
    ratio : float
        Ratio of error variances that Deming's line took.
    findings : tuple of Finding
    """

    pairs: int
    differences: Agreement | None
    deming: StructuralLine | None
    passing_bablok: StructuralLine | None
    known_variances: StructuralLine | None
    equivalence: Equivalence | None
    ratio: float
    findings: tuple[Finding, ...]


def compare(
    a: npt.ArrayLike,
    b: npt.ArrayLike,
    *,
    u_a: npt.ArrayLike | None = None,
    u_b: npt.ArrayLike | None = None,
    margin: float | None = None,
    ratio: float = 1.0,
    probability: float = 0.95,
) -> Comparison:
    """Compare two methods, instruments or labs on the same samples.

    Parameters
    ----------
    a, b : array_like
        Paired results in one unit; missing ones are left out with a finding.
    u_a, u_b : array_like, optional
        Standard uncertainties of each result; both or none.
    margin : float, optional
        Largest mean difference that does not matter, stated beforehand.
    ratio : float
        Error variance of b over that of a, for Deming's line.
    probability : float
        Content of the intervals.

    Returns
    -------
    Comparison
        With findings ``compare-value-missing``, ``compare-value-negative``, ``compare-u-not-usable``,
        ``compare-u-one-column``, ``compare-pairs-few``, ``compare-one-level``, ``compare-all-equal``,
        ``compare-difference-grows``, ``compare-too-many-for-slopes``.

    Raises
    ------
    LodestarchError
        When columns differ in length.
    """
    x, y = np.asarray(a, dtype=np.float64).ravel(), np.asarray(b, dtype=np.float64).ravel()
    if x.size != y.size or any(u is not None and np.size(u) != x.size for u in (u_a, u_b)):
        raise LodestarchError("columns of a comparison differ in length")
    good = np.isfinite(x) & np.isfinite(y)
    findings = _value_findings(x, y, good)
    u = _uncertainties(u_a, u_b, good, findings)
    x, y = x[good], y[good]
    differences = _try(lambda: agreement(x, y, probability=probability), findings)
    if differences is not None:
        findings += _difference_findings(differences)
    known = None
    if u is not None:
        ua, ub, use = u
        known = _try(
            lambda: known_variances(x[use], y[use], ua[use], ub[use], probability=probability), findings
        )
    slopes = None
    if x.size <= _MOST_FOR_ALL_SLOPES:
        slopes = _try(lambda: passing_bablok(x, y, probability=probability), findings)
    else:
        values = {"pairs": int(x.size), "most": _MOST_FOR_ALL_SLOPES}
        findings.append(Finding("compare-too-many-for-slopes", severity=Severity.NOTE, values=values))
    within = None if margin is None else _try(lambda: equivalence(x - y, margin), findings)
    line = _try(lambda: deming(x, y, ratio=ratio, probability=probability), findings)
    return Comparison(int(x.size), differences, line, slopes, known, within, ratio, tuple(_once(findings)))


def _value_findings(x: FloatArray, y: FloatArray, good: npt.NDArray[np.bool_]) -> list[Finding]:
    out = [
        Finding("compare-value-missing", Where(row=int(i) + 1), Severity.STOP)
        for i in np.flatnonzero(~good)[:20]
    ]
    return out + [
        Finding("compare-value-negative", Where(row=int(i) + 1), Severity.CHECK)
        for i in np.flatnonzero(good & ((x < 0.0) | (y < 0.0)))[:20]
    ]


def _uncertainties(
    u_a: npt.ArrayLike | None,
    u_b: npt.ArrayLike | None,
    good: npt.NDArray[np.bool_],
    findings: list[Finding],
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]] | None:
    """Uncertainties of the usable pairs, and which of them can weigh a pair."""
    if u_a is None and u_b is None:
        return None
    if u_a is None or u_b is None:
        findings.append(Finding("compare-u-one-column", severity=Severity.CHECK))
        return None
    ua, ub = np.asarray(u_a, dtype=np.float64).ravel(), np.asarray(u_b, dtype=np.float64).ravel()
    usable = np.isfinite(ua) & np.isfinite(ub) & (ua >= 0.0) & (ub >= 0.0) & (ua + ub > 0.0)
    findings += [
        Finding("compare-u-not-usable", Where(row=int(i) + 1), Severity.CHECK)
        for i in np.flatnonzero(good & ~usable)[:20]
    ]
    return ua[good], ub[good], usable[good]


def _difference_findings(d: Agreement) -> list[Finding]:
    out = []
    if d.sd == 0.0:
        out.append(Finding("compare-all-equal", severity=Severity.CHECK, values={"pairs": d.n}))
    if d.slope_low is not None and d.slope_high is not None and (d.slope_low > 0.0 or d.slope_high < 0.0):
        values = {"slope_low": d.slope_low, "slope_high": d.slope_high}
        out.append(Finding("compare-difference-grows", severity=Severity.NOTE, values=values))
    return out


_Result = TypeVar("_Result")


def _try(ask: Callable[[], _Result], findings: list[Finding]) -> _Result | None:
    """Ask for one part; a question without an answer becomes a finding."""
    try:
        return ask()
    except NoAnswer as none:
        findings.append(Finding(none.code, severity=Severity.CHECK, values=none.values))
        return None


def _once(findings: list[Finding]) -> list[Finding]:
    """Keep one finding of a kind and place."""
    out: list[Finding] = []
    for f in findings:
        if all((f.code, f.where) != (g.code, g.where) for g in out):
            out.append(f)
    return out
