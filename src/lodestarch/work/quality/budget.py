"""A budget from what is typed: which spreads are known, and from where."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import NOWHERE, Finding, Severity, in_order, of_range
from lodestarch.common.provenance import Provenance
from lodestarch.control.lab_bias import LabBias
from lodestarch.method.scatter import DEFAULT_SCATTER, ScatterLaw
from lodestarch.precision.budget import Budget, budget_of, simulate_budget
from lodestarch.precision.contribution import (
    Contribution,
    from_law,
    input_line,
    not_evaluated,
    other_lab_line,
    place_line,
    storage_line,
    tube_line,
    variance_line,
)
from lodestarch.precision.distribution import Distribution
from lodestarch.precision.monte_carlo import Simulated
from lodestarch.precision.pairs import clean_pairs
from lodestarch.precision.scatter_fit import fit_pairs
from lodestarch.precision.scatter_result import ScatterFit
from lodestarch.precision.sensitivity import (
    Sensitivity,
    choose_sensitivity,
    mass_slope,
    moisture_slope,
    pressure_slope,
    water_slope,
)
from lodestarch.sheets.plain_columns import placed, read_columns
from lodestarch.work.quality.sent_out import bias_of_file

__all__ = ["BudgetAnswer", "BudgetAsked", "answer_budget", "pairs_fit"]


@dataclass(frozen=True, slots=True)
class BudgetAsked:
    """What is known of one result; ``None``: not known, the line stays open.

    Parameters
    ----------
    seconds : float
        The result. [s]
    tubes : int
    cv_pct : float or None
        CV of one tube, entered; otherwise own pairs or the stated default. [%]
    grinding_sd_s, grinds : float or None, int
        SD between grinds; how many are in the result. [s]
    sampling_sd_s, probes : float or None, int
        SD between probes; how many are in the result. [s]
    moisture_within_pct : float or None
        Half-width within which the moisture is right: a meter's tolerance. [%]
    weighing_u_g, water_u_ml, pressure_u_hpa : float or None
        Standard uncertainties. [g, mL, hPa]
    place_sd_s, places : float or None, int
        SD between positions, stirrers and tubes. [s]
    other_sd_s, other_bias_s, other_bias_u_s : float or None, float, float
        Where the question is about another lab. [s]
    days, drift_s_per_day, drift_u_s_per_day : float or None, float, float
        Storage between our test and the question's date. [d, s/d]
    probability : float
    own_slopes : tuple of (str, float)
        Sensitivities measured at the own bench, by line: seconds per %, g, mL or hPa. They come before
        derived ones, and the range over the sources is carried through.
    """

    seconds: float
    tubes: int = 2
    cv_pct: float | None = None
    grinding_sd_s: float | None = None
    grinds: int = 1
    sampling_sd_s: float | None = None
    probes: int = 1
    moisture_within_pct: float | None = None
    weighing_u_g: float | None = None
    water_u_ml: float | None = None
    pressure_u_hpa: float | None = None
    place_sd_s: float | None = None
    places: int = 1
    other_sd_s: float | None = None
    other_bias_s: float = 0.0
    other_bias_u_s: float = 0.0
    days: float | None = None
    drift_s_per_day: float = 0.0
    drift_u_s_per_day: float = 0.0
    probability: float = 0.95
    own_slopes: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class BudgetAnswer:
    """A budget, its check by drawing where asked for, and the fit that the tube's line came from."""

    budget: Budget | None
    simulated: Simulated | None
    fit: ScatterFit | None
    findings: tuple[Finding, ...]


def pairs_fit(data: bytes, name: str) -> tuple[ScatterFit | None, tuple[Finding, ...]]:
    """Fit the scatter to a file of duplicates: ``first``, ``second`` and, where there, ``sample``."""
    columns = read_columns(
        data, name, texts=("sample",), seconds=("first", "second"), required=("first", "second")
    )
    if not columns.has("first") or not columns.has("second"):
        return None, columns.findings
    pairs = clean_pairs(
        columns.numbers["first"],
        columns.numbers["second"],
        first_kind=columns.kinds["first"],
        second_kind=columns.kinds["second"],
        names=[s or "" for s in columns.texts["sample"]] if columns.has("sample") else None,
    )
    fit = fit_pairs(pairs)
    return fit, in_order((*columns.findings, *placed(fit.findings, columns)))


