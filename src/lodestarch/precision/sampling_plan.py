"""How many probes, grinds and tubes bring u under a target at least cost."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity

__all__ = ["Costs", "Plan", "PlanAnswer", "SpreadOf", "cheapest_plan", "u_of_plan"]


@dataclass(frozen=True, slots=True)
class SpreadOf:
    """SD of each step.

    Parameters
    ----------
    probe_s, grind_s, tube_s : float
        SD between probes, between grinds of one composite, between tubes of one grind. [s]  At least 0.
    fixed_s : float
        What no repeat in this lab averages out (moisture meter, other lab). [s]  At least 0.
    """

    probe_s: float
    grind_s: float
    tube_s: float
    fixed_s: float = 0.0

    def __post_init__(self) -> None:
        for name in ("probe_s", "grind_s", "tube_s", "fixed_s"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise OutOfRange(name, value, 0.0, math.inf, "s")


@dataclass(frozen=True, slots=True)
class Costs:
    """Cost of one probe, one grind, one tube, in any one unit (money, minutes). None negative."""

    probe: float
    grind: float
    tube: float

    def __post_init__(self) -> None:
        for name in ("probe", "grind", "tube"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise OutOfRange(name, value, 0.0, math.inf, "cost")


@dataclass(frozen=True, slots=True)
class Plan:
    """One way to test a lot.

    Parameters
    ----------
    probes, grinds, tubes : int
        Probes poured into one composite; grinds of it; tubes in all, shared evenly among the grinds.
    u_s, cost : float
        Standard uncertainty and cost.
    """

    probes: int
    grinds: int
    tubes: int
    u_s: float
    cost: float


@dataclass(frozen=True, slots=True)
class PlanAnswer:
    """The cheapest plan that reaches the target, and the best one when none does.

    Parameters
    ----------
    best : Plan
    reached : bool
    frontier : tuple of Plan
        Plans that no other one beats in both u and cost, cheapest first.
    least_u_s : float
        Smallest u within the numbers allowed. [s]
    findings : tuple of Finding
        ``plan-target-out-of-reach``.
    """

    best: Plan
    reached: bool
    frontier: tuple[Plan, ...]
    least_u_s: float
    findings: tuple[Finding, ...]


def u_of_plan(spread: SpreadOf, probes: FloatArray, grinds: FloatArray, tubes: FloatArray) -> FloatArray:
    """Standard uncertainty of a plan. [s]

    Parameters
    ----------
    spread : SpreadOf
    probes, grinds, tubes : ndarray
        Numbers in all, each at least 1.

    Notes
    -----
    u^2 = s_probe^2/n_probes + s_grind^2/n_grinds + s_tube^2/n_tubes + s_fixed^2: probes are poured together,
    grinds are taken from the composite, tubes are shared evenly among the grinds.

    Examples
    --------
    >>> seven = u_of_plan(SpreadOf(50.0**0.5, 0.0, 9.0), *(np.array(n) for n in (7.0, 1.0, 2.0)))
    >>> round(float(seven), 2)
    6.9
    """
    v = spread.probe_s**2 / probes + spread.grind_s**2 / grinds + spread.tube_s**2 / tubes
    return np.asarray(np.sqrt(v + spread.fixed_s**2))


def cheapest_plan(
    spread: SpreadOf,
    costs: Costs,
    target_u_s: float,
    *,
    most_probes: int = 20,
    most_grinds: int = 6,
    most_tubes_per_grind: int = 4,
) -> PlanAnswer:
    """Find the cheapest numbers of probes, grinds and tubes that bring u to a target.

    Parameters
    ----------
    spread : SpreadOf
    costs : Costs
    target_u_s : float
        Wanted standard uncertainty. [s]  Above 0.
    most_probes, most_grinds, most_tubes_per_grind : int
        Numbers looked at; every combination is tried, so that the answer is the least cost within them.

    Returns
    -------
    PlanAnswer

    Examples
    --------
    >>> answer = cheapest_plan(SpreadOf(7.0, 3.0, 6.0), Costs(1.0, 6.0, 4.0), 5.0)
    >>> answer.best.probes, answer.best.grinds, answer.best.tubes
    (7, 1, 4)
    """
    if not (math.isfinite(target_u_s) and target_u_s > 0.0):
        raise OutOfRange("target_u_s", target_u_s, 0.0, math.inf, "s")
    shape = np.meshgrid(
        np.arange(1, most_probes + 1), np.arange(1, most_grinds + 1), np.arange(1, most_tubes_per_grind + 1)
    )
    probes, grinds, per_grind = (x.ravel().astype(np.float64) for x in shape)
    tubes = grinds * per_grind
    u = u_of_plan(spread, probes, grinds, tubes)
    cost = costs.probe * probes + costs.grind * grinds + costs.tube * tubes
    order = np.lexsort((u, cost))
    plans = [Plan(int(probes[i]), int(grinds[i]), int(tubes[i]), float(u[i]), float(cost[i])) for i in order]
    frontier: list[Plan] = []
    for plan in plans:
        if not frontier or plan.u_s < frontier[-1].u_s - 1e-12:
            frontier.append(plan)
    reaching = [p for p in frontier if p.u_s <= target_u_s * (1.0 + 1e-12)]
    least = frontier[-1].u_s
    if reaching:
        return PlanAnswer(reaching[0], True, tuple(frontier), least, ())
    finding = Finding(
        "plan-target-out-of-reach",
        severity=Severity.CHECK,
        values={"target_u_s": target_u_s, "least_u_s": least},
    )
    return PlanAnswer(frontier[-1], False, tuple(frontier), least, (finding,))
