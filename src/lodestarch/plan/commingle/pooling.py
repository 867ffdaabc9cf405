"""Pooling as a value: what comes in, what it is poured into, what goes out, and by which ways.

A pool has one quality, the mean by amount of what enters it. As it goes out to several products the problem
is bilinear, with many local optima: a plan counts with the bound that is proven for it and no more.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.plan.programme.outer import Ended
from lodestarch.plan.programme.programme import INF

__all__ = [
    "Inflow",
    "Pool",
    "Pooled",
    "Pooling",
    "Product",
    "check_pooling",
    "most_through",
    "pooling_breaches",
]


@dataclass(frozen=True, slots=True)
class Inflow:
    """One lot: cost a unit, bounds of its supply, quality by name; ``supply_max`` ``None``: no bound."""

    id: str
    cost: float
    supply_min: float
    supply_max: float | None
    quality: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Pool:
    """One place in which lots are poured together; ``capacity`` ``None``: no bound."""

    id: str
    capacity: float | None


@dataclass(frozen=True, slots=True)
class Product:
    """One outlet: price a unit, bounds of its demand, bounds of its quality."""

    id: str
    price: float
    demand_min: float
    demand_max: float | None
    quality_max: Mapping[str, float]
    quality_min: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Pooling:
    """The whole network; ``arcs`` are the ways that exist."""

    inputs: tuple[Inflow, ...]
    pools: tuple[Pool, ...]
    products: tuple[Product, ...]
    arcs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Pooled:
    """An answer: cost less revenue, its proven bound from below, and the flows.

    Parameters
    ----------
    ended : Ended
        *optimal* only where the bound proves it.
    objective, bound, gap : float or None
    flows : dict
        By way.
    shares : dict
        Share of each input in each pool, by (input, pool). [1]
    by : str
        ``global``: a solver for bilinear problems; ``pieces``: pieces of shares and whole numbers.
    seconds : float
        [s]
    """

    ended: Ended
    objective: float | None
    bound: float | None
    gap: float | None
    flows: Mapping[tuple[str, str], float]
    shares: Mapping[tuple[str, str], float]
    by: Literal["global", "pieces"]
    seconds: float


def most_through(problem: Pooling, pool: Pool, product: Product) -> float:
    """Upper bound of the flow from a pool to a product; infinite where nothing bounds it."""
    feeding = [i for i in problem.inputs if (i.id, pool.id) in problem.arcs]
    supply = sum(INF if i.supply_max is None else i.supply_max for i in feeding)
    limits = (pool.capacity, product.demand_max)
    return min(supply, *(INF if m is None else m for m in limits))


def check_pooling(problem: Pooling) -> tuple[Finding, ...]:
    """Findings about a network before it is solved."""
    return tuple(_findings(problem))


def _findings(problem: Pooling) -> Iterator[Finding]:
    if not problem.inputs:
        yield Finding("plan-no-bins", Where(field="inputs"), Severity.STOP)
    if not problem.products:
        yield Finding("plan-no-offers", Where(field="products"), Severity.STOP)
    ids = [i.id for i in problem.inputs] + [p.id for p in problem.pools] + [d.id for d in problem.products]
    for name in dict.fromkeys(i for i in ids if ids.count(i) > 1):
        values = {"kind": "node", "id": name}
        yield Finding("plan-id-twice", Where(field=name), Severity.STOP, values)
    for place, key, value in _numbers(problem):
        where = Where(field=f"{place}, {key}")
        if value is not None and not math.isfinite(value):
            yield Finding("plan-not-a-number", where, Severity.STOP, {"key": key, "shown": str(value)})
        elif value is not None and key in _AMOUNTS and value < 0.0:
            yield Finding("plan-negative", where, Severity.STOP, {"key": key, "shown": f"{value:g}"})
    yield from _of_arcs(problem)
    yield from _of_bounds(problem)


_AMOUNTS = frozenset({"supply_min", "supply_max", "capacity", "demand_min", "demand_max"})


def _numbers(problem: Pooling) -> Iterator[tuple[str, str, float | None]]:
    for i in problem.inputs:
        yield from ((i.id, k, v) for k, v in (("cost", i.cost), ("supply_min", i.supply_min)))
        yield i.id, "supply_max", i.supply_max
        yield from ((i.id, k, v) for k, v in i.quality.items())
    for p in problem.pools:
        yield p.id, "capacity", p.capacity
    for d in problem.products:
        yield from ((d.id, k, v) for k, v in (("price", d.price), ("demand_min", d.demand_min)))
        yield d.id, "demand_max", d.demand_max
        yield from ((d.id, k, v) for q in (d.quality_max, d.quality_min) for k, v in q.items())


def _of_arcs(problem: Pooling) -> Iterator[Finding]:
    sources = {i.id for i in problem.inputs} | {p.id for p in problem.pools}
    sinks = {d.id for d in problem.products} | {p.id for p in problem.pools}
    pools = {p.id for p in problem.pools}
    for a, b in problem.arcs:
        if a not in sources or b not in sinks or (a in pools and b in pools):
            values = {"key": f"{a} - {b}"}
            yield Finding("plan-key-missing", Where(field=f"arc {a} - {b}"), Severity.STOP, values)
    wanted = {q for d in problem.products for q in (*d.quality_max, *d.quality_min)}
    for i in problem.inputs:
        for q in sorted(wanted - set(i.quality)):
            yield Finding("plan-key-missing", Where(field=f"{i.id}, {q}"), Severity.STOP, {"key": q})


def _of_bounds(problem: Pooling) -> Iterator[Finding]:
    pairs = [
        *((i.id, "supply", i.supply_min, i.supply_max) for i in problem.inputs),
        *((d.id, "demand", d.demand_min, d.demand_max) for d in problem.products),
        *(
            (d.id, q, d.quality_min[q], d.quality_max[q])
            for d in problem.products
            for q in d.quality_min
            if q in d.quality_max
        ),
    ]
    for place, key, low, high in pairs:
        if high is not None and low > high:
            values = {"key": key, "low": f"{low:g}", "high": f"{high:g}"}
            yield Finding("plan-crossed", Where(field=f"{place}, {key}"), Severity.STOP, values)
    for pool in problem.pools:
        for product in problem.products:
            if (pool.id, product.id) in problem.arcs and math.isinf(most_through(problem, pool, product)):
                yield Finding("plan-unbounded", Where(field=f"{pool.id} - {product.id}"), Severity.STOP)
    for i in problem.inputs:
        open_ = [d for d in problem.products if (i.id, d.id) in problem.arcs and d.demand_max is None]
        if i.supply_max is None and any(d.price > i.cost for d in open_):
            yield Finding("plan-unbounded", Where(field=i.id), Severity.STOP)


def pooling_breaches(problem: Pooling, flows: Mapping[tuple[str, str], float]) -> dict[str, float]:
    """Rules that flows break, by name, and by how much; made from the flows alone.

    The quality of a pool is computed from what enters it, so that flows that pretend otherwise are found.
    """
    found: dict[str, float] = {}

    def note(name: str, by: float, size: float) -> None:
        if by > 1e-6 * max(1.0, size):
            found[name] = by

    into = {n: sum(f for (_, b), f in flows.items() if b == n) for _, n in problem.arcs}
    out = {n: sum(f for (a, _), f in flows.items() if a == n) for n, _ in problem.arcs}
    for way, flow in flows.items():
        note(f"way {way}", -flow if way in problem.arcs else abs(flow), 1.0)
    for i in problem.inputs:
        note(
            f"supply {i.id}",
            out.get(i.id, 0.0) - (INF if i.supply_max is None else i.supply_max),
            out.get(i.id, 0.0),
        )
        note(f"least supply {i.id}", i.supply_min - out.get(i.id, 0.0), i.supply_min)
    quality: dict[str, Mapping[str, float]] = {i.id: i.quality for i in problem.inputs}
    for p in problem.pools:
        entering = into.get(p.id, 0.0)
        note(f"balance {p.id}", abs(entering - out.get(p.id, 0.0)), entering)
        note(f"capacity {p.id}", entering - (INF if p.capacity is None else p.capacity), entering)
        names = problem.inputs[0].quality if problem.inputs else {}
        if entering > 0.0:
            quality[p.id] = {
                q: float(np.sum([flows.get((i.id, p.id), 0.0) * i.quality[q] for i in problem.inputs]))
                / entering
                for q in names
            }
    for d in problem.products:
        amount = into.get(d.id, 0.0)
        note(f"demand {d.id}", amount - (INF if d.demand_max is None else d.demand_max), amount)
        note(f"least demand {d.id}", d.demand_min - amount, d.demand_min)
        for bounds, side in ((d.quality_max, 1.0), (d.quality_min, -1.0)):
            for q, limit in bounds.items():
                total = sum(f * quality[a][q] for (a, b), f in flows.items() if b == d.id and f > 0.0)
                note(f"quality {d.id} {q}", side * (total - limit * amount), abs(limit) * amount)
    return found
