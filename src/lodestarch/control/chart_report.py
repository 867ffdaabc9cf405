"""The charts of one or several check materials read whole."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError, NoAnswer
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.control.charts import IndividualsChart, individuals
from lodestarch.control.memory_charts import CusumChart, EwmaChart, cusum, ewma
from lodestarch.control.run_length import arl_rules
from lodestarch.control.runs_rules import RULES, Rule, RuleSignal, runs_rules
from lodestarch.precision.summary import summarise

__all__ = ["ChartReport", "MaterialChart", "RunLengths", "read_charts"]

_CORRELATED: Final = 3.0
"""Standard errors beyond which a lag-1 autocorrelation is named: rules count on independent values."""
_NAMED: Final = 20


@dataclass(frozen=True, slots=True)
class RunLengths:
    """Runs until the rules in use signal, on average.

    Parameters
    ----------
    in_control, shift_1_sd, shift_2_sd : float
        Without a shift, and after one of one and of two SDs.
    """

    in_control: float
    shift_1_sd: float
    shift_2_sd: float


@dataclass(frozen=True, slots=True)
class MaterialChart:
    """One material.

    Parameters
    ----------
    material : str
    target : float or None
        As given.
    rows : tuple of int
        Rows of its values, from 0, in order of time.
    n : int
    mean : float
    sd : float or None
    lag1 : float or None
        Autocorrelation at lag 1.
    individuals : IndividualsChart or None
    ewma : EwmaChart or None
    cusum : CusumChart or None
    signals : tuple of RuleSignal
        Places count within the material.
    """

    material: str
    target: float | None
    rows: tuple[int, ...]
    n: int
    mean: float | None
    sd: float | None
    lag1: float | None
    individuals: IndividualsChart | None
    ewma: EwmaChart | None
    cusum: CusumChart | None
    signals: tuple[RuleSignal, ...]


@dataclass(frozen=True, slots=True)
class ChartReport:
    """All materials, with what the rules in use promise.

    Parameters
    ----------
    materials : tuple of MaterialChart
    rules : tuple of str
    run_lengths : RunLengths
    findings : tuple of Finding
        ``chart-rule`` for each broken rule, ``chart-autocorrelated``, ``chart-time-missing``,
        ``chart-targets-differ`` and those of the charts.
    """

    materials: tuple[MaterialChart, ...]
    rules: tuple[Rule, ...]
    run_lengths: RunLengths
    findings: tuple[Finding, ...]


def read_charts(
    value: npt.ArrayLike,
    *,
    when: Sequence[str | None] | None = None,
    material: npt.ArrayLike | None = None,
    target: npt.ArrayLike | None = None,
    sd: Mapping[str, float] | None = None,
    baseline: int | None = None,
    rules: Sequence[Rule] = RULES,
    weight: float = 0.2,
    width: float = 2.86,
) -> ChartReport:
    """Chart check results: one row a result.

    Parameters
    ----------
    value : array_like
        Results; missing ones are left out with a finding.
    when : sequence of str, optional
        Times as text that sorts (ISO 8601): rows are charted in that order; rows without one stay out with a
        finding. In the order given when left out.
    material : array_like of str, optional
        One material when left out.
    target : array_like, optional
        Assigned value of the material on each row; the mean of the baseline where missing.
    sd : mapping of str to float, optional
        Known SD by material.
    baseline : int, optional
        Number of first values of each material that set its centre and SD. All when left out.
    rules : sequence of str
    weight, width : float
        EWMA's weight and limit; the defaults have an in-control run length of 371 (derived).

    Returns
    -------
    ChartReport

    Raises
    ------
    LodestarchError
        When columns differ in length.
    """
    x = np.asarray(value, dtype=np.float64).ravel()
    names = np.full(x.size, "") if material is None else np.asarray(material).astype(str).ravel()
    targets = np.full(x.size, np.nan) if target is None else np.asarray(target, dtype=np.float64).ravel()
    if not names.size == targets.size == x.size or (when is not None and len(when) != x.size):
        raise LodestarchError("columns of a chart differ in length")
    findings: list[Finding] = []
    order = _order(when, x.size, findings)
    out = []
    for name in dict.fromkeys(names[order].tolist()):
        rows = order[names[order] == name]
        mine = _target(name, targets[rows], findings)
        known = (sd or {}).get(name)
        out.append(
            _material(
                name, rows, x[rows], mine, known, baseline, tuple(rules), (weight, width), when, findings
            )
        )
    return ChartReport(tuple(out), tuple(rules), _run_lengths(tuple(rules)), tuple(findings))


@lru_cache(maxsize=8)
def _run_lengths(rules: tuple[Rule, ...]) -> RunLengths:
    """Run lengths of a set of rules, kept: they take a good tenth of a second."""
    return RunLengths(*(arl_rules(shift, rules=rules) for shift in (0.0, 1.0, 2.0)))


def _order(when: Sequence[str | None] | None, n: int, findings: list[Finding]) -> npt.NDArray[np.int64]:
    if when is None:
        return np.arange(n)
    timed = [(text, i) for i, text in enumerate(when) if text]
    findings += [
        Finding("chart-time-missing", Where(row=i + 1), Severity.CHECK)
        for i, text in list(enumerate(when))
        if not text
    ][:_NAMED]
    return np.array([i for _, i in sorted(timed)], dtype=np.int64)


def _target(name: str, targets: FloatArray, findings: list[Finding]) -> float | None:
    known = targets[np.isfinite(targets)]
    if not known.size:
        return None
    if float(np.ptp(known)) > 0.0:
        values: dict[str, Value] = {"material": name, "low": float(known.min()), "high": float(known.max())}
        findings.append(Finding("chart-targets-differ", severity=Severity.CHECK, values=values))
    return float(known[-1])


def _material(
    name: str,
    rows: npt.NDArray[np.int64],
    x: FloatArray,
    target: float | None,
    sd: float | None,
    baseline: int | None,
    rules: tuple[Rule, ...],
    memory: tuple[float, float],
    when: Sequence[str | None] | None,
    findings: list[Finding],
) -> MaterialChart:
    good = np.isfinite(x)
    findings += [
        Finding("chart-value-missing", Where(row=int(i) + 1), Severity.STOP) for i in rows[~good][:_NAMED]
    ]
    findings += [
        Finding("chart-value-negative", Where(row=int(rows[i]) + 1), Severity.CHECK, {"value": float(x[i])})
        for i in np.flatnonzero(good & (x < 0.0))[:_NAMED]
    ]
    rows, x = rows[good], x[good]
    kept = tuple(int(i) for i in rows)
    try:
        chart = individuals(x, baseline=baseline, target=target, sd=sd)
    except NoAnswer as none:
        findings.append(Finding(none.code, severity=Severity.CHECK, values={"material": name, **none.values}))
        mean = float(x.mean()) if x.size else None
        return MaterialChart(name, target, kept, int(x.size), mean, None, None, None, None, None, ())
    findings += [f for f in chart.findings if f.code == "chart-baseline-short"]
    about = summarise(x)
    base = chart.baseline
    # Runs rules count SDs; a short baseline widens them by the same factor as its limits.
    z = (x - base.centre) / (base.sd * (1.0 if baseline is None else chart.factor / 3.0))
    signals = runs_rules(z, rules=rules)
    findings += [
        Finding(
            "chart-rule", Where(row=kept[s.at] + 1), Severity.CHECK,
            {"material": name, "rule": s.rule, "value": float(x[s.at]),
             "when": None if when is None else when[kept[s.at]], "values": len(s.places)},
        )
        for s in signals[:_NAMED]
    ]  # fmt: skip
    if about.lag1 is not None and abs(about.lag1) * math.sqrt(x.size) > _CORRELATED:
        values: dict[str, Value] = {"material": name, "lag1": about.lag1, "values": int(x.size)}
        findings.append(Finding("chart-autocorrelated", severity=Severity.NOTE, values=values))
    weight, width = memory
    return MaterialChart(
        name, target, kept, int(x.size), about.mean, about.sd, about.lag1, chart,
        ewma(x, centre=base.centre, sd=base.sd, weight=weight, width=width),
        cusum(x, target=base.centre, sd=base.sd), signals,
    )  # fmt: skip
