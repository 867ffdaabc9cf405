"""Instances of the neutral layout, each type answered under one set of keys.

The layout is that of the published test instances (pooling, blend, share, allocation, clause): it knows no
buyers and no labs, and nothing is capped in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.liquefaction import LN_OFFSET_S
from lodestarch.plan.allocate.neighbours import worth_of_second, worth_of_tonne
from lodestarch.plan.allocate.plan import PlanSettings, plan_for
from lodestarch.plan.allocate.problem import PlanProblem
from lodestarch.plan.allocate.problem_check import check_problem
from lodestarch.plan.commingle.globally import is_installed, solve_globally
from lodestarch.plan.commingle.pieces import solve_in_pieces
from lodestarch.plan.commingle.pooling import Pooling, check_pooling
from lodestarch.plan.mix.least_cost import LeastCostMix, cheapest, check_mix, limit_slack
from lodestarch.plan.mix.low_share import largest_low_share
from lodestarch.plan.programme.outer import Ended, Solved
from lodestarch.trade.clauses import Sublot, read_clause
from lodestarch.trade.offer import Clause

__all__ = ["Asked", "Bound", "ClauseAsked", "Moved", "NeutralAnswer", "ShareAsked", "answer_neutral"]

_STATED = frozenset(
    {"plan-odds-not-stated", "plan-lab-not-stated", "plan-u-not-stated", "plan-law-margin-none"}
)
"""What this layout cannot state."""


@dataclass(frozen=True, slots=True)
class ShareAsked:
    """The largest share of a low lot. [s]"""

    high_s: float
    low_s: float
    target_s: float
    cv: float
    z: float


@dataclass(frozen=True, slots=True)
class ClauseAsked:
    """One cargo of equal sublots under one clause. [s]"""

    clause: Clause
    sublots_s: tuple[float, ...]


Asked = Pooling | LeastCostMix | ShareAsked | PlanProblem | ClauseAsked


@dataclass(frozen=True, slots=True)
class Moved:
    """One amount of the plan, from where to where."""

    origin: str
    to: str
    amount: float


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit that holds the answer back: what it is, of whom, and of which property."""

    what: Literal["supply", "demand", "capacity", "limit", "ingredients"]
    id: str
    factor: str | None = None
    stated: float | None = None


@dataclass(frozen=True, slots=True)
class NeutralAnswer:
    """The answer; what does not apply to a type is ``None``.

    Parameters
    ----------
    ended : Ended or None
        ``None`` where nothing was solved.
    objective, bound, gap : float or None
    plan : tuple of Moved or None
    binds : tuple of Bound or None
    tonne_more, second : dict or None
        Worth of one more tonne by bin, and of one second by outlet.
    passes : bool or None
        For a clause.
    by : str
        What solved it.
    seconds : float
        [s]
    """

    ended: Ended | None
    objective: float | None
    bound: float | None
    gap: float | None
    findings: tuple[Finding, ...]
    plan: tuple[Moved, ...] | None = None
    binds: tuple[Bound, ...] | None = None
    tonne_more: dict[str, float | None] | None = None
    second: dict[str, float | None] | None = None
    passes: bool | None = None
    by: str = "linear"
    seconds: float = 0.0


def answer_neutral(asked: Asked, settings: PlanSettings | None = None) -> NeutralAnswer:
    """Answer one instance.

    Examples
    --------
    >>> answer = answer_neutral(ShareAsked(400.0, 220.0, 300.0, 0.0, 0.0))
    >>> answer.ended.value, round(answer.objective, 9), answer.gap
    ('optimal', 0.377777778, 0.0)
    """
    settings = settings or PlanSettings()
    if isinstance(asked, Pooling):
        return _pooling(asked, settings)
    if isinstance(asked, LeastCostMix):
        return _mix(asked, settings)
    if isinstance(asked, ShareAsked):
        return _share(asked)
    if isinstance(asked, ClauseAsked):
        return _clause(asked)
    return _allocation(asked, settings)


def _stopped(findings: Sequence[Finding]) -> NeutralAnswer | None:
    if any(f.severity is Severity.STOP for f in findings):
        return NeutralAnswer(None, None, None, None, tuple(findings))
    return None


