"""Pooling to a proven optimum, where the extra ``commingling`` is installed."""

from __future__ import annotations

import math
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from lodestarch.plan.commingle.pooling import Pooled, Pooling, most_through
from lodestarch.plan.programme.outer import Ended, relative_gap

__all__ = ["is_installed", "solve_globally"]

_LIBRARY = "pyscipopt"


def is_installed() -> bool:
    """Whether the extra is there."""
    return find_spec(_LIBRARY) is not None


def solve_globally(problem: Pooling, *, gap: float = 1e-6, time_s: float = 60.0) -> Pooled:
    """Solve the pq formulation with SCIP: the bound is proven over the whole range of shares.

    Parameters
    ----------
    problem : Pooling
        Checked.
    gap : float
        Relative gap to prove. [1]
    time_s : float
        [s]
    """
    library: Any = import_module(_LIBRARY)
    model = library.Model()
    model.hideOutput()
    model.setParam("limits/gap", gap)
    model.setParam("limits/time", time_s)
    model.setParam("numerics/feastol", 1e-9)
    pools = {p.id: p for p in problem.pools}
    price = {d.id: d.price for d in problem.products}
    cost = {i.id: i.cost for i in problem.inputs}
    product = {d.id: d for d in problem.products}
    z = {(a, b): model.addVar(lb=0.0) for a, b in problem.arcs if a in cost and b in price}
    y = {
        (a, b): model.addVar(lb=0.0, ub=most_through(problem, pools[a], product[b]))
        for a, b in problem.arcs
        if a in pools
    }
    q = {(a, b): model.addVar(lb=0.0, ub=1.0) for a, b in problem.arcs if b in pools}
    v = {(i, p, d): model.addVar(lb=0.0) for i, p in q for a, d in y if a == p}
    for pool in pools:
        shares = [x for (_, p), x in q.items() if p == pool]
        if shares:
            model.addCons(library.quicksum(shares) == 1.0)
    for (i, p, d), x in v.items():
        model.addCons(x == q[i, p] * y[p, d])
    for (p, d), flow in y.items():
        model.addCons(library.quicksum(x for (_, a, b), x in v.items() if (a, b) == (p, d)) == flow)
    for (i, p), share in q.items():
        capacity = pools[p].capacity
        if capacity is not None:
            model.addCons(
                library.quicksum(x for (a, b, _), x in v.items() if (a, b) == (i, p)) <= capacity * share
            )
    _bounds(library, model, problem, z, y, v)
    model.setObjective(
        library.quicksum((cost[a] - price[b]) * x for (a, b), x in z.items())
        + library.quicksum(cost[i] * x for (i, _, _), x in v.items())
        - library.quicksum(price[d] * x for (_, d), x in y.items())
    )
    model.optimize()
    return _answer(model, z, y, q, v, gap)


def _bounds(library: Any, model: Any, problem: Pooling, z: Any, y: Any, v: Any) -> None:
    total = library.quicksum
    for i in problem.inputs:
        out = [x for (a, _), x in z.items() if a == i.id] + [x for (a, _, _), x in v.items() if a == i.id]
        _between(model, total(out), i.supply_min, i.supply_max, bool(out))
    for p in problem.pools:
        out = [x for (a, _), x in y.items() if a == p.id]
        _between(model, total(out), 0.0, p.capacity, bool(out))
    quality = {i.id: i.quality for i in problem.inputs}
    for d in problem.products:
        entering = [x for (_, b), x in (*z.items(), *y.items()) if b == d.id]
        _between(model, total(entering), d.demand_min, d.demand_max, bool(entering))
        parts = [(a, x) for (a, b), x in z.items() if b == d.id] + [
            (a, x) for (a, _, b), x in v.items() if b == d.id
        ]
        for bounds, side in ((d.quality_max, 1.0), (d.quality_min, -1.0)):
            for name, limit in bounds.items():
                if parts:
                    model.addCons(total(side * (quality[a][name] - limit) * x for a, x in parts) <= 0.0)


def _between(model: Any, amount: Any, low: float, high: float | None, some: bool) -> None:
    if not some:
        if low > 0.0:
            model.addCons(model.addVar(lb=0.0, ub=0.0) >= low)
        return
    if low > 0.0:
        model.addCons(amount >= low)
    if high is not None:
        model.addCons(amount <= high)


def _answer(model: Any, z: Any, y: Any, q: Any, v: Any, gap: float) -> Pooled:
    status, seconds = str(model.getStatus()), float(model.getSolvingTime())
    bound = float(model.getDualbound())
    proven = bound if math.isfinite(bound) and abs(bound) < 1e19 else None
    if not model.getNSols():
        ended = {"infeasible": Ended.INFEASIBLE, "unbounded": Ended.UNBOUNDED}.get(status, Ended.NOTHING)
        return Pooled(ended, None, proven, None, {}, {}, "global", seconds)
    objective = float(model.getObjVal())
    flows = {way: float(model.getVal(x)) for way, x in (*z.items(), *y.items())}
    for (i, p, _), x in v.items():
        flows[i, p] = flows.get((i, p), 0.0) + float(model.getVal(x))
    met = relative_gap(objective, objective if proven is None else min(proven, objective))
    ended = Ended.OPTIMAL if proven is not None and met <= gap * 1.01 + 1e-12 else Ended.FEASIBLE
    return Pooled(
        ended=ended,
        objective=objective,
        bound=None if proven is None else min(proven, objective),
        gap=None if proven is None else met,
        flows={way: f for way, f in flows.items() if f > 1e-7},
        shares={key: float(model.getVal(x)) for key, x in q.items()},
        by="global",
        seconds=seconds,
    )
