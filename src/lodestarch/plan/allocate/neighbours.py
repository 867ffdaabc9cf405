"""Plans beside the plan, each by solving anew: one more tonne, one second, one bin fewer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from lodestarch.plan.allocate.plan import Plan, PlanSettings, plan_for
from lodestarch.plan.allocate.problem import FN, PlanBin, PlanOffer, PlanProblem

__all__ = ["Worth", "eased", "one_bin_fewer", "worth_of_second", "worth_of_tonne"]

_NOTHING: Final = 1e-6
"""Relative to the objective: a difference below it is the solver's rounding."""


@dataclass(frozen=True, slots=True)
class Worth:
    """What a change would bring. [money]

    Parameters
    ----------
    id : str
        Bin or offer.
    money : float or None
        ``None``: the change cannot be solved, or is smaller than what the gaps leave open.
    """

    id: str
    money: float | None


def _difference(plan: Plan, other: Plan) -> float | None:
    if plan.objective is None or other.objective is None or plan.bound is None or other.bound is None:
        return None
    difference = other.objective - plan.objective
    open_ = (plan.bound - plan.objective) + (other.bound - other.objective)
    if abs(difference) <= max(open_, 1e-9 * abs(plan.objective)):
        # Smaller than what the proofs leave open: nothing, where they leave next to nothing open.
        return 0.0 if open_ <= _NOTHING * max(1.0, abs(plan.objective)) else None
    return difference


def worth_of_tonne(problem: PlanProblem, plan: Plan, bin_id: str, settings: PlanSettings) -> Worth:
    """What one more tonne in a bin would bring, kept worth included."""
    grown = tuple(_grown(b) if b.id == bin_id else b for b in problem.bins)
    return Worth(bin_id, _difference(plan, plan_for(replace(problem, bins=grown), settings)))


def _grown(one: PlanBin) -> PlanBin:
    if not one.layers:
        return replace(one, tonnes=one.tonnes + 1.0)
    # One tonne more of the same: every layer grows in proportion, so that the bin reads what it read.
    grown = (one.tonnes + 1.0) / one.tonnes
    layers = tuple(replace(y, tonnes=y.tonnes * grown) for y in one.layers)
    return replace(one, tonnes=one.tonnes + 1.0, layers=layers)


def worth_of_second(problem: PlanProblem, plan: Plan, offer_id: str, settings: PlanSettings) -> Worth:
    """What one second in the limits of an offer is worth: half a second less against half a second more.

    Where half a second more leaves no plan, a whole second less against the plan.
    """
    less = plan_for(eased(problem, offer_id, 0.5), settings)
    more = plan_for(eased(problem, offer_id, -0.5), settings)
    if more.stands:
        return Worth(offer_id, _difference(more, less))
    return Worth(offer_id, _difference(plan, plan_for(eased(problem, offer_id, 1.0), settings)))


def eased(problem: PlanProblem, offer_id: str, by_s: float) -> PlanProblem:
    """Return the problem with the floors in seconds of one offer, and its bands, lowered. [s]"""
    return replace(problem, offers=tuple(_eased(o, by_s) if o.id == offer_id else o for o in problem.offers))


def _less(value: float | None, by_s: float) -> float | None:
    return None if value is None else value - by_s


def _eased(offer: PlanOffer, by_s: float) -> PlanOffer:
    clauses = tuple(
        replace(
            c,
            at_least=_less(c.at_least, by_s),
            counts_from=_less(c.counts_from, by_s),
            sublot_at_least=_less(c.sublot_at_least, by_s),
        )
        if c.factor == FN
        else c
        for c in offer.clauses
    )
    bands = tuple(
        replace(b, low=_less(b.low, by_s), high=_less(b.high, by_s)) if b.factor == FN else b
        for b in offer.bands
    )
    return replace(offer, clauses=clauses, bands=bands)


def one_bin_fewer(problem: PlanProblem, plan: Plan, settings: PlanSettings) -> Plan | None:
    """The best plan that draws from one bin less; ``None`` where only one bin, or none, is drawn from."""
    used = len({d.bin_id for d in plan.draws})
    if used < 2:
        return None
    return plan_for(replace(problem, most_bins_used=used - 1), settings)
