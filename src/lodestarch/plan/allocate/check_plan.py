"""Is a plan what it says? Tonnes, rules and limits looked at again, sharing nothing with the model.

Only the problem and the tonnes come in. The chance constraint is evaluated as the formula stands, with the
root taken directly.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, Literal

from lodestarch.plan.allocate.problem import PlanBin, PlanOffer, PlanProblem, PriceBand

__all__ = ["Breach", "breaches", "money_of"]

What = Literal[
    "over-drawn", "under-contract", "over-contract", "barred", "least-draw", "whole", "gate-step", "bins",
    "pin", "limit", "negative", "bins-used",
]  # fmt: skip
Tonnes = Mapping[tuple[str, str], float]
"""Tonnes by (bin, offer)."""

_TOLERANCE_T: Final = 1e-5
_TOLERANCE: Final = 1e-6
"""Relative to the limit on the scale on which blends add."""


@dataclass(frozen=True, slots=True)
class Breach:
    """One rule that a plan does not keep, and by how much."""

    what: What
    bin_id: str | None
    offer_id: str | None
    by: float


def _ln(seconds: float) -> float:
    return 6000.0 / (seconds - 50.0)


def _slope(seconds: float) -> float:
    return 6000.0 / (seconds - 50.0) ** 2


def breaches(problem: PlanProblem, tonnes: Tonnes, barred: Sequence[tuple[str, str | None]]) -> list[Breach]:
    """Every rule that a plan breaks; empty for a plan that keeps them all.

    Parameters
    ----------
    problem : PlanProblem
    tonnes : mapping of (str, str) to float
        By bin and offer. [t]
    barred : sequence of (str, str or None)
        Pairs that are excluded; ``None``: the bin goes nowhere.
    """
    found = list(_of_bins(problem, tonnes))
    for offer in problem.offers:
        found += _of_offer(problem, offer, tonnes)
    for (bin_id, offer_id), t in tonnes.items():
        if t > _TOLERANCE_T and ((bin_id, offer_id) in barred or (bin_id, None) in barred):
            found.append(Breach("barred", bin_id, offer_id, t))
        if t < -_TOLERANCE_T:
            found.append(Breach("negative", bin_id, offer_id, -t))
    for pin in problem.pins:
        off = abs(tonnes.get((pin.bin_id, pin.offer_id), 0.0) - pin.tonnes)
        if off > _TOLERANCE_T:
            found.append(Breach("pin", pin.bin_id, pin.offer_id, off))
    used = {b for (b, _), t in tonnes.items() if t > _TOLERANCE_T}
    if problem.most_bins_used is not None and len(used) > problem.most_bins_used:
        found.append(Breach("bins-used", None, None, len(used) - problem.most_bins_used))
    return found


def _of_bins(problem: PlanProblem, tonnes: Tonnes) -> Iterator[Breach]:
    for one in problem.bins:
        draws = {o: t for (b, o), t in tonnes.items() if b == one.id and t > _TOLERANCE_T}
        over = sum(draws.values()) - max(one.tonnes - one.reserve_t, 0.0)
        if over > _TOLERANCE_T:
            yield Breach("over-drawn", one.id, None, over)
        if one.whole and draws and (len(draws) > 1 or abs(sum(draws.values()) - one.tonnes) > _TOLERANCE_T):
            yield Breach("whole", one.id, None, abs(sum(draws.values()) - one.tonnes))
        for offer_id, t in draws.items():
            if t < one.least_draw_t - _TOLERANCE_T:
                yield Breach("least-draw", one.id, offer_id, one.least_draw_t - t)
            pinned = any(p.bin_id == one.id and p.offer_id == offer_id for p in problem.pins)
            if one.gate_step_t and not one.whole and not pinned:
                off = abs(t / one.gate_step_t - round(t / one.gate_step_t)) * one.gate_step_t
                if off > _TOLERANCE_T:
                    yield Breach("gate-step", one.id, offer_id, off)


def _of_offer(problem: PlanProblem, offer: PlanOffer, tonnes: Tonnes) -> Iterator[Breach]:
    bins = {b.id: b for b in problem.bins}
    draws = [(bins[b], t) for (b, o), t in tonnes.items() if o == offer.id and t > _TOLERANCE_T]
    total = math.fsum(t for _, t in draws)
    least = offer.least_t if offer.is_contract or total > 0.0 else 0.0
    if total < least - _TOLERANCE_T:
        yield Breach("under-contract", None, offer.id, least - total)
    if offer.most_t is not None and total > offer.most_t + _TOLERANCE_T:
        yield Breach("over-contract", None, offer.id, total - offer.most_t)
    if offer.most_bins is not None and len(draws) > offer.most_bins:
        yield Breach("bins", None, offer.id, len(draws) - offer.most_bins)
    if not draws:
        return
    free = sum(max(b.tonnes - b.reserve_t, 0.0) for b in problem.bins)
    most = free if offer.most_t is None else min(free, offer.most_t)
    for clause in offer.clauses:
        each = clause.sublot_t or (offer.load_t if clause.judged == "per-load" else None)
        many = math.ceil(most / each - 1e-9) if each else 1
        count = many if clause.judged in {"every-sublot", "per-load"} else 1
        low = clause.at_least if clause.counts_from is None else clause.counts_from
        high = clause.at_most if clause.counts_to is None else clause.counts_to
        ends = ((low, 1.0, count), (high, -1.0, count), (clause.sublot_at_least, 1.0, max(many, 1)))
        for limit, side, times in ends:
            by = (
                0.0
                if limit is None
                else _over(problem, offer, draws, clause.factor, limit, side, max(times, 1))
            )
            if by > 0.0:
                yield Breach("limit", None, offer.id, by)


def _over(
    problem: PlanProblem, offer: PlanOffer, draws: Sequence[tuple[PlanBin, float]], factor: str, limit: float,
    side: float, times: int,
) -> float:  # fmt: skip
    """By how much a limit is overstepped on the scale; ``side`` +1: at least, -1: at most."""
    total = math.fsum(t for _, t in draws)
    odds = offer.wanted_odds
    z = 0.0 if odds is None or odds <= 0.5 else NormalDist().inv_cdf(1.0 - (1.0 - odds) / times)
    if factor == "fn_s":
        at = max(limit - (offer.lab.bias_s or 0.0) - problem.law_bias_s, 55.0)
        goal, sign = _ln(at), side
        lab_s = math.sqrt(
            (offer.lab.sd_s or 0.0) ** 2 + (offer.lab.bias_u_s or 0.0) ** 2 + problem.law_u_s**2
        )
        parts = [_Part(b, problem) for b, _ in draws]
        mean = math.fsum(t * p.ln for p, (_, t) in zip(parts, draws, strict=True)) / total
        variance = (_slope(at) * lab_s) ** 2
        variance += math.fsum(
            (t / total) ** 2 * p.own_variance for p, (_, t) in zip(parts, draws, strict=True)
        )
        shared = math.fsum(t / total * p.slope for p, (_, t) in zip(parts, draws, strict=True))
        variance += (shared * problem.bench_u_s) ** 2
        variance += math.fsum(
            (b.gate_error_t * (p.ln - goal) / total) ** 2 for p, (b, _) in zip(parts, draws, strict=True)
        )
    else:
        goal, sign = limit, -side
        known = [(b.factors[factor], t) for b, t in draws]
        mean = math.fsum(f.value * t for f, t in known) / total
        variance = math.fsum((t / total * (f.u or 0.0)) ** 2 for f, t in known)
        variance += math.fsum(
            (b.gate_error_t * (b.factors[factor].value - goal) / total) ** 2 for b, _ in draws
        )
    over = sign * (mean - goal) + z * math.sqrt(variance)
    return over if over > _TOLERANCE * max(1.0, abs(goal)) else 0.0


class _Part:
    """Seconds of one bin, turned into LN by the formula itself."""

    def __init__(self, one: PlanBin, problem: PlanProblem) -> None:
        cap = problem.cap_s if problem.cap_s is not None else math.inf
        layers = [(y.tonnes, min(y.fn_s, cap), y.fn_u_s or 0.0) for y in one.layers]
        lying = math.fsum(t for t, _, _ in layers)
        if one.fn_s is not None:
            self.ln = _ln(min(one.fn_s, cap))
        else:
            self.ln = math.fsum(t * _ln(s) for t, s, _ in layers) / lying
        at = 50.0 + 6000.0 / self.ln
        self.slope = _slope(at)
        if one.fn_u_s is not None:
            own = (self.slope * one.fn_u_s) ** 2
        elif one.fn_s is None:
            own = math.fsum((t / lying * _slope(s) * u) ** 2 for t, s, u in layers)
        else:
            own = 0.0
        if len(layers) > 1 and not one.turned and not one.whole:
            centre = math.fsum(t * _ln(s) for t, s, _ in layers) / lying
            own += math.fsum(t * (_ln(s) - centre) ** 2 for t, s, _ in layers) / lying
        self.own_variance = own


def money_of(problem: PlanProblem, tonnes: Tonnes) -> float:
    """What a plan earns when every blend reads as planned, with what is kept. [money]

    Every blend is paid by the best band whose ends it keeps with the wanted odds.
    """
    total = 0.0
    for one in problem.bins:
        total += one.keep_price_per_t * (
            one.tonnes - math.fsum(t for (b, _), t in tonnes.items() if b == one.id)
        )
    bins = {b.id: b for b in problem.bins}
    for offer in problem.offers:
        draws = [(bins[b], t) for (b, o), t in tonnes.items() if o == offer.id and t > _TOLERANCE_T]
        if not draws:
            continue
        changes = [
            _best_change(problem, offer, draws, [b for b in offer.bands if b.factor == factor])
            for factor in dict.fromkeys(b.factor for b in offer.bands)
        ]
        change = min(changes, default=0.0) if offer.worst_only else sum(changes)
        total += (offer.price_per_t + change) * math.fsum(t for _, t in draws)
    return total


def _best_change(
    problem: PlanProblem, offer: PlanOffer, draws: Sequence[tuple[PlanBin, float]], bands: Sequence[PriceBand]
) -> float:
    """Change of price that the blend earns: of the bands whose worse ends it keeps, the best."""
    best = -math.inf
    for band in bands:
        if band.change_per_t is None:
            continue
        worse_below = _pays_less([b for b in bands if _from(b) < _from(band)], band.change_per_t)
        worse_above = _pays_less([b for b in bands if _from(b) > _from(band)], band.change_per_t)
        kept = True
        if band.low is not None and worse_below:
            kept &= _over(problem, offer, draws, band.factor, band.low, 1.0, 1) == 0.0
        if band.high is not None and worse_above:
            kept &= _over(problem, offer, draws, band.factor, band.high, -1.0, 1) == 0.0
        if kept:
            best = max(best, band.change_per_t)
    return best


def _pays_less(others: Sequence[PriceBand], change: float) -> bool:
    return not others or any(b.change_per_t is None or b.change_per_t < change for b in others)


def _from(band: PriceBand) -> float:
    return -math.inf if band.low is None else band.low
