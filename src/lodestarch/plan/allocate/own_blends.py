"""Own blends teach: how far the lab's blends came out from their prediction is the margin that a plan keeps.

No error of blends against the law is published, so that until a lab has blends of its own there is none to
keep.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Final

from scipy.special import stdtrit

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.plan.allocate.problem import PlanProblem

__all__ = ["ENOUGH", "OwnBlends", "with_own_blends"]

ENOUGH: Final = 5
"""Own blends below which no margin is taken from them. A choice of ours, that of the season room."""
_CHANCE: Final = 0.05
"""A mean error that chance brings less often than this counts as bias. Common practice."""
_AT: Final = 0.9
"""Odds at which the normal spread of the plan meets Student's for so few blends."""


@dataclass(frozen=True, slots=True)
class OwnBlends:
    """What own blends showed: how many were compared; spread, mean and its chance of their errors. [s]"""

    compared: int
    sd_s: float | None
    bias_s: float | None
    chance: float | None


def with_own_blends(problem: PlanProblem, own: OwnBlends) -> tuple[PlanProblem, tuple[Finding, ...]]:
    """Return the problem with the margin of own blends in place of the one it states.

    Notes
    -----
    The spread is that of the next blend, sd sqrt(1 + 1/n), widened from Student's quantile to the normal one
    at odds of 0.9. It holds the scatter of the bench and what mixing left unmixed as well, so that it is
    rather too wide. The bias counts where it is beyond chance.

    Examples
    --------
    >>> problem, told = with_own_blends(PlanProblem((), ()), OwnBlends(10, 6.0, -5.0, 0.03))
    >>> round(problem.law_u_s, 2), problem.law_bias_s, problem.own_blends, told[0].code
    (6.79, -5.0, 10, 'plan-blends-used')
    """
    where = Where(field="law_u_s")
    if own.compared < ENOUGH or own.sd_s is None or own.bias_s is None:
        values: dict[str, Value] = {"count": own.compared, "enough": ENOUGH}
        return problem, (Finding("plan-blends-not-enough", where, Severity.CHECK, values),)
    wider = float(stdtrit(own.compared - 1, _AT)) / NormalDist().inv_cdf(_AT)
    spread_s = wider * own.sd_s * math.sqrt(1.0 + 1.0 / own.compared)
    biased = own.chance is not None and own.chance < _CHANCE
    bias_s = own.bias_s if biased else 0.0
    values = {"count": own.compared, "law_u_s": spread_s, "law_bias_s": bias_s}
    taught = replace(problem, law_u_s=spread_s, law_bias_s=bias_s, own_blends=own.compared)
    return taught, (Finding("plan-blends-used", where, Severity.NOTE, values),)