def answer_budget(
    asked: BudgetAsked,
    *,
    pairs: tuple[bytes, str] | None = None,
    sent_out: tuple[bytes, str] | None = None,
    rng: Any = None,
) -> BudgetAnswer:
    """Make the budget of one result.

    Parameters
    ----------
    asked : BudgetAsked
    pairs : tuple of bytes and str, optional
        A file of duplicates and its name: own data come before an entered CV.
    sent_out : tuple of bytes and str, optional
        A file of samples that the other lab measured too (``ours``, ``theirs``, where there ``occasion``) and
        its name: the bias by this pair of labs and how far it wanders, in place of what is entered.
    rng : numpy.random.Generator, optional
        Check by drawing.
    """
    fit, findings = pairs_fit(*pairs) if pairs is not None else (None, ())
    try:
        lines = _lines(asked, fit)
        if sent_out is not None:
            bias, more = bias_of_file(*sent_out, _law(asked, fit), asked.tubes)
            findings = (*findings, *more)
            if bias is not None:
                lines = [x for x in lines if x.key != "other-lab"] + [_from_bias(bias)]
        budget = budget_of(asked.seconds, lines, probability=asked.probability)
    except OutOfRange as cause:
        return BudgetAnswer(None, None, fit, (*findings, of_range(cause, NOWHERE)))
    except NoAnswer as cause:
        return BudgetAnswer(
            None, None, fit, (*findings, Finding(cause.code, severity=Severity.STOP, values=cause.values))
        )
    drawn = simulate_budget(budget, rng) if rng is not None else None
    return BudgetAnswer(budget, drawn, fit, in_order((*findings, *budget.findings)))


def _law(asked: BudgetAsked, fit: ScatterFit | None) -> ScatterLaw:
    """Own pairs come before an entered CV, and that before the stated default."""
    if fit is not None:
        return fit.law
    if asked.cv_pct is not None:
        return ScatterLaw("constant-cv", (asked.cv_pct / 100.0,), Provenance.ENTERED_BY_LAB)
    return DEFAULT_SCATTER


def _from_bias(bias: LabBias) -> Contribution:
    """The other lab as paired results tell it: a known shift, how sure it is, and how far it wanders."""
    line = other_lab_line(
        bias.sd_between_s, dof=bias.dof, provenance=Provenance.MEASURED_HERE, bias_s=bias.bias_s,
        u_bias_s=bias.u_bias_s,
    )  # fmt: skip
    return replace(line, source="own-data")


def _lines(asked: BudgetAsked, fit: ScatterFit | None) -> list[Contribution]:
    entered = Provenance.ENTERED_BY_LAB
    s = asked.seconds
    tube = from_law(_law(asked, None), s, asked.tubes) if fit is None else tube_line(fit, s, asked.tubes)
    lines = [
        tube,
        _spread("grinding", asked.grinding_sd_s, asked.grinds),
        _spread("sampling", asked.sampling_sd_s, asked.probes),
    ]
    inputs = (
        ("moisture", asked.moisture_within_pct, "rectangular", moisture_slope, 1.0),
        ("weighing", asked.weighing_u_g, "normal", mass_slope, float(asked.tubes)),
        ("water", asked.water_u_ml, "normal", water_slope, float(asked.tubes)),
        ("pressure", asked.pressure_u_hpa, "normal", pressure_slope, 1.0),
    )
    for key, width, form, slope, repeats in inputs:
        if width is None:
            lines.append(not_evaluated(key))
            continue
        if width < 0:
            raise OutOfRange(key, width, 0.0, math.inf, "")
        spread = Distribution(form, 0.0, width)  # type: ignore[arg-type]  # one of two literals above
        sources = [slope(s)]
        sources += [
            Sensitivity(own, sources[0].per, "own-data", Provenance.MEASURED_HERE)
            for name, own in asked.own_slopes
            if name == key
        ]
        lines.append(
            input_line(key, spread, choose_sensitivity(sources), provenance=entered, repeats=repeats)
        )
    lines.append(
        not_evaluated("place")
        if asked.place_sd_s is None
        else place_line(asked.place_sd_s, asked.places, dof=math.inf, provenance=entered)
    )
    if asked.other_sd_s is not None:
        lines.append(
            other_lab_line(
                asked.other_sd_s,
                dof=math.inf,
                provenance=entered,
                bias_s=asked.other_bias_s,
                u_bias_s=asked.other_bias_u_s,
            )
        )
    if asked.days is not None:
        lines.append(
            storage_line(
                asked.days, asked.drift_s_per_day, asked.drift_u_s_per_day, dof=math.inf, provenance=entered
            )
        )
    return lines


def _spread(key: str, sd_s: float | None, repeats: int) -> Contribution:
    if sd_s is None:
        return not_evaluated(key)
    return variance_line(key, sd_s, float(repeats), dof=math.inf, provenance=Provenance.ENTERED_BY_LAB)
