"""Bins and limits on the scale on which they add by mass: LN for seconds, the value itself for the rest.

Seconds go down as LN goes up, so a floor in seconds is a ceiling in LN.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn, u_of_ln
from lodestarch.method.reading import Kind
from lodestarch.plan.allocate.problem import FN, DecidingLab, PlanBin, PlanOffer, PlanProblem
from lodestarch.trade.offer import Clause, Judged

__all__ = ["BinOnScale", "Ceiling", "bin_fn_s", "bin_on_scale", "ceilings", "judgements", "of_band"]


@dataclass(frozen=True, slots=True)
class BinOnScale:
    """One factor of one bin: its value, and the spreads around it.

    ``own`` is the part no other bin shares, ``shared`` that which all results of the bench share, ``layered``
    the spread between unmixed layers. [scale]
    """

    value: float
    own: float
    shared: float
    layered: float


@dataclass(frozen=True, slots=True)
class Ceiling:
    """``sign * value <= sign * limit`` on the scale, with the spread and bias of who decides.

    Parameters
    ----------
    factor : str
    sign : float
        +1: at most; -1: at least.
    limit : float
        Bias taken off already. [scale]
    lab : float
        Standard deviation of the deciding lab and of the law of the blend, as that of the blend. [scale]
    z : float
        Normal quantile of the wanted odds; 0: at the mean.
    stated : float
        The limit as stated. [factor's unit]
    """

    factor: str
    sign: float
    limit: float
    lab: float
    z: float
    stated: float


def bin_fn_s(one: PlanBin, cap_s: float | None) -> float | None:
    """Falling number of a bin as if turned; from its layers where it has no number of its own. [s]"""
    if one.fn_s is not None:
        return one.fn_s
    if not one.layers:
        return None
    tonnes = sum(layer.tonnes for layer in one.layers)
    return fn_from_ln(sum(y.tonnes * _ln(y.fn_s, cap_s) for y in one.layers) / tonnes)


def _ln(fn_s: float, cap_s: float | None) -> float:
    return ln_from_fn(fn_s if cap_s is None else min(fn_s, cap_s))


def bin_on_scale(one: PlanBin, factor: str, problem: PlanProblem) -> BinOnScale | None:
    """One factor of a bin on the scale; ``None`` where it was not measured.

    Notes
    -----
    A lot stopped at t enters as if it read t, which is the worse end of what it can be. Spread between layers
    is the standard deviation of one layer drawn at random by mass: a draw from an unturned bin can be a
    single one. A bin that only goes out whole has none.
    """
    if factor != FN:
        known = one.factors.get(factor)
        return None if known is None else BinOnScale(known.value, known.u or 0.0, 0.0, 0.0)
    fn_s = bin_fn_s(one, problem.cap_s)
    if fn_s is None or one.fn_says is Kind.AT_OR_BELOW:
        return None
    at = fn_s if problem.cap_s is None else min(fn_s, problem.cap_s)
    own = u_of_ln(at, one.fn_u_s) if one.fn_u_s is not None else _own_of_layers(one, problem.cap_s)
    value = _ln(fn_s, problem.cap_s)
    return BinOnScale(value, own, u_of_ln(at, problem.bench_u_s), _layered(one, problem.cap_s))


def _own_of_layers(one: PlanBin, cap_s: float | None) -> float:
    if one.fn_s is not None or not one.layers:
        return 0.0
    tonnes = sum(y.tonnes for y in one.layers)
    squares = (
        (y.tonnes / tonnes * u_of_ln(y.fn_s if cap_s is None else min(y.fn_s, cap_s), y.fn_u_s or 0.0)) ** 2
        for y in one.layers
    )
    return math.sqrt(sum(squares))


def _layered(one: PlanBin, cap_s: float | None) -> float:
    if one.turned or one.whole or len(one.layers) < 2:
        return 0.0
    tonnes = sum(y.tonnes for y in one.layers)
    mean = sum(y.tonnes * _ln(y.fn_s, cap_s) for y in one.layers) / tonnes
    return math.sqrt(sum(y.tonnes * (_ln(y.fn_s, cap_s) - mean) ** 2 for y in one.layers) / tonnes)


def judgements(clause: Clause, most_t: float, load_t: float | None = None) -> int:
    """How often a limit is judged on one cargo: once, or for every sublot or load."""
    each = clause.sublot_t or (load_t if clause.judged is Judged.PER_LOAD else None)
    if clause.judged not in {Judged.EVERY_SUBLOT, Judged.PER_LOAD} or not each:
        return 1
    return max(1, math.ceil(most_t / each - 1e-9))


def ceilings(offer: PlanOffer, problem: PlanProblem, most_t: float) -> tuple[Ceiling, ...]:
    """Every limit of an offer on the scale.

    Notes
    -----
    A limit that is judged n times, every sublot by itself, gets the quantile of 1 - (1 - p)/n (Bonferroni):
    the chance that one of n fails is at most the sum of theirs. The mean of sublot numbers is never below
    the number of their composite (FN is convex in LN), so a limit on the average is planned on the
    composite.
    """
    found: list[Ceiling] = []
    for clause in offer.clauses:
        z = _quantile(offer.wanted_odds, judgements(clause, most_t, offer.load_t))
        low = clause.at_least if clause.counts_from is None else clause.counts_from
        high = clause.at_most if clause.counts_to is None else clause.counts_to
        for stated, floor in ((low, True), (high, False)):
            if stated is not None:
                found.append(_ceiling(clause.factor, stated, offer.lab, problem, z, floor=floor))
        if clause.sublot_at_least is not None:
            count = 1 if not clause.sublot_t else max(1, math.ceil(most_t / clause.sublot_t - 1e-9))
            z = _quantile(offer.wanted_odds, count)
            found.append(_ceiling(clause.factor, clause.sublot_at_least, offer.lab, problem, z, floor=True))
    return tuple(found)


def of_band(
    offer: PlanOffer, problem: PlanProblem, factor: str, low: float | None, high: float | None
) -> tuple[Ceiling, ...]:
    """Limits that a band of prices sets."""
    z = _quantile(offer.wanted_odds, 1)
    ends = ((low, True), (high, False))
    return tuple(
        _ceiling(factor, stated, offer.lab, problem, z, floor=floor)
        for stated, floor in ends
        if stated is not None
    )


def _quantile(odds: float | None, times: int) -> float:
    if odds is None or odds <= 0.5:
        return 0.0
    return NormalDist().inv_cdf(1.0 - (1.0 - odds) / times)


def _ceiling(
    factor: str, stated: float, lab: DecidingLab, problem: PlanProblem, z: float, *, floor: bool
) -> Ceiling:
    if factor != FN:
        return Ceiling(factor, -1.0 if floor else 1.0, stated, 0.0, z, stated)
    # Blends come out, and the other lab reads, their bias more: what is predicted has to reach the limit less
    # both.
    at = max(stated - (lab.bias_s or 0.0) - problem.law_bias_s, 55.0)
    sd_s = math.hypot(lab.sd_s or 0.0, lab.bias_u_s or 0.0, problem.law_u_s)
    return Ceiling(factor, 1.0 if floor else -1.0, ln_from_fn(at), u_of_ln(at, sd_s), z, stated)
