"""The uncertainty budget of one result, or of very many: "287, u 7, because"."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity
from lodestarch.common.nomenclature import require_legal
from lodestarch.precision.contribution import Contribution
from lodestarch.precision.distribution import Distribution
from lodestarch.precision.gum import combine, coverage_factor
from lodestarch.precision.monte_carlo import Simulated, simulate
from lodestarch.precision.sensitivity import MASS_FLOOR_S

__all__ = ["Budget", "BudgetLine", "Budgets", "budget_of", "budgets_of", "simulate_budget"]


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One contribution with its share.

    Parameters
    ----------
    contribution : Contribution
    share : float or None
        Part of the variance; ``None`` where not evaluated. [1]
    """

    contribution: Contribution
    share: float | None


@dataclass(frozen=True, slots=True)
class Budget:
    """Uncertainty budget of one result.

    Parameters
    ----------
    result_s : float
        The result. [s]
    expected_s : float
        Result plus the known shifts of the question (another lab, storage). [s]
    u_s : float
        Combined standard uncertainty. [s]
    dof : float
        Effective degrees of freedom; infinity where all lines have infinitely many.
    probability, k, half_width_s : float
        Content, coverage factor and half-width of the interval. [1, 1, s]
    lines : tuple of BudgetLine
        Largest first, then what was not evaluated.
    least_u_s, most_u_s : float
        Combined u with the least and the largest sensitivity of every line. [s]
    findings : tuple of Finding
        ``budget-not-evaluated`` for each open line; ``budget-sources-differ`` where the choice of
        sensitivities moves u by more than a tenth.
    """

    result_s: float
    expected_s: float
    u_s: float
    dof: float
    probability: float
    k: float
    half_width_s: float
    lines: tuple[BudgetLine, ...]
    least_u_s: float
    most_u_s: float
    findings: tuple[Finding, ...]


def budget_of(result_s: float, contributions: Sequence[Contribution], *, probability: float = 0.95) -> Budget:
    """Combine the lines of one result.

    Parameters
    ----------
    result_s : float
        The result. [s]  Legal 60 to 900.
    contributions : sequence of Contribution
        Independent. At least one evaluated.
    probability : float
        Content of the interval. Above 0, below 1.

    Returns
    -------
    Budget

    Raises
    ------
    OutOfRange
        When the result is not a legal number of seconds, or the probability not between 0 and 1.
    NoAnswer
        ``budget-empty`` when nothing was evaluated.

    Examples
    --------
    >>> from lodestarch.common.provenance import Provenance
    >>> lines = [
    ...     Contribution("tube", 6.0, 40.0, Provenance.MEASURED_HERE),
    ...     Contribution("moisture", 2.5, math.inf, Provenance.ENTERED_BY_LAB),
    ... ]
    >>> b = budget_of(287.0, lines)
    >>> round(b.u_s, 1), [round(line.share, 2) for line in b.lines]
    (6.5, [0.85, 0.15])
    """
    require_legal("seconds", result_s)
    if not 0.0 < probability < 1.0:
        raise OutOfRange("probability", probability, 0.0, 1.0, "1")
    known = [c for c in contributions if c.u_s is not None]
    if not known:
        raise NoAnswer("budget-empty", lines=len(contributions))
    u = np.array([c.u_s for c in known], dtype=np.float64)
    total = combine(u, [c.dof for c in known])
    u_s, dof = float(total.u), float(total.dof)
    k = float(coverage_factor(dof, probability))
    least = _norm([c.u_s if c.least_u_s is None else c.least_u_s for c in known])
    most = _norm([c.u_s if c.most_u_s is None else c.most_u_s for c in known])
    order = np.argsort(-u, kind="stable")
    lines = [BudgetLine(known[i], float(total.share[i])) for i in order]
    lines += [BudgetLine(c, None) for c in contributions if c.u_s is None]
    expected = result_s + sum(c.shift_s for c in contributions)
    return Budget(
        result_s, expected, u_s, dof, probability, k, k * u_s, tuple(lines), least, most,
        _findings(contributions, u_s, least, most),
    )  # fmt: skip


def _norm(values: Sequence[float | None]) -> float:
    return math.sqrt(sum(v * v for v in values if v is not None))


def _findings(
    contributions: Sequence[Contribution], u_s: float, least: float, most: float
) -> tuple[Finding, ...]:
    out = [
        Finding("budget-not-evaluated", severity=Severity.NOTE, values={"line": c.key})
        for c in contributions
        if c.u_s is None
    ]
    if most - least > 0.1 * u_s:
        values = {"least_u_s": least, "most_u_s": most}
        out.append(Finding("budget-sources-differ", severity=Severity.NOTE, values=values))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Budgets:
    """Budgets of many results at once.

    Parameters
    ----------
    u_s, dof, half_width_s : ndarray
        One value per result. [s, 1, s]
    share : ndarray
        Shape (results, lines). [1]
    """

    u_s: FloatArray
    dof: FloatArray
    half_width_s: FloatArray
    share: FloatArray


def budgets_of(u_s: npt.ArrayLike, dof: npt.ArrayLike, *, probability: float = 0.95) -> Budgets:
    """Combine the lines of many results in one go.

    Parameters
    ----------
    u_s : array_like
        Contributions, shape (results, lines); none negative. [s]
    dof : array_like
        Degrees of freedom, same shape or broadcast to it; above 0.
    probability : float
        Content of the interval.

    Returns
    -------
    Budgets
    """
    total = combine(u_s, dof)
    half = coverage_factor(total.dof, probability) * total.u
    return Budgets(total.u, total.dof, np.asarray(half), total.share)


def simulate_budget(
    budget: Budget, rng: np.random.Generator, *, block: int = 50_000, digits: int = 2
) -> Simulated:
    """Check a budget by drawing every line from its own form (GUM Supplement 1).

    Parameters
    ----------
    budget : Budget
    rng : numpy.random.Generator
    block : int
        Draws in a block.
    digits : int
        Significant digits of u that shall stand.

    Returns
    -------
    Simulated
        Of the expected value. Power-law lines are drawn through their law, so that curvature shows.
    """
    known = [line.contribution for line in budget.lines if line.contribution.u_s is not None]
    spreads = [_spread_of(c) for c in known]
    above = budget.result_s - MASS_FLOOR_S

    def model(x: FloatArray) -> FloatArray:
        y = np.full(x.shape[1], budget.expected_s)
        for c, d in zip(known, x, strict=True):
            if c.exponent is not None and c.reference is not None and c.sensitivity:
                step = d / c.sensitivity / c.reference
                y += above * (np.maximum(1.0 + step, 0.0) ** c.exponent - 1.0)
            else:
                y += d
        return y

    return simulate(model, spreads, rng, probability=budget.probability, block=block, digits=digits)


def _spread_of(c: Contribution) -> Distribution:
    """Distribution of a line in seconds: half-widths are restored from u where the form wants them."""
    u = c.u_s or 0.0
    if c.form in {"rectangular", "triangular", "arcsine"}:
        return Distribution(c.form, 0.0, u / Distribution(c.form, 0.0, 1.0).u)
    return Distribution(c.form, 0.0, u, c.dof)
