"""What one blend of a plan is predicted to read, its odds limit by limit, and the number to aim at."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn, u_of_ln
from lodestarch.plan.allocate.cells import cells_of
from lodestarch.plan.allocate.plan import Plan
from lodestarch.plan.allocate.problem import FN, PlanBin, PlanOffer, PlanProblem
from lodestarch.plan.allocate.scale import BinOnScale, Ceiling, bin_on_scale

__all__ = ["BlendLimit", "BlendValue", "blend_values"]

_COVER: Final = 1.96
"""Normal quantile of an interval of 95 %."""
_BOUND: Final = 1e-5
"""Relative slack, on the scale, within which a limit binds."""


@dataclass(frozen=True, slots=True)
class BlendLimit:
    """One limit of a blend.

    Parameters
    ----------
    factor : str
    stated : float
        [factor's unit]
    at_least : bool
        A floor; otherwise a ceiling.
    predicted : float
        [factor's unit]
    odds, odds_true : float or None
        That the deciding lab, and that the true value, keeps it; ``None``: no spread was stated. [1]
    aim : float
        What the blend has to read here for the wanted odds. [factor's unit]
    even : float
        Below (above) it the deciding lab is likelier than not to find it missed. [factor's unit]
    binds : bool
    """

    factor: str
    stated: float
    at_least: bool
    predicted: float
    odds: float | None
    odds_true: float | None
    aim: float
    even: float
    binds: bool


@dataclass(frozen=True, slots=True)
class BlendValue:
    """One blend: tonnes, price as planned, limits, and its falling number with an interval of 95 %."""

    offer_id: str
    tonnes: float
    price_per_t: float
    limits: tuple[BlendLimit, ...]
    fn_s: float | None = None
    fn_low_s: float | None = None
    fn_high_s: float | None = None


def blend_values(problem: PlanProblem, plan: Plan) -> tuple[BlendValue, ...]:
    """Return the value of every blend of a plan, in the order of offers."""
    values = []
    for o, offer in enumerate(problem.offers):
        draws = [(b, float(plan.tonnes[i, o])) for i, b in enumerate(problem.bins) if plan.tonnes[i, o] > 0.0]
        if draws:
            values.append(_value(problem, plan, offer, draws))
    return tuple(values)


@dataclass(frozen=True, slots=True)
class _OnScale:
    mean: float
    spread: float
    """Of the truth: bins, layers, gates and what the bench shares."""


def _value(
    problem: PlanProblem, plan: Plan, offer: PlanOffer, draws: Sequence[tuple[PlanBin, float]]
) -> BlendValue:
    tonnes = math.fsum(t for _, t in draws)
    fn = _on_scale(problem, draws, FN)
    seconds: tuple[float, ...] = ()
    if fn is not None:
        law = u_of_ln(fn_from_ln(fn.mean), problem.law_u_s)
        half = _COVER * math.hypot(fn.spread, law)
        top = fn_from_ln(max(fn.mean - half, 1.0))
        seconds = (fn_from_ln(fn.mean), fn_from_ln(fn.mean + half), top)
    free = sum(max(b.tonnes - b.reserve_t, 0.0) for b in problem.bins)
    most = free if offer.most_t is None else min(free, offer.most_t)
    price = plan.price_per_t.get(offer.id, offer.price_per_t)
    cells = cells_of(offer, problem, most)
    cell = next((c for c in cells if c.price_per_t == price), None)
    found = () if cell is None else cell.ceilings
    limits = tuple(v for c in found if (v := _limit(problem, draws, c)) is not None)
    return BlendValue(offer.id, tonnes, price, limits, *seconds)


def _on_scale(
    problem: PlanProblem, draws: Sequence[tuple[PlanBin, float]], factor: str, goal: float | None = None
) -> _OnScale | None:
    known = [(bin_on_scale(b, factor, problem), b, t) for b, t in draws]
    values: list[tuple[BinOnScale, PlanBin, float]] = [(v, b, t) for v, b, t in known if v is not None]
    if len(values) != len(known):
        return None
    total = math.fsum(t for _, t in draws)
    mean = math.fsum(v.value * t for v, _, t in values) / total
    at = mean if goal is None else goal
    squares = [
        (t * math.hypot(v.own, v.layered)) ** 2 + (b.gate_error_t * (v.value - at)) ** 2 for v, b, t in values
    ]
    shared = math.fsum(t * v.shared for v, _, t in values)
    return _OnScale(mean, math.sqrt(math.fsum(squares) + shared**2) / total)


def _limit(
    problem: PlanProblem, draws: Sequence[tuple[PlanBin, float]], ceiling: Ceiling
) -> BlendLimit | None:
    value = _on_scale(problem, draws, ceiling.factor, ceiling.limit)
    if value is None:
        return None
    back = fn_from_ln if ceiling.factor == FN else float
    room = ceiling.sign * (ceiling.limit - value.mean)
    wide = math.hypot(value.spread, ceiling.lab)
    aim = ceiling.limit - ceiling.sign * ceiling.z * wide
    floor = ceiling.sign > 0.0 if ceiling.factor == FN else ceiling.sign < 0.0
    slack = room - ceiling.z * wide
    own = problem.law_u_s if ceiling.factor == FN else 0.0
    law = u_of_ln(fn_from_ln(ceiling.limit), own) if own else 0.0
    true_wide = math.hypot(value.spread, law)
    # What the truth has to keep is the limit as stated, without the other lab's bias.
    stated = _stated_on_scale(ceiling)
    return BlendLimit(
        factor=ceiling.factor,
        stated=ceiling.stated,
        at_least=floor,
        predicted=back(value.mean),
        odds=NormalDist().cdf(room / wide) if wide > 0.0 else None,
        odds_true=NormalDist().cdf(ceiling.sign * (stated - value.mean) / true_wide)
        if true_wide > 0.0
        else None,
        aim=back(max(aim, 1e-6)) if ceiling.factor == FN else aim,
        even=back(ceiling.limit),
        binds=slack <= _BOUND * max(1.0, abs(ceiling.limit)),
    )


def _stated_on_scale(ceiling: Ceiling) -> float:
    if ceiling.factor != FN:
        return ceiling.stated
    return ln_from_fn(ceiling.stated)
