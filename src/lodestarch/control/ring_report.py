"""A ring test whole: one material measured by many labs, read as precision and as scores."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError, NoAnswer
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.control.ring_precision import RingPrecision, ring_precision
from lodestarch.control.ring_scores import Score, score
from lodestarch.control.robust import Robust, algorithm_a, q_hampel

__all__ = ["Assigned", "LabScore", "MaterialReport", "RingReport", "ring_test"]

_FEW_LABS: Final = 8
"""Laboratories below which a robust consensus is shaky (ISO 13528 advises twelve or so; recalled)."""


@dataclass(frozen=True, slots=True)
class Assigned:
    """Assigned value of a material, given by the organiser.

    Parameters
    ----------
    value, u : float
        In the unit of the results; u at least 0.
    sigma_pt : float or None
        SD for the assessment; the robust SD of the labs when ``None``.
    """

    value: float
    u: float
    sigma_pt: float | None = None


@dataclass(frozen=True, slots=True)
class LabScore:
    """One laboratory on one material.

    Parameters
    ----------
    lab : str
    n : int
    mean : float
    u : float or None
        Standard uncertainty that it states.
    score : Score or None
        ``None`` where no spread exists to score against.
    excluded : bool
        Left out of assigned value and precision on request.
    """

    lab: str
    n: int
    mean: float
    u: float | None
    score: Score | None
    excluded: bool


@dataclass(frozen=True, slots=True)
class MaterialReport:
    """One material.

    Parameters
    ----------
    material : str
    labs, n : int
    assigned : float or None
        Assigned value.
    u_assigned, sigma_pt : float or None
    assigned_by : str
        ``given``, ``algorithm-a``, ``q-hampel`` or ``none``.
    algorithm_a, q_hampel : Robust or None
        Both robust pairs, for comparison.
    precision : RingPrecision or None
        ISO 5725-2 figures without the excluded labs.
    scores : tuple of LabScore
        In order of laboratory.
    """

    material: str
    labs: int
    n: int
    assigned: float | None
    u_assigned: float | None
    sigma_pt: float | None
    assigned_by: str
    algorithm_a: Robust | None
    q_hampel: Robust | None
    precision: RingPrecision | None
    scores: tuple[LabScore, ...]


@dataclass(frozen=True, slots=True)
class RingReport:
    """All materials of a ring test, with findings."""

    materials: tuple[MaterialReport, ...]
    findings: tuple[Finding, ...]


def ring_test(
    lab: Sequence[str] | npt.ArrayLike,
    value: npt.ArrayLike,
    material: Sequence[str] | npt.ArrayLike | None = None,
    *,
    u: npt.ArrayLike | None = None,
    assigned: Mapping[str, Assigned] | None = None,
    exclude: Sequence[tuple[str | None, str]] = (),
) -> RingReport:
    """Read a ring test: one row a determination.

    Parameters
    ----------
    lab : array_like of str
    value : array_like
        Results in one unit; missing ones become findings.
    material : array_like of str, optional
        One material when left out.
    u : array_like, optional
        Standard uncertainty that a laboratory states for its mean; the same on each of its rows, or missing.
    assigned : mapping of str to Assigned, optional
        Given assigned values by material; the labs' consensus otherwise.
    exclude : sequence of (material or None, lab)
        Laboratories left out of consensus and precision, decided by a person; ``None``: on every material.
        They are still scored.

    Returns
    -------
    RingReport

    Raises
    ------
    LodestarchError
        When columns differ in length.

    Notes
    -----
    Nobody is left out automatically: outlier tests are reported, and a person decides. The consensus is
    Algorithm A over laboratory means; where more than half of them are equal the Q method stands in.
    """
    y = np.asarray(value, dtype=np.float64).ravel()
    labs = np.asarray(lab).astype(str).ravel()
    what = np.full(y.size, "") if material is None else np.asarray(material).astype(str).ravel()
    stated = np.full(y.size, np.nan) if u is None else np.asarray(u, dtype=np.float64).ravel()
    if not labs.size == what.size == stated.size == y.size:
        raise LodestarchError("columns of a ring test differ in length")
    findings = _row_findings(y, labs, stated, given=u is not None)
    stated = np.where(stated > 0.0, stated, np.nan)
    good = np.isfinite(y)
    reports = []
    for name in dict.fromkeys(what.tolist()):
        rows = good & (what == name)
        out = {b for a, b in exclude if a is None or a == name}
        report, more = _material(name, labs[rows], y[rows], stated[rows], (assigned or {}).get(name), out)
        reports.append(report)
        findings += more
    return RingReport(tuple(reports), tuple(findings))


def _row_findings(
    y: FloatArray, labs: npt.NDArray[np.str_], stated: FloatArray, *, given: bool
) -> list[Finding]:
    out = [
        Finding("ring-value-missing", Where(row=int(i) + 1), Severity.STOP, {"lab": str(labs[i])})
        for i in np.flatnonzero(~np.isfinite(y))[:20]
    ]
    out += [
        Finding("ring-value-negative", Where(row=int(i) + 1), Severity.CHECK,
                {"lab": str(labs[i]), "value": float(y[i])})
        for i in np.flatnonzero(y < 0.0)[:20]
    ]  # fmt: skip
    if given:
        out += [
            Finding("ring-u-not-positive", Where(row=int(i) + 1), Severity.CHECK, {"lab": str(labs[i])})
            for i in np.flatnonzero(~np.isnan(stated) & ~(stated > 0.0))[:20]
        ]
    return out


def _material(
    name: str,
    labs: npt.NDArray[np.str_],
    y: FloatArray,
    stated: FloatArray,
    given: Assigned | None,
    excluded: set[str],
) -> tuple[MaterialReport, list[Finding]]:
    findings: list[Finding] = []
    order = sorted(set(labs.tolist()))
    means = {b: float(y[labs == b].mean()) for b in order}
    kept = [b for b in order if b not in excluded]
    basis = np.array([means[b] for b in kept])
    a, q = _consensus(basis, name, findings)
    value, u_value, sigma, by = _assigned(given, a, q)
    inside = ~np.isin(labs, list(excluded)) if excluded else np.ones(labs.size, dtype=np.bool_)
    precision = None
    try:
        precision = ring_precision(labs[inside], y[inside])
        findings += _precision_findings(name, precision)
    except NoAnswer as none:
        findings.append(Finding(none.code, severity=Severity.STOP, values={"material": name, **none.values}))
    scores = tuple(
        _score(b, y[labs == b], stated[labs == b], value, sigma, u_value, excluded=b in excluded)
        for b in order
    )
    findings += _score_findings(name, scores)
    report = MaterialReport(name, len(order), int(y.size), value, u_value, sigma, by, a, q, precision, scores)
    return report, findings


def _consensus(basis: FloatArray, name: str, findings: list[Finding]) -> tuple[Robust | None, Robust | None]:
    a = q = None
    values: dict[str, Value] = {"material": name, "labs": int(basis.size)}
    if 3 <= basis.size < _FEW_LABS:
        findings.append(Finding("ring-consensus-few-labs", severity=Severity.NOTE, values=values))
    try:
        q = q_hampel(basis)
        a = algorithm_a(basis)
    except NoAnswer as none:
        code = "ring-all-equal" if none.code == "robust-all-equal" else "ring-consensus-too-few-labs"
        findings.append(Finding(code, severity=Severity.CHECK, values=values))
    if a is not None and a.collapsed:
        findings.append(Finding("ring-half-equal", severity=Severity.NOTE, values=values))
        a = None
    return a, q


def _assigned(
    given: Assigned | None, a: Robust | None, q: Robust | None
) -> tuple[float | None, float | None, float | None, str]:
    robust = a or q
    if given is not None:
        sigma = given.sigma_pt if given.sigma_pt is not None else robust.scale if robust else None
        return given.value, given.u, sigma, "given"
    if robust is None:
        return None, None, None, "none"
    return robust.location, robust.u, robust.scale, robust.method


def _score(
    lab: str,
    y: FloatArray,
    stated: FloatArray,
    value: float | None,
    sigma: float | None,
    u_value: float | None,
    *,
    excluded: bool,
) -> LabScore:
    known = stated[np.isfinite(stated)]
    u_lab = float(known[0]) if known.size else None
    mean = float(y.mean())
    result = None
    if (
        value is not None
        and u_value is not None
        and sigma is not None
        and math.isfinite(sigma)
        and sigma > 0.0
    ):
        result = score(mean, value, sigma, u_value, u_lab=u_lab)
    return LabScore(lab, int(y.size), mean, u_lab, result, excluded)


def _precision_findings(name: str, precision: RingPrecision) -> list[Finding]:
    out = [
        Finding(
            f"ring-{t.verdict}", severity=Severity.CHECK if t.verdict == "outlier" else Severity.NOTE,
            values={"material": name, "lab": t.lab, "test": t.test, "statistic": t.statistic,
                    "critical_5pc": t.critical_5pc, "critical_1pc": t.critical_1pc},
        )
        for t in precision.tests
        if t.verdict != "inlier"
    ]  # fmt: skip
    if precision.s_r is None:
        out.append(Finding("ring-no-replicates", severity=Severity.NOTE, values={"material": name}))
    return out


def _score_findings(name: str, scores: tuple[LabScore, ...]) -> list[Finding]:
    return [
        Finding(
            f"ring-score-{s.score.signal}",
            severity=Severity.CHECK if s.score.signal == "action" else Severity.NOTE,
            values={
                "material": name,
                "lab": s.lab,
                "score": s.score.z_prime if s.score.used == "z-prime" else s.score.z,
            },
        )
        for s in scores
        if s.score is not None and s.score.signal != "none"
    ]
