"""What a plan meets at the labs that decide, by simulation that shares nothing with the model.

Each trial draws what the bins truly are, what comes out of the gates, and what the deciding labs report, in
seconds, by the law of the blend itself; nothing is linearised.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.plan.allocate.check_plan import Tonnes
from lodestarch.plan.allocate.problem import PlanBin, PlanOffer, PlanProblem, PriceBand

__all__ = ["OfferOdds", "PlanOdds", "simulate"]

Trials = npt.NDArray[np.float64]
_LOWEST_S: Final = 62.0
"""Seconds below which no tube reads: the floor. [s]"""
_DUST_T: Final = 1e-5


@dataclass(frozen=True, slots=True)
class OfferOdds:
    """One blend over all trials.

    Parameters
    ----------
    offer_id : str
    passes : float
        Share of trials in which the deciding lab finds every limit kept. [1]
    passes_true : float
        The same for the true value. [1]
    fn_low_s, fn_mid_s, fn_high_s : float or None
        2.5 %, 50 % and 97.5 % of the true falling number; ``None``: a bin has no number. [s]
    money : float
        Mean of what it earns. [money]
    """

    offer_id: str
    passes: float
    passes_true: float
    fn_low_s: float | None
    fn_mid_s: float | None
    fn_high_s: float | None
    money: float


@dataclass(frozen=True, slots=True)
class PlanOdds:
    """A plan over all trials; ``money_u`` is the standard error of the mean, from the number of trials."""

    trials: int
    offers: tuple[OfferOdds, ...]
    money: float
    money_u: float
    money_low: float
    money_high: float


def simulate(problem: PlanProblem, tonnes: Tonnes, rng: np.random.Generator, trials: int = 4000) -> PlanOdds:
    """Simulate a plan.

    Parameters
    ----------
    problem : PlanProblem
    tonnes : mapping of (str, str) to float
        By bin and offer. [t]
    rng : numpy.random.Generator
    trials : int

    Notes
    -----
    From an unmixed bin each draw is one stretch of its layers from a place drawn at random, the draws of the
    plan following on each other. A blend that is turned away brings what its grain is worth kept.
    """
    shared = rng.normal(0.0, problem.bench_u_s, trials)
    out = {one.id: _Outflow(one, problem, shared, rng) for one in problem.bins}
    kept = sum(
        b.keep_price_per_t * (b.tonnes - math.fsum(t for (i, _), t in tonnes.items() if i == b.id))
        for b in problem.bins
    )
    total = np.full(trials, float(kept))
    offers = []
    for offer in problem.offers:
        bins = [b for b in problem.bins if tonnes.get((b.id, offer.id), 0.0) > _DUST_T]
        if bins:
            odds, money = _offer(
                problem, offer, [(b, tonnes[b.id, offer.id]) for b in bins], out, rng, trials
            )
            offers.append(odds)
            total += money
    low, high = np.quantile(total, [0.025, 0.975])
    error = float(total.std(ddof=1) / math.sqrt(trials))
    return PlanOdds(trials, tuple(offers), float(total.mean()), error, float(low), float(high))


class _Outflow:
    """What one bin gives, in LN, draw after draw."""

    def __init__(self, one: PlanBin, problem: PlanProblem, shared: Trials, rng: np.random.Generator) -> None:
        self.cap = math.inf if problem.cap_s is None else problem.cap_s
        stated = one.fn_s
        layers = [(y.tonnes, y.fn_s, y.fn_u_s or 0.0) for y in one.layers]
        if stated is None and not layers:
            self.known = False
            return
        self.known = True
        wide = one.fn_u_s or 0.0
        if not layers:
            layers = [(one.tonnes, float(stated or 0.0), 0.0)]
        elif stated is not None:
            layers = _moved_to(stated, layers)
        own = rng.normal(0.0, wide, shared.size)
        seconds = np.array([s for _, s, _ in layers])[:, None] + own - shared
        if stated is None:
            seconds = (
                seconds + rng.normal(0.0, 1.0, seconds.shape) * np.array([u for *_, u in layers])[:, None]
            )
        self.ln = 6000.0 / (np.clip(seconds, _LOWEST_S, self.cap) - 50.0)
        self.lengths = np.array([t for t, *_ in layers])
        self.mixed = one.turned or one.whole or len(layers) < 2
        self.at = rng.uniform(0.0, float(self.lengths.sum()), shared.size)

    def draw(self, tonnes: float) -> Trials:
        """Mean LN of the next draw, by trial."""
        whole = float(self.lengths.sum())
        if self.mixed:
            return np.asarray(self.lengths @ self.ln / whole)
        begin, end = self.at, self.at + tonnes
        self.at = end
        mean: Trials = (self._filled(end) - self._filled(begin)) / tonnes
        return mean

    def _filled(self, place: Trials) -> Trials:
        """Integral of LN over the layers up to a place, the bin laid end to end with itself."""
        whole = float(self.lengths.sum())
        rounds, rest = np.divmod(place, whole)
        edges = np.concatenate([[0.0], np.cumsum(self.lengths)])
        sums = rounds * (self.lengths @ self.ln)
        for i, length in enumerate(self.lengths):
            sums = sums + self.ln[i] * np.clip(rest - edges[i], 0.0, length)
        return np.asarray(sums)


def _moved_to(
    stated_s: float, layers: Sequence[tuple[float, float, float]]
) -> list[tuple[float, float, float]]:
    """Layers moved on the LN scale so that together they read what the bin is stated to read."""
    whole = sum(t for t, *_ in layers)
    shift = 6000.0 / (stated_s - 50.0) - sum(t * 6000.0 / (s - 50.0) for t, s, _ in layers) / whole
    return [(t, 50.0 + 6000.0 / max(6000.0 / (s - 50.0) + shift, 1.0), u) for t, s, u in layers]


def _offer(
    problem: PlanProblem, offer: PlanOffer, draws: Sequence[tuple[PlanBin, float]], out: dict[str, _Outflow],
    rng: np.random.Generator, trials: int,
) -> tuple[OfferOdds, Trials]:  # fmt: skip
    loaded = np.array([np.clip(rng.normal(t, b.gate_error_t, trials), 0.0, None) for b, t in draws])
    mass = np.maximum(loaded.sum(axis=0), _DUST_T)
    true: dict[str, Trials] = {}
    if all(out[b.id].known for b, _ in draws):
        ln = np.array([out[b.id].draw(t) for b, t in draws])
        seconds = 50.0 + 6000.0 / ((loaded * ln).sum(axis=0) / mass)
        true["fn_s"] = seconds + rng.normal(problem.law_bias_s, problem.law_u_s, trials)
    for factor in {c.factor for c in offer.clauses} | {b.factor for b in offer.bands}:
        if factor != "fn_s" and all(factor in b.factors for b, _ in draws):
            values = np.array(
                [rng.normal(b.factors[factor].value, b.factors[factor].u or 0.0, trials) for b, _ in draws]
            )
            true[factor] = (loaded * values).sum(axis=0) / mass
    planned = math.fsum(t for _, t in draws)
    bias = rng.normal(offer.lab.bias_s or 0.0, offer.lab.bias_u_s or 0.0, trials)
    reports = dict(true)  # the first number that the deciding lab makes; sublots get their own
    if "fn_s" in true:
        reports["fn_s"] = true["fn_s"] + bias + rng.normal(0.0, offer.lab.sd_s or 0.0, trials)
    passes, passes_true = np.ones(trials, dtype=np.bool_), np.ones(trials, dtype=np.bool_)
    for clause in offer.clauses:
        each = clause.sublot_t or (offer.load_t if clause.judged == "per-load" else None)
        many = max(1, math.ceil(planned / each - 1e-9)) if each else 1
        low = clause.at_least if clause.counts_from is None else clause.counts_from
        high = clause.at_most if clause.counts_to is None else clause.counts_to
        times = many if clause.judged in {"every-sublot", "per-load"} else 1
        for limits, count in (((low, high), times), ((clause.sublot_at_least, None), many)):
            if limits == (None, None):
                continue
            value = true.get(clause.factor)
            if value is None:
                passes[:] = passes_true[:] = False
                continue
            passes_true &= _within(value, *limits)
            sd, off = (offer.lab.sd_s or 0.0, bias) if clause.factor == "fn_s" else (0.0, np.zeros(trials))
            passes &= _within(reports[clause.factor], *limits)
            for _ in range(1, count):
                passes &= _within(value + off + rng.normal(0.0, sd, trials), *limits)
    change, taken = _paid(offer, reports)
    worth = math.fsum(t * b.keep_price_per_t for b, t in draws)
    money = np.where(passes & taken, mass * (offer.price_per_t + change), worth)
    fn = tuple(float(q) for q in np.quantile(true["fn_s"], [0.025, 0.5, 0.975])) if "fn_s" in true else None
    low_s, mid_s, high_s = fn or (None, None, None)
    odds = OfferOdds(
        offer_id=offer.id,
        passes=float((passes & taken).mean()),
        passes_true=float(passes_true.mean()),
        fn_low_s=low_s,
        fn_mid_s=mid_s,
        fn_high_s=high_s,
        money=float(money.mean()),
    )
    return odds, money


def _within(value: Trials, low: float | None, high: float | None) -> npt.NDArray[np.bool_]:
    inside = np.ones(value.size, dtype=np.bool_)
    if low is not None:
        inside &= value >= low
    if high is not None:
        inside &= value <= high
    return inside


def _paid(offer: PlanOffer, reports: dict[str, Trials]) -> tuple[Trials, npt.NDArray[np.bool_]]:
    """Change of price by the bands in which the reports fall, and whether the blend is taken at all."""
    any_report = next(iter(reports.values()), np.zeros(1))
    changes: list[Trials] = []
    taken = np.ones(any_report.size, dtype=np.bool_)
    for factor in dict.fromkeys(b.factor for b in offer.bands):
        value = reports.get(factor)
        if value is None:
            return np.zeros(taken.size), np.zeros(taken.size, dtype=np.bool_)
        met, change = np.zeros(value.size, dtype=np.bool_), np.zeros(value.size)
        for band in (b for b in offer.bands if b.factor == factor):
            here = _in_band(value, band)
            met |= here & (band.change_per_t is not None)
            change += here * (band.change_per_t or 0.0)
        taken &= met
        changes.append(change)
    if not changes:
        return np.zeros(taken.size), taken
    each = np.array(changes)
    return (each.min(axis=0) if offer.worst_only else each.sum(axis=0)), taken


def _in_band(value: Trials, band: PriceBand) -> npt.NDArray[np.bool_]:
    low = -math.inf if band.low is None else band.low
    high = math.inf if band.high is None else band.high
    return (value >= low) & (value < high)
