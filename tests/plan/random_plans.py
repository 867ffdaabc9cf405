"""Plans drawn at random, and the same plans put to other solvers by code that shares nothing with ours.

``draw_convex`` gives plans without whole numbers: Clarabel solves their cones. ``draw_mixed`` gives price
bands, smallest draws, whole bins, gate steps and bins a blend at most: SCIP solves them with the cones as
quadratics.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import cvxpy as cp
import numpy as np
import pyscipopt

from lodestarch.plan.allocate.problem import (
    DecidingLab,
    FactorValue,
    PlanBin,
    PlanOffer,
    PlanProblem,
    PriceBand,
)
from lodestarch.trade.offer import Clause, Judged


def at_least(seconds):
    return Clause("fn_s", Judged.COMPOSITE, seconds, None)


def _bins(rng, n, *, mixed):
    bins = []
    for i in range(n):
        extra = {}
        if mixed:
            extra = {
                "whole": bool(rng.random() < 0.15),
                "least_draw_t": float(rng.choice([0.0, 20.0])),
                "gate_step_t": 10.0 if rng.random() < 0.15 else None,
                "gate_error_t": float(rng.choice([0.0, 2.0])),
            }
        bins.append(
            PlanBin(
                f"b{i}",
                float(np.round(rng.uniform(100, 500))),
                float(np.round(rng.uniform(180, 420))),
                fn_u_s=float(rng.uniform(3, 10)),
                factors={
                    "protein_pct": FactorValue(float(rng.uniform(9, 13)), float(rng.uniform(0.05, 0.2)))
                },
                keep_price_per_t=float(np.round(rng.uniform(120, 190))),
                **extra,
            )
        )
    return tuple(bins)


def _offers(rng, n, total, *, mixed):
    offers = []
    for o in range(n):
        floor = float(rng.choice([250, 275, 300, 320]))
        most = float(np.round(rng.uniform(0.2, 0.7) * total))
        clauses = [at_least(floor)]
        if rng.random() < 0.5:
            clauses.append(Clause("protein_pct", Judged.COMPOSITE, None, float(rng.uniform(10.5, 12.0))))
        if rng.random() < 0.2:
            clauses[0] = Clause("fn_s", Judged.COMPOSITE, 220.0, 290.0)
        bands = ()
        if mixed and rng.random() < 0.6:
            clauses = clauses[1:]
            bands = (
                PriceBand("fn_s", 320.0, None, 6.0),
                PriceBand("fn_s", 290.0, 320.0, 0.0),
                PriceBand("fn_s", 250.0, 290.0, -12.0),
                PriceBand("fn_s", None, 250.0, None),
            )
        offers.append(
            PlanOffer(
                f"o{o}",
                float(np.round(rng.uniform(180, 240), 2)),
                least_t=float(np.round(rng.choice([0.0, 0.3 * most]))),
                most_t=most,
                is_contract=bool(rng.random() < 0.7) or not mixed,
                clauses=tuple(clauses),
                bands=bands,
                wanted_odds=float(rng.choice([0.5, 0.9, 0.95])),
                lab=DecidingLab(
                    float(rng.uniform(5, 12)), float(rng.uniform(-4, 4)), float(rng.uniform(1, 5))
                ),
                most_bins=int(rng.integers(2, 4)) if mixed and rng.random() < 0.5 else None,
            )
        )
    return tuple(offers)


def draw_convex(seed):
    """A plan of 2 to 8 bins and 1 to 4 contracts without whole numbers."""
    rng = np.random.default_rng([seed, 1])
    bins = _bins(rng, int(rng.integers(2, 9)), mixed=False)
    total = sum(b.tonnes for b in bins)
    offers = _offers(rng, int(rng.integers(1, 5)), total, mixed=False)
    return PlanProblem(
        bins, offers, bench_u_s=float(rng.choice([0.0, 3.0])), law_u_s=float(rng.choice([0.0, 4.0]))
    )


def draw_mixed(seed):
    """A plan of 3 to 5 bins and 1 to 3 contracts with whole numbers."""
    rng = np.random.default_rng([seed, 2])
    bins = _bins(rng, int(rng.integers(3, 6)), mixed=True)
    total = sum(b.tonnes for b in bins)
    offers = _offers(rng, int(rng.integers(1, 4)), total, mixed=True)
    return PlanProblem(bins, offers, bench_u_s=float(rng.choice([0.0, 3.0])))


def _ln(s):
    return 6000.0 / (s - 50.0)


def _slope(s):
    return 6000.0 / (s - 50.0) ** 2


def _limits(problem, offer, factor, low, high):
    """(coefficients, own spreads, shared slopes, spread of the lab, z) of rows 'at most 0', by bin."""
    z = NormalDist().inv_cdf(offer.wanted_odds) if offer.wanted_odds > 0.5 else 0.0
    rows = []
    for limit, floor in ((low, True), (high, False)):
        if limit is None:
            continue
        if factor == "fn_s":
            at = limit - offer.lab.bias_s
            fn = np.array([min(b.fn_s, problem.cap_s) for b in problem.bins])
            lab = _slope(at) * math.sqrt(offer.lab.sd_s**2 + offer.lab.bias_u_s**2 + problem.law_u_s**2)
            own = _slope(fn) * np.array([b.fn_u_s for b in problem.bins])
            rows.append(
                ((1 if floor else -1) * (_ln(fn) - _ln(at)), own, _slope(fn) * problem.bench_u_s, lab, z)
            )
        else:
            value = np.array([b.factors[factor].value for b in problem.bins])
            u = np.array([b.factors[factor].u for b in problem.bins])
            rows.append(((-1 if floor else 1) * (value - limit), u, np.zeros(len(u)), 0.0, z))
    return rows


def by_clarabel(problem):
    """Optimum of a plan without whole numbers; ``None``: infeasible."""
    n, m = len(problem.bins), len(problem.offers)
    x = cp.Variable((n, m), nonneg=True)
    tonnes = np.array([b.tonnes for b in problem.bins])
    rules = [cp.sum(x, axis=1) <= tonnes]
    for o, offer in enumerate(problem.offers):
        total = cp.sum(x[:, o])
        rules += [total <= offer.most_t, total >= offer.least_t]
        for clause in offer.clauses:
            for row, own, shared, lab, z in _limits(
                problem, offer, clause.factor, clause.at_least, clause.at_most
            ):
                stack = cp.hstack([cp.multiply(own, x[:, o]), shared @ x[:, o], lab * total])
                rules.append(row @ x[:, o] + z * cp.norm(stack) <= 0)
    price = np.array([o.price_per_t for o in problem.offers])
    keep = np.array([b.keep_price_per_t for b in problem.bins])
    money = cp.sum(x @ price) + keep @ (tonnes - cp.sum(x, axis=1))
    asked = cp.Problem(cp.Maximize(money), rules)
    asked.solve(solver=cp.CLARABEL, tol_gap_rel=1e-9, tol_gap_abs=1e-9, tol_feas=1e-9)
    if asked.status in {cp.INFEASIBLE, cp.INFEASIBLE_INACCURATE}:
        return None
    assert asked.status in {cp.OPTIMAL, cp.OPTIMAL_INACCURATE}, asked.status
    return float(asked.value)


def by_scip(problem, gap=1e-7, time_s=60.0):  # noqa: PLR0912  # one rule after the other, as the problem states them
    """(objective, bound) of a plan with whole numbers; ``None``: infeasible."""
    m = pyscipopt.Model()
    m.hideOutput()
    m.setParam("limits/gap", gap)
    m.setParam("limits/time", time_s)
    m.setParam("numerics/feastol", 1e-9)
    q = pyscipopt.quicksum
    bins = range(len(problem.bins))
    money, leaving = [], {i: [] for i in bins}
    drawn_of = {i: [] for i in bins}
    for offer in problem.offers:
        cells = [(offer.price_per_t, [])]
        if offer.bands:
            cells = [
                (offer.price_per_t + b.change_per_t, [("fn_s", b.low, None)])
                for b in offer.bands
                if b.change_per_t is not None
            ]
        used = [m.addVar(vtype="B") for _ in cells]
        m.addCons(q(used) <= 1)
        everything = []
        xs = []
        for (price, limits), d in zip(cells, used, strict=True):
            x = [m.addVar(lb=0.0) for _ in bins]
            y = [m.addVar(vtype="B") for _ in bins]
            total = m.addVar(lb=0.0)
            m.addCons(total == q(x))
            m.addCons(total <= offer.most_t * d)
            if not offer.is_contract:
                m.addCons(total >= offer.least_t * d)
            for i in bins:
                one = problem.bins[i]
                m.addCons(x[i] <= one.tonnes * y[i])
                m.addCons(x[i] >= one.least_draw_t * y[i])
                if one.whole:
                    m.addCons(x[i] == one.tonnes * y[i])
                leaving[i].append(x[i])
                drawn_of[i].append(y[i])
            if offer.most_bins is not None:
                m.addCons(q(y) <= offer.most_bins)
            wanted = [(c.factor, c.at_least, c.at_most) for c in offer.clauses] + limits
            for factor, low, high in wanted:
                for row, own, shared, lab, z in _limits(problem, offer, factor, low, high):
                    linear = q(float(row[i]) * x[i] for i in bins)
                    if z <= 0.0:
                        m.addCons(linear <= 0.0)
                        continue
                    terms = [(float(own[i]) * x[i]) for i in bins] + [lab * total]
                    if shared.any():
                        terms.append(q(float(shared[i]) * x[i] for i in bins))
                    terms += [problem.bins[i].gate_error_t * abs(float(row[i])) * y[i] for i in bins]
                    root = m.addVar(lb=0.0)
                    m.addCons(linear + z * root <= 0.0)
                    m.addCons(q(t * t for t in terms) <= root * root)
            everything.append(total)
            xs.append(x)
            money.append(price * total)
        for i in bins:
            step = problem.bins[i].gate_step_t
            if step and not problem.bins[i].whole:
                n = m.addVar(vtype="I", lb=0)
                m.addCons(q(x[i] for x in xs) == step * n)
        m.addCons(q(everything) <= offer.most_t)
        if offer.is_contract:
            m.addCons(q(everything) >= offer.least_t)
    for i in bins:
        m.addCons(q(leaving[i]) <= problem.bins[i].tonnes)
        if problem.bins[i].whole:
            m.addCons(q(drawn_of[i]) <= 1)
        money.append(problem.bins[i].keep_price_per_t * (problem.bins[i].tonnes - q(leaving[i])))
    m.setObjective(q(money), "maximize")
    m.optimize()
    if not m.getNSols():
        assert m.getStatus() == "infeasible", m.getStatus()
        return None
    return float(m.getObjVal()), float(m.getDualbound())
