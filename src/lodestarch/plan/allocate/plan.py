"""A plan: tonnes by bin and offer, what is proven of it, and nothing that is not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.plan.allocate.build import Built, build
from lodestarch.plan.allocate.exclude import exclusions
from lodestarch.plan.allocate.problem import Excluded, PlanProblem
from lodestarch.plan.programme.outer import Ended, Solved, solve
from lodestarch.plan.programme.programme import Floats

__all__ = ["Draw", "Plan", "PlanSettings", "plan_for"]

_DUST_T: Final = 1e-7
"""Tonnes below which a draw is the solver's rounding. [t]"""


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """How far and how long to look.

    Parameters
    ----------
    gap : float
        Relative gap to prove. [1]
    time_s : float
        Time in the solver for one plan. [s]
    """

    gap: float = 1e-6
    time_s: float = 30.0


@dataclass(frozen=True, slots=True)
class Draw:
    """Tonnes from one bin to one offer."""

    bin_id: str
    offer_id: str
    tonnes: float


@dataclass(frozen=True, slots=True)
class Plan:
    """The answer of the model.

    Parameters
    ----------
    ended : Ended
    objective, bound : float or None
        Earned and kept; the best that any plan could bring. [money]  ``None`` without a plan or a proof.
    gap : float or None
        Their distance over the objective. [1]
    draws : tuple of Draw
        In the order of offers, then bins.
    tonnes : ndarray, bins by offers
    price_per_t : dict
        Price of the band in which each offer's blend was planned, by offer id. [money/t]
    excluded : tuple of Excluded
    seconds : float
        Time in the solver. [s]
    rounds, tangents : int
        Runs with whole numbers, tangents of chance constraints.
    """

    ended: Ended
    objective: float | None
    bound: float | None
    gap: float | None
    draws: tuple[Draw, ...]
    tonnes: Floats
    price_per_t: dict[str, float]
    excluded: tuple[Excluded, ...]
    seconds: float
    rounds: int
    tangents: int

    @property
    def stands(self) -> bool:
        """Whether there is a plan."""
        return self.objective is not None


def plan_for(problem: PlanProblem, settings: PlanSettings | None = None) -> Plan:
    """Find the plan that earns most, to a proven gap.

    Parameters
    ----------
    problem : PlanProblem
        Checked before: see :mod:`lodestarch.plan.allocate.problem_check`.
    settings : PlanSettings

    Examples
    --------
    >>> from lodestarch.plan.allocate.problem import PlanBin, PlanOffer
    >>> from lodestarch.trade.offer import Clause, Judged
    >>> at_300 = Clause("fn_s", Judged.COMPOSITE, 300.0, None)
    >>> bins = (PlanBin("a", 500.0, 400.0), PlanBin("b", 400.0, 260.0), PlanBin("c", 200.0, 150.0))
    >>> offers = (PlanOffer("mill", 230.0, clauses=(at_300,)), PlanOffer("feed", 190.0))
    >>> plan = plan_for(PlanProblem(bins, offers))
    >>> plan.ended.value, round(plan.objective, 2)
    ('optimal', 246777.78)
    """
    settings = settings or PlanSettings()
    excluded = exclusions(problem)
    built = build(problem, excluded)
    solved = solve(built.programme, gap=settings.gap, time_s=settings.time_s)
    return _plan_of(built, solved, excluded)


def _plan_of(built: Built, solved: Solved, excluded: tuple[Excluded, ...]) -> Plan:
    problem = built.problem
    shape = (len(problem.bins), len(problem.offers))
    tonnes = np.zeros(shape) if solved.x is None else built.draws(solved.x)
    tonnes = np.where(tonnes < _DUST_T, 0.0, tonnes)
    draws = tuple(
        Draw(one.id, offer.id, float(tonnes[i, o]))
        for o, offer in enumerate(problem.offers)
        for i, one in enumerate(problem.bins)
        if tonnes[i, o] > 0.0
    )
    prices = {}
    if solved.x is not None:
        for c in built.cells:
            if solved.x[c.total] > _DUST_T:
                prices[problem.offers[c.offer].id] = c.cell.price_per_t
    known = solved.x is not None
    return Plan(
        ended=solved.ended,
        objective=-solved.objective if known else None,
        bound=-solved.bound if np.isfinite(solved.bound) else None,
        gap=solved.gap if known and np.isfinite(solved.gap) else None,
        draws=draws,
        tonnes=tonnes,
        price_per_t=prices,
        excluded=excluded,
        seconds=solved.seconds,
        rounds=solved.rounds,
        tangents=solved.tangents,
    )