def _ending(
    ended: Ended, gap: float | None, settings: PlanSettings, *, mixed: bool = False
) -> tuple[Finding, ...]:
    where = Where(field="plan")
    if ended is Ended.INFEASIBLE:
        code = "plan-mix-infeasible" if mixed else "plan-infeasible"
        return (Finding(code, where, Severity.STOP, {"owed_t": None}),)
    if ended is Ended.UNBOUNDED:
        return (Finding("plan-unbounded", where, Severity.STOP),)
    if ended is Ended.NOTHING:
        return (Finding("plan-nothing-in-time", where, Severity.STOP, {"allowed_s": settings.time_s}),)
    if ended is Ended.FEASIBLE:
        values: dict[str, Value] = {
            "allowed_s": settings.time_s,
            "gap_pct": None if gap is None else 100.0 * gap,
            "asked_pct": 100.0 * settings.gap,
        }
        return (Finding("plan-gap-open", where, Severity.CHECK, values),)
    return ()


def _pooling(asked: Pooling, settings: PlanSettings) -> NeutralAnswer:
    findings = check_pooling(asked)
    stopped = _stopped(findings)
    if stopped is not None:
        return stopped
    if is_installed():
        found = solve_globally(asked, gap=settings.gap, time_s=settings.time_s)
    else:
        found = solve_in_pieces(asked, gap=max(settings.gap, 1e-6), time_s=settings.time_s)
    more = list(_ending(found.ended, found.gap, settings, mixed=True))
    if found.by == "pieces" and found.ended is Ended.FEASIBLE and found.gap is not None:
        more.append(
            Finding("plan-gap-stays", Where(field="plan"), Severity.CHECK, {"gap_pct": 100.0 * found.gap})
        )
    if found.objective is None:
        return NeutralAnswer(found.ended, None, found.bound, None, (*findings, *more), by=found.by)
    plan = tuple(Moved(a, b, f) for (a, b), f in found.flows.items())
    return NeutralAnswer(
        found.ended, found.objective, found.bound, found.gap, (*findings, *more), plan,
        _pooling_binds(asked, found.flows), by=found.by, seconds=found.seconds,
    )  # fmt: skip


def _pooling_binds(asked: Pooling, flows: dict[tuple[str, str], float] | object) -> tuple[Bound, ...]:
    ways = dict(flows) if isinstance(flows, dict) else {}
    out = {i.id: sum(f for (a, _), f in ways.items() if a == i.id) for i in asked.inputs}
    into = {n: sum(f for (_, b), f in ways.items() if b == n) for n in {b for _, b in ways}}
    found = [Bound("supply", i.id, None, i.supply_max) for i in asked.inputs if _met(out[i.id], i.supply_max)]
    found += [
        Bound("capacity", p.id, None, p.capacity)
        for p in asked.pools
        if _met(into.get(p.id, 0.0), p.capacity)
    ]
    found += [
        Bound("demand", d.id, None, d.demand_max)
        for d in asked.products
        if _met(into.get(d.id, 0.0), d.demand_max)
    ]
    return tuple(found)


def _met(amount: float, limit: float | None) -> bool:
    return limit is not None and amount >= limit - 1e-6 * max(1.0, abs(limit))


def _mix(asked: LeastCostMix, settings: PlanSettings) -> NeutralAnswer:
    findings = check_mix(asked)
    stopped = _stopped(findings)
    if stopped is not None:
        return stopped
    found = cheapest(asked, gap=settings.gap, time_s=settings.time_s)
    more = _ending(found.ended, found.gap, settings, mixed=True)
    if found.x is None:
        return _without(found, (*findings, *more))
    plan = tuple(
        Moved(i.id, "mix", float(x))
        for i, x in zip(asked.ingredients, found.x, strict=False)
        if x > 1e-9 * asked.total
    )
    amounts = found.x[: len(asked.ingredients)]
    binds = [
        Bound("limit", "mix", limit.property_, limit.limit)
        for limit in asked.limits
        if limit_slack(asked, limit, amounts) <= 1e-6 * max(1.0, abs(limit.limit))
    ]
    if asked.most_ingredients is not None and len(plan) == asked.most_ingredients:
        binds.append(Bound("ingredients", "mix", None, float(asked.most_ingredients)))
    return NeutralAnswer(
        found.ended, found.objective, found.bound, found.gap, (*findings, *more), plan, tuple(binds),
        seconds=found.seconds,
    )  # fmt: skip


