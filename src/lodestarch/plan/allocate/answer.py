"""Everything that is answered to an allocation: the plan, its proof, its odds, and what lies beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.plan.allocate.blend_value import BlendValue, blend_values
from lodestarch.plan.allocate.check_odds import PlanOdds, simulate
from lodestarch.plan.allocate.check_plan import Breach, breaches, money_of
from lodestarch.plan.allocate.law import law_findings
from lodestarch.plan.allocate.loading import LoadingSheet, loading_sheets
from lodestarch.plan.allocate.neighbours import Worth, one_bin_fewer, worth_of_second, worth_of_tonne
from lodestarch.plan.allocate.plan import Plan, PlanSettings, plan_for
from lodestarch.plan.allocate.problem import PlanProblem
from lodestarch.plan.allocate.problem_check import check_problem
from lodestarch.plan.allocate.relax import Relaxation, relaxations
from lodestarch.plan.allocate.thumb import rule_of_thumb
from lodestarch.plan.programme.outer import Ended

__all__ = ["Allocation", "Binding", "ThumbAnswer", "allocate"]

_MOST_BESIDE: Final = 60
"""Plans solved beside the plan at most: bins and offers that bind come first, the rest is left out."""


@dataclass(frozen=True, slots=True)
class Binding:
    """Something that holds the plan back.

    Parameters
    ----------
    what : str
        ``bin-empty``: all that may leave has left; ``contract-full``; ``contract-least``: filled no further
        than it has to be; ``limit``: a blend stands at its limit; ``bins``: as many bins as are allowed.
    id : str
        Bin or offer.
    factor : str or None
        Of a limit.
    stated : float or None
        The limit.
    """

    what: Literal["bin-empty", "contract-full", "contract-least", "limit", "bins"]
    id: str
    factor: str | None = None
    stated: float | None = None


@dataclass(frozen=True, slots=True)
class ThumbAnswer:
    """The rule of thumb beside the plan. [money]

    Parameters
    ----------
    tonnes : dict
        By (bin, offer). [t]
    money : float
        Nominal.
    money_expected : float or None
        Under the odds, by the same simulation.
    breaches : tuple of Breach
        What the rule does not keep: a contract that it does not fill.
    ahead : float
        By how much the plan is ahead, nominally.
    ahead_expected : float or None
    """

    tonnes: dict[tuple[str, str], float]
    money: float
    money_expected: float | None
    breaches: tuple[Breach, ...]
    ahead: float
    ahead_expected: float | None


@dataclass(frozen=True, slots=True)
class Allocation:
    """The whole answer; ``plan`` is ``None`` where the problem could not be put."""

    problem: PlanProblem
    plan: Plan | None
    findings: tuple[Finding, ...]
    blends: tuple[BlendValue, ...] = ()
    sheets: tuple[LoadingSheet, ...] = ()
    odds: PlanOdds | None = None
    binding: tuple[Binding, ...] = ()
    tonne_more: tuple[Worth, ...] = ()
    second: tuple[Worth, ...] = ()
    fewer: Plan | None = None
    thumb: ThumbAnswer | None = None
    relaxations: tuple[Relaxation, ...] = ()
    breaches: tuple[Breach, ...] = ()
    money_checked: float | None = None


def allocate(
    problem: PlanProblem,
    rng: np.random.Generator,
    settings: PlanSettings | None = None,
    *,
    trials: int = 4000,
    beside: bool = True,
) -> Allocation:
    """Answer an allocation.

    Parameters
    ----------
    problem : PlanProblem
    rng : numpy.random.Generator
        For the simulation.
    settings : PlanSettings
    trials : int
        Of the simulation.
    beside : bool
        Solve for one more tonne, one second and one bin fewer as well.
    """
    settings = settings or PlanSettings()
    findings = [*check_problem(problem), *law_findings(problem)]
    if any(f.severity is Severity.STOP for f in findings):
        return Allocation(problem, None, tuple(findings))
    plan = plan_for(problem, settings)
    findings += _of_exclusions(plan)
    findings += _of_ending(problem, plan, settings)
    if not plan.stands:
        gives = relaxations(problem) if plan.ended is Ended.INFEASIBLE else ()
        return Allocation(problem, plan, tuple(findings), relaxations=gives)
    tonnes = {(d.bin_id, d.offer_id): d.tonnes for d in plan.draws}
    barred = [(e.bin_id, e.offer_id) for e in plan.excluded]
    broken = tuple(breaches(problem, tonnes, barred))
    findings += [_of_breach(b) for b in broken]
    blends = blend_values(problem, plan)
    # One stream for plan and rule: their difference is of the plans, not of chance.
    seed = int(rng.integers(2**63))
    odds = simulate(problem, tonnes, np.random.default_rng(seed), trials)
    findings += _of_joint_odds(problem, odds)
    binding = tuple(_binding(problem, plan, blends))
    bins = [b.id for b in binding if b.what == "bin-empty"][:_MOST_BESIDE]
    offers = list(dict.fromkeys(b.id for b in binding if b.what == "limit" and b.factor == "fn_s"))[
        :_MOST_BESIDE
    ]
    if not beside or plan.ended is not Ended.OPTIMAL:
        bins, offers = [], []
    return Allocation(
        problem=problem,
        plan=plan,
        findings=tuple(findings),
        blends=blends,
        sheets=loading_sheets(problem, plan, blends),
        odds=odds,
        binding=binding,
        tonne_more=tuple(worth_of_tonne(problem, plan, i, settings) for i in bins),
        second=tuple(worth_of_second(problem, plan, i, settings) for i in offers),
        fewer=one_bin_fewer(problem, plan, settings) if beside else None,
        thumb=_thumb(problem, plan, odds, seed, trials),
        breaches=broken,
        money_checked=money_of(problem, tonnes),
    )


def _of_exclusions(plan: Plan) -> Iterator[Finding]:
    for rule in dict.fromkeys(e.rule for e in plan.excluded if e.rule == "law"):
        ids = dict.fromkeys(e.bin_id for e in plan.excluded if e.rule == rule)
        sources = ", ".join(dict.fromkeys(e.source for e in plan.excluded if e.rule == rule and e.source))
        values = {"ids": ", ".join(ids), "sources": sources}
        yield Finding("plan-excluded-by-law", Where(field="bin"), Severity.NOTE, values)


def _of_ending(problem: PlanProblem, plan: Plan, settings: PlanSettings) -> Iterator[Finding]:
    where = Where(field="plan")
    if plan.ended is Ended.INFEASIBLE:
        owed = sum(o.least_t for o in problem.offers if o.is_contract)
        yield Finding("plan-infeasible", where, Severity.STOP, {"owed_t": owed})
    elif plan.ended is Ended.UNBOUNDED:
        yield Finding("plan-unbounded", where, Severity.STOP)
    elif plan.ended is Ended.NOTHING:
        yield Finding("plan-nothing-in-time", where, Severity.STOP, {"allowed_s": settings.time_s})
    elif plan.ended is Ended.FEASIBLE:
        gap = None if plan.gap is None else 100.0 * plan.gap
        asked = 100.0 * settings.gap
        values: dict[str, Value] = {"allowed_s": settings.time_s, "gap_pct": gap, "asked_pct": asked}
        yield Finding("plan-gap-open", where, Severity.CHECK, values)


def _of_joint_odds(problem: PlanProblem, odds: PlanOdds) -> Iterator[Finding]:
    """Blends whose limits, each with the wanted odds, hold together with less."""
    wanted = {o.id: o.wanted_odds for o in problem.offers}
    for met in odds.offers:
        asked = wanted.get(met.offer_id)
        if asked is None:
            continue
        chance = 3.0 * math.sqrt(asked * (1.0 - asked) / odds.trials)
        if met.passes < asked - chance:
            values: dict[str, Value] = {"id": met.offer_id, "met": met.passes, "wanted": asked}
            where = Where(field=f"offer {met.offer_id}")
            yield Finding("plan-odds-together", where, Severity.CHECK, values)


def _of_breach(breach: Breach) -> Finding:
    values: dict[str, Value] = {
        "what": breach.what,
        "id": breach.offer_id or breach.bin_id or "",
        "by": breach.by,
    }
    return Finding("plan-check-failed", Where(field="plan"), Severity.STOP, values)


def _binding(problem: PlanProblem, plan: Plan, blends: tuple[BlendValue, ...]) -> Iterator[Binding]:
    for i, one in enumerate(problem.bins):
        free = one.tonnes - one.reserve_t
        if free > 0.0 and plan.tonnes[i].sum() >= free - 1e-5 * max(1.0, free):
            yield Binding("bin-empty", one.id)
    for o, offer in enumerate(problem.offers):
        total = float(plan.tonnes[:, o].sum())
        if offer.most_t is not None and total >= offer.most_t - 1e-5 * max(1.0, offer.most_t):
            yield Binding("contract-full", offer.id)
        elif offer.is_contract and offer.least_t > 0.0 and total <= offer.least_t + 1e-5 * offer.least_t:
            yield Binding("contract-least", offer.id)
        if offer.most_bins is not None and int((plan.tonnes[:, o] > 0.0).sum()) == offer.most_bins:
            yield Binding("bins", offer.id)
    for blend in blends:
        for limit in blend.limits:
            if limit.binds:
                yield Binding("limit", blend.offer_id, limit.factor, limit.stated)


def _thumb(problem: PlanProblem, plan: Plan, odds: PlanOdds, seed: int, trials: int) -> ThumbAnswer:
    rule = rule_of_thumb(problem, plan.excluded)
    expected = simulate(problem, rule.tonnes, np.random.default_rng(seed), trials).money
    broken = breaches(problem, rule.tonnes, [(e.bin_id, e.offer_id) for e in plan.excluded])
    ahead = (plan.objective or 0.0) - rule.money
    return ThumbAnswer(rule.tonnes, rule.money, expected, tuple(broken), ahead, odds.money - expected)
