"""The cheapest mix of ingredients that keeps limits on its properties, at the mean or with wanted odds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.plan.programme.outer import Solved, solve
from lodestarch.plan.programme.programme import Cone, Floats, Programme

__all__ = ["Ingredient", "LeastCostMix", "MixLimit", "cheapest", "check_mix", "limit_slack"]


@dataclass(frozen=True, slots=True)
class Ingredient:
    """One lot: cost a unit, and for each property a mean and the variance of an independent normal error."""

    id: str
    cost: float
    mean: Mapping[str, float]
    variance: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class MixLimit:
    """A limit on the mean of a property by amount; ``z`` 0: at the mean, else that many spreads away."""

    property_: str
    at_least: bool
    limit: float
    z: float = 0.0


@dataclass(frozen=True, slots=True)
class LeastCostMix:
    """A mix as it is asked: amounts that sum to ``total``, of ``most_ingredients`` at most."""

    ingredients: tuple[Ingredient, ...]
    limits: tuple[MixLimit, ...]
    total: float
    most_ingredients: int | None = None


def check_mix(mix: LeastCostMix) -> tuple[Finding, ...]:
    """Findings about a mix before it is solved."""
    return tuple(_findings(mix))


def _findings(mix: LeastCostMix) -> Iterator[Finding]:
    if not mix.ingredients:
        yield Finding("plan-no-bins", Where(field="ingredients"), Severity.STOP)
    ids = [i.id for i in mix.ingredients]
    for name in dict.fromkeys(i for i in ids if ids.count(i) > 1):
        where = Where(field=f"ingredient {name}")
        yield Finding("plan-id-twice", where, Severity.STOP, {"kind": "ingredient", "id": name})
    if not math.isfinite(mix.total):
        values = {"key": "total", "shown": str(mix.total)}
        yield Finding("plan-not-a-number", Where(field="total"), Severity.STOP, values)
    elif mix.total <= 0.0:
        values = {"key": "total", "shown": f"{mix.total:g}"}
        yield Finding("plan-negative", Where(field="total"), Severity.STOP, values)
    for one in mix.ingredients:
        yield from _of_ingredient(one, mix.limits)
    for limit in mix.limits:
        if not (math.isfinite(limit.limit) and math.isfinite(limit.z)):
            values = {"key": limit.property_, "shown": str(limit.limit)}
            yield Finding("plan-not-a-number", Where(field=f"limit {limit.property_}"), Severity.STOP, values)


def _of_ingredient(one: Ingredient, limits: tuple[MixLimit, ...]) -> Iterator[Finding]:
    place = f"ingredient {one.id}"
    numbers = {"cost": one.cost, **one.mean, **{f"variance of {k}": v for k, v in one.variance.items()}}
    for key, value in numbers.items():
        if not math.isfinite(value):
            values = {"key": key, "shown": str(value)}
            yield Finding("plan-not-a-number", Where(field=f"{place}, {key}"), Severity.STOP, values)
    for key, value in one.variance.items():
        if value < 0.0:
            values = {"key": key, "shown": f"{value:g}"}
            yield Finding("plan-negative", Where(field=f"{place}, variance of {key}"), Severity.STOP, values)
    for key in dict.fromkeys(m.property_ for m in limits):
        if key not in one.mean:
            yield Finding("plan-key-missing", Where(field=f"{place}, {key}"), Severity.STOP, {"key": key})


def cheapest(mix: LeastCostMix, *, gap: float = 1e-6, time_s: float = 30.0) -> Solved:
    """Find the cheapest mix; the point of the answer holds the amounts in the order of the ingredients.

    Examples
    --------
    >>> lots = (Ingredient("low", 180.0, {"ln": 40.0}), Ingredient("high", 230.0, {"ln": 20.0}))
    >>> solved = cheapest(LeastCostMix(lots, (MixLimit("ln", False, 25.0),), 1.0))
    >>> [float(round(a, 6)) for a in solved.x], round(solved.objective, 6)
    ([0.25, 0.75], 217.5)
    """
    p = Programme()
    count = len(mix.ingredients)
    x = p.add_columns(count, cost=np.array([i.cost for i in mix.ingredients]), high=mix.total)
    p.add_row(x, np.ones(count), mix.total, mix.total)
    for limit in mix.limits:
        sign = -1.0 if limit.at_least else 1.0
        mean = np.array([sign * i.mean[limit.property_] for i in mix.ingredients])
        spread = np.array([math.sqrt(i.variance.get(limit.property_, 0.0)) for i in mix.ingredients])
        p.add_cone(Cone(x, mean, x, spread, limit.z, sign * limit.limit * mix.total))
    if mix.most_ingredients is not None and mix.most_ingredients < count:
        y = p.add_columns(count, high=1.0, whole=True)
        for a, b in zip(x, y, strict=True):
            p.add_row([int(a), int(b)], [1.0, -mix.total], high=0.0)
        p.add_row(y, np.ones(count), high=float(max(mix.most_ingredients, 0)))
    return solve(p, gap=gap, time_s=time_s)


def limit_slack(mix: LeastCostMix, limit: MixLimit, amounts: Floats) -> float:
    """How far a limit is kept, in the property's unit; negative: overstepped."""
    mean = sum(a * i.mean[limit.property_] for a, i in zip(amounts, mix.ingredients, strict=True))
    variance = sum(
        a * a * i.variance.get(limit.property_, 0.0) for a, i in zip(amounts, mix.ingredients, strict=True)
    )
    side = 1.0 if limit.at_least else -1.0
    return float((side * (mean - limit.limit * mix.total) - limit.z * math.sqrt(variance)) / mix.total)