def _without(found: Solved, findings: tuple[Finding, ...]) -> NeutralAnswer:
    bound = found.bound if math.isfinite(found.bound) else None
    return NeutralAnswer(found.ended, None, bound, None, findings, seconds=found.seconds)


def _share(asked: ShareAsked) -> NeutralAnswer:
    findings: list[Finding] = []
    for key, value in (("fn_high", asked.high_s), ("fn_low", asked.low_s), ("fn_target", asked.target_s)):
        if not math.isfinite(value):
            values: dict[str, Value] = {"key": key, "shown": str(value)}
            findings.append(Finding("plan-not-a-number", Where(field=key), Severity.STOP, values))
        elif value <= LN_OFFSET_S:
            values = {"key": key, "met_s": value}
            findings.append(Finding("plan-seconds-illegal", Where(field=key), Severity.STOP, values))
    for key, value in (("cv", asked.cv), ("z", asked.z)):
        if not (math.isfinite(value) and value >= 0.0):
            values = {"key": key, "shown": f"{value:g}"}
            findings.append(Finding("plan-negative", Where(field=key), Severity.STOP, values))
    stopped = _stopped(findings)
    if stopped is not None:
        return stopped
    found = largest_low_share(asked.high_s, asked.low_s, asked.target_s, cv=asked.cv, z=asked.z)
    more = _ending(found.ended, found.gap, PlanSettings(), mixed=True)
    if found.x is None:
        return _without(found, more)
    plan = (Moved("fn_high", "mix", float(found.x[0])), Moved("fn_low", "mix", float(found.x[1])))
    binds = (Bound("limit", "mix", "fn_s", asked.target_s),) if found.x[1] < 1.0 - 1e-9 else ()
    return NeutralAnswer(
        found.ended, -found.objective, -found.bound, found.gap, more, plan, binds, seconds=found.seconds
    )


def _clause(asked: ClauseAsked) -> NeutralAnswer:
    findings: list[Finding] = []
    if not asked.sublots_s:
        findings.append(Finding("plan-no-bins", Where(field="sublots"), Severity.STOP))
    for i, value in enumerate(asked.sublots_s, 1):
        where = Where(field=f"sublot {i}")
        if not math.isfinite(value):
            values: dict[str, Value] = {"key": "sublot", "shown": str(value)}
            findings.append(Finding("plan-not-a-number", where, Severity.STOP, values))
        elif value <= LN_OFFSET_S:
            values = {"key": "sublot", "met_s": value}
            findings.append(Finding("plan-seconds-illegal", where, Severity.STOP, values))
    stopped = _stopped(findings)
    if stopped is not None:
        return stopped
    read = read_clause(asked.clause, [Sublot(s, 1.0) for s in asked.sublots_s])
    return NeutralAnswer(None, read.value, None, None, (), passes=read.within, by="arithmetic")


def _allocation(asked: PlanProblem, settings: PlanSettings) -> NeutralAnswer:
    findings = tuple(f for f in check_problem(asked) if f.code not in _STATED)
    stopped = _stopped(findings)
    if stopped is not None:
        return stopped
    plan = plan_for(asked, settings)
    more = _ending(plan.ended, plan.gap, settings)
    if not plan.stands:
        return NeutralAnswer(plan.ended, None, plan.bound, None, (*findings, *more), seconds=plan.seconds)
    left = [b for i, b in enumerate(asked.bins) if not _met(float(plan.tonnes[i].sum()), b.tonnes)]
    binds = [Bound("supply", b.id, None, b.tonnes) for b in asked.bins if b not in left]
    judged = [o for o in asked.offers if o.clauses and any(d.offer_id == o.id for d in plan.draws)]
    second = {o.id: worth_of_second(asked, plan, o.id, settings).money for o in judged}
    binds += [Bound("limit", o.id, "fn_s", o.clauses[0].at_least) for o in judged if second[o.id]]
    return NeutralAnswer(
        ended=plan.ended,
        objective=plan.objective,
        bound=plan.bound,
        gap=plan.gap,
        findings=(*findings, *more),
        plan=tuple(Moved(d.bin_id, d.offer_id, d.tonnes) for d in plan.draws),
        binds=tuple(binds),
        tonne_more={b.id: worth_of_tonne(asked, plan, b.id, settings).money for b in asked.bins},
        second=second,
        seconds=plan.seconds,
    )
