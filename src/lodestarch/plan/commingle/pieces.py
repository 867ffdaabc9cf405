"""Pooling without a solver for bilinear problems: shares in pieces, whole numbers, and an honest bound.

With q the share of an input in a pool and y the flow from the pool to a product, what of the input reaches
the product is v = q y (the pq formulation). On a piece of the range of q that product is enclosed by
four planes; one yes or no chooses the piece. This is a relaxation whatever the pieces are, so that its bound
is a bound. Shares held at the relaxation's own values give a plan. Pieces are split where the enclosure is
off most.

Source: M. Tawarmalani, N. V. Sahinidis, Convexification and Global Optimization in Continuous and
Mixed-Integer Nonlinear Programming, Kluwer 2002; recalled.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np

from lodestarch.plan.commingle.pooling import Pool, Pooled, Pooling, Product, most_through
from lodestarch.plan.programme.outer import Ended, relative_gap, solve
from lodestarch.plan.programme.programme import INF, Floats, Programme

__all__ = ["solve_in_pieces"]

_ROUNDS: Final = 40
_TURNS: Final = 12
_APART: Final = 1e-4
"""Two ends of pieces are no closer. [1]"""

Shares = dict[tuple[str, str], float]


@dataclass(slots=True)
class _Model:
    """A programme with the columns of every way."""

    programme: Programme = field(default_factory=Programme)
    direct: dict[tuple[str, str], int] = field(default_factory=dict)
    out: dict[tuple[str, str], int] = field(default_factory=dict)
    through: dict[tuple[str, str, str], int] = field(default_factory=dict)
    share: dict[tuple[str, str], int] = field(default_factory=dict)


def solve_in_pieces(problem: Pooling, *, gap: float = 1e-4, time_s: float = 60.0) -> Pooled:
    """Solve a pooling problem by pieces of shares.

    Parameters
    ----------
    problem : Pooling
        Checked: every flow through a pool has an upper bound.
    gap : float
        Relative gap to prove. [1]
    time_s : float
        Time in the solver. [s]

    Returns
    -------
    Pooled
        *optimal* only where the bound meets the plan within ``gap``.
    """
    ends = {
        (i.id, p.id): [0.0, 1.0]
        for i in problem.inputs
        for p in problem.pools
        if (i.id, p.id) in problem.arcs
    }
    best: tuple[float, Mapping[tuple[str, str], float], Shares] | None = None
    bound, spent = -INF, 0.0
    ended = Ended.NOTHING
    for _ in range(_ROUNDS):
        model = _relaxation(problem, ends)
        solved = solve(model.programme, gap=gap / 4.0, time_s=max(time_s - spent, 0.5))
        spent += solved.seconds
        if solved.ended is Ended.INFEASIBLE:
            ended = Ended.INFEASIBLE if best is None else Ended.OPTIMAL
            break
        bound = max(bound, solved.bound)
        if solved.x is None:
            break
        shares = {key: float(solved.x[c]) for key, c in model.share.items()}
        found, took = _from_shares(problem, shares)
        spent += took
        if found is not None and (best is None or found[0] < best[0]):
            best = found
        if best is not None and relative_gap(best[0], bound) <= gap:
            ended = Ended.OPTIMAL
            break
        if spent >= time_s or not _split(ends, model, solved.x, shares, None if best is None else best[2]):
            break
    if best is None:
        return Pooled(ended, None, bound if np.isfinite(bound) else None, None, {}, {}, "pieces", spent)
    ended = ended if ended is Ended.OPTIMAL else Ended.FEASIBLE
    bound = min(bound, best[0])
    return Pooled(ended, best[0], bound, relative_gap(best[0], bound), best[1], best[2], "pieces", spent)


def _frame(problem: Pooling, shares: Shares | None) -> _Model:
    """Columns, and the rows that hold for any enclosure; no columns for shares that are given."""
    m = _Model()
    p = m.programme
    price = {d.id: d.price for d in problem.products}
    cost = {i.id: i.cost for i in problem.inputs}
    pools = {q.id for q in problem.pools}
    for a, b in problem.arcs:
        if a in cost and b in price:
            m.direct[a, b] = p.add_column(cost=cost[a] - price[b])
        elif a in pools:
            most = most_through(problem, *_ends_of(problem, a, b))
            m.out[a, b] = p.add_column(cost=-price[b], high=most)
    for a, b in problem.arcs:
        if b not in pools:
            continue
        if shares is None:
            m.share[a, b] = p.add_column(high=1.0)
        for _, d in (way for way in m.out if way[0] == b):
            m.through[a, b, d] = p.add_column(cost=cost[a])
    for (pool, d), y in m.out.items():
        parts = [c for (_, q, e), c in m.through.items() if (q, e) == (pool, d)]
        p.add_row([*parts, y], [*np.ones(len(parts)), -1.0], 0.0, 0.0)
    _bounds(problem, m)
    return m


def _ends_of(problem: Pooling, pool: str, product: str) -> tuple[Pool, Product]:
    return next(q for q in problem.pools if q.id == pool), next(
        d for d in problem.products if d.id == product
    )


def _bounds(problem: Pooling, m: _Model) -> None:
    p = m.programme
    for i in problem.inputs:
        columns = [c for (a, _), c in m.direct.items() if a == i.id]
        columns += [c for (a, _, _), c in m.through.items() if a == i.id]
        p.add_row(columns, np.ones(len(columns)), i.supply_min, INF if i.supply_max is None else i.supply_max)
    for pool in problem.pools:
        columns = [c for (a, _), c in m.out.items() if a == pool.id]
        p.add_row(columns, np.ones(len(columns)), high=INF if pool.capacity is None else pool.capacity)
    quality = {i.id: i.quality for i in problem.inputs}
    for d in problem.products:
        columns = [c for (_, b), c in (*m.direct.items(), *m.out.items()) if b == d.id]
        p.add_row(columns, np.ones(len(columns)), d.demand_min, INF if d.demand_max is None else d.demand_max)
        parts = [(a, c) for (a, b), c in m.direct.items() if b == d.id]
        parts += [(a, c) for (a, _, b), c in m.through.items() if b == d.id]
        for bounds, side in ((d.quality_max, 1.0), (d.quality_min, -1.0)):
            for name, limit in bounds.items():
                p.add_row(
                    [c for _, c in parts], [side * (quality[a][name] - limit) for a, _ in parts], high=0.0
                )


def _shares_are_whole(m: _Model) -> None:
    """What enters a pool is all of it."""
    for pool in dict.fromkeys(p for _, p in m.share):
        columns = [c for (_, q), c in m.share.items() if q == pool]
        m.programme.add_row(columns, np.ones(len(columns)), 1.0, 1.0)


def _relaxation(problem: Pooling, ends: dict[tuple[str, str], list[float]]) -> _Model:
    m = _frame(problem, None)
    p = m.programme
    _shares_are_whole(m)
    for (i, pool), q in m.share.items():
        outs = [(d, y) for (a, d), y in m.out.items() if a == pool]
        # What enters over all products is at most the capacity times the share.
        capacity = next(x.capacity for x in problem.pools if x.id == pool)
        if capacity is not None:
            parts = [m.through[i, pool, d] for d, _ in outs]
            p.add_row([*parts, q], [*np.ones(len(parts)), -capacity], high=0.0)
        _enclose(problem, m, i, pool, q, outs, ends[i, pool])
    return m


def _enclose(
    problem: Pooling, m: _Model, i: str, pool: str, q: int, outs: list[tuple[str, int]], ends: list[float]
) -> None:
    """The four planes of v = q y on each piece of q, with one yes or no a piece."""
    p = m.programme
    pieces = list(pairwise(ends))
    n = len(pieces)
    low, high = np.array([a for a, _ in pieces]), np.array([b for _, b in pieces])
    on = p.add_columns(n, high=1.0, whole=n > 1, low=0.0 if n > 1 else 1.0)
    part = p.add_columns(n, high=1.0)
    p.add_row(on, np.ones(n), 1.0, 1.0)
    p.add_row([*part, q], [*np.ones(n), -1.0], 0.0, 0.0)
    for k in range(n):
        p.add_row([part[k], on[k]], [1.0, -high[k]], high=0.0)
        p.add_row([part[k], on[k]], [1.0, -low[k]], low=0.0)
    for d, y in outs:
        most = most_through(problem, *_ends_of(problem, pool, d))
        flow = p.add_columns(n, high=most)
        v = m.through[i, pool, d]
        p.add_row([*flow, y], [*np.ones(n), -1.0], 0.0, 0.0)
        for k in range(n):
            p.add_row([flow[k], on[k]], [1.0, -most], high=0.0)
        ones = np.ones(1)
        p.add_row([v, *flow], np.concatenate([ones, -low]), low=0.0)
        p.add_row([v, *flow], np.concatenate([ones, -high]), high=0.0)
        columns = [v, *part, *flow, *on]
        p.add_row(columns, np.concatenate([ones, np.full(n, -most), -high, most * high]), low=0.0)
        p.add_row(columns, np.concatenate([ones, np.full(n, -most), -low, most * low]), high=0.0)


def _from_shares(
    problem: Pooling, shares: Shares
) -> tuple[tuple[float, Mapping[tuple[str, str], float], Shares] | None, float]:
    """A plan with shares held; then flows are held and shares let go, in turn, as long as that pays."""
    best: tuple[float, Mapping[tuple[str, str], float], Shares] | None = None
    spent = 0.0
    for _ in range(_TURNS):
        m = _frame(problem, shares)
        for (i, pool, d), v in m.through.items():
            m.programme.add_row([v, m.out[pool, d]], [1.0, -shares[i, pool]], 0.0, 0.0)
        solved = solve(m.programme)
        spent += solved.seconds
        if solved.x is None or (
            best is not None and solved.objective >= best[0] - 1e-9 * max(1.0, abs(best[0]))
        ):
            break
        best = solved.objective, _flows(m, solved.x), shares
        moved, took = _shares_for(problem, m, solved.x)
        spent += took
        if moved is None:
            break
        shares = moved
    return best, spent


def _shares_for(problem: Pooling, m: _Model, x: Floats) -> tuple[Shares | None, float]:
    """The best shares for flows out of pools that are held."""
    turned = _frame(problem, None)
    p = turned.programme
    _shares_are_whole(turned)
    for way, y in turned.out.items():
        p.add_row([y], [1.0], float(x[m.out[way]]), float(x[m.out[way]]))
    for (i, pool, d), v in turned.through.items():
        p.add_row([v, turned.share[i, pool]], [1.0, -float(x[m.out[pool, d]])], 0.0, 0.0)
    solved = solve(p)
    if solved.x is None:
        return None, solved.seconds
    return {key: float(solved.x[c]) for key, c in turned.share.items()}, solved.seconds


def _flows(m: _Model, x: Floats) -> dict[tuple[str, str], float]:
    flows = {way: float(x[c]) for way, c in (*m.direct.items(), *m.out.items())}
    for (i, pool, _), c in m.through.items():
        flows[i, pool] = flows.get((i, pool), 0.0) + float(x[c])
    return {way: f for way, f in flows.items() if f > 1e-9}


def _split(
    ends: dict[tuple[str, str], list[float]], m: _Model, x: Floats, shares: Shares, best: Shares | None
) -> bool:
    """Split pieces at the relaxation's shares where its products are off, and at the best plan's shares."""
    off: dict[tuple[str, str], float] = {}
    for (i, pool, d), v in m.through.items():
        gap = abs(float(x[v]) - shares[i, pool] * float(x[m.out[pool, d]]))
        off[i, pool] = max(off.get((i, pool), 0.0), gap)
    worst = max(off.values(), default=0.0)
    done = False
    for key, by in off.items():
        wanted = [shares[key]] if by > 0.1 * worst and by > 1e-9 else []
        if best is not None and by > 1e-9:
            wanted.append(best[key])
        if wanted:
            a, b = next((a, b) for a, b in pairwise(ends[key]) if a - 1e-12 <= shares[key] <= b + 1e-12)
            wanted.append(0.5 * (a + b))
        for at in wanted:
            if all(abs(at - e) > _APART for e in ends[key]):
                ends[key] = sorted([*ends[key], at])
                done = True
    return done
