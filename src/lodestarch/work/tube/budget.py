"""What a bench can do about a reading: seconds per disturbance, and shares of its scatter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.tube.bench import Bench, shipped_bench
from lodestarch.tube.budget import Budget, Contribution, budget, contributions
from lodestarch.tube.shares import BenchShares, bench_shares
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import with_limits
from lodestarch.work.tube.asked import TubeAsked, state

__all__ = ["BudgetAnswer", "LevelBudget", "budget_tube"]

_POINTS = (16, 2**17)


@dataclass(frozen=True, slots=True)
class LevelBudget:
    """The budget of one reading.

    Parameters
    ----------
    lines : Budget
        Seconds per disturbance.
    parts : tuple of Contribution
        Standard uncertainty by input of the stated bench, first order; empty where there is no answer.
    u_s : float or None
        Their root sum of squares. [s]
    shares : BenchShares or None
        Sobol shares of the variance; ``None`` where not asked for.
    """

    lines: Budget
    parts: tuple[Contribution, ...]
    u_s: float | None
    shares: BenchShares | None


@dataclass(frozen=True, slots=True)
class BudgetAnswer:
    """Budgets of several readings on one bench."""

    levels: tuple[LevelBudget, ...]
    bench: Bench
    set_name: str
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def budget_tube(
    readings_s: tuple[float, ...],
    asked: TubeAsked,
    *,
    bench: Bench | None = None,
    points: int | None = 2048,
    rng: Any,
) -> BudgetAnswer:
    """Answer for some readings.

    Parameters
    ----------
    readings_s : tuple of float
        Falling numbers. [s]
    asked : TubeAsked
        The tube as it should be; its enzyme follows from each reading. One origin of enzyme.
    bench : Bench or None
        How far its inputs stray; ``None`` takes the shipped one.
    points : int or None
        Base points of the Sobol shares, 16 to 131072; ``None`` leaves them out.
    rng : numpy.random.Generator
        Source of chance for the shares; named ``Any`` because no array is made in this room.

    Returns
    -------
    BudgetAnswer
        ``tube-one-origin`` (stop) where several origins are stated: how unlike their decays are is not
        stated; ``tube-points`` (stop).
    """
    chosen = bench or shipped_bench()
    stated = state(asked, enzyme=False)
    found = stated.findings
    if stated.inputs is not None and len(stated.inputs.origins) > 1:
        found = (*found, Finding("tube-one-origin", Where(field="origins"), Severity.STOP))
    if points is not None and not _POINTS[0] <= points <= _POINTS[1]:
        told: dict[str, Value] = {"points": points, "low": _POINTS[0], "high": _POINTS[1]}
        found = (*found, Finding("tube-points", Where(field="points"), Severity.STOP, told))
    stopped = any(f.severity is Severity.STOP for f in found)
    if stopped or stated.inputs is None or stated.params is None:
        return BudgetAnswer((), chosen, asked.set_name, found, ())
    inputs, params = stated.inputs, stated.params
    levels = []
    limits: tuple[Limit, ...] = ()
    for reading in readings_s:
        lines = budget(reading, inputs, params)
        limits = with_limits(limits, *lines.limits)
        found = (*found, *lines.findings)
        if lines.activity is None:
            levels.append(LevelBudget(lines, (), None, None))
            continue
        parts, u_s = contributions(reading, inputs, params, chosen)
        shares = None
        if points is not None:
            shares = bench_shares(reading, inputs, params, chosen, rng, points=points)
            limits = with_limits(limits, *shares.limits)
        levels.append(LevelBudget(lines, parts, u_s, shares))
    return BudgetAnswer(tuple(levels), chosen, params.name, found, limits)
