"""The rule of thumb that a plan is shown beside: no blending, every bin by its own number.

*The best price first; each price is filled from the lowest bins that make it by themselves with the odds
wanted.* It keeps whole bins, smallest draws, gate steps and what is excluded, but looks at no blend; whether
it fills every contract is for the check to say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lodestarch.plan.allocate.cells import Cell, cells_of
from lodestarch.plan.allocate.exclude import allowed
from lodestarch.plan.allocate.problem import Excluded, PlanBin, PlanProblem
from lodestarch.plan.allocate.scale import Ceiling, bin_fn_s, bin_on_scale

__all__ = ["Thumb", "rule_of_thumb"]


@dataclass(frozen=True, slots=True)
class Thumb:
    """Tonnes by bin and offer under the rule, and what they bring, with what is kept. [t, money]"""

    tonnes: dict[tuple[str, str], float]
    money: float


def rule_of_thumb(problem: PlanProblem, excluded: tuple[Excluded, ...]) -> Thumb:
    """Allocate by the rule.

    Examples
    --------
    >>> from lodestarch.trade.offer import Clause, Judged
    >>> at_300 = Clause("fn_s", Judged.COMPOSITE, 300.0, None)
    >>> from lodestarch.plan.allocate.problem import PlanOffer
    >>> bins = (PlanBin("a", 500.0, 400.0), PlanBin("b", 400.0, 260.0))
    >>> offers = (PlanOffer("mill", 230.0, clauses=(at_300,)), PlanOffer("feed", 190.0))
    >>> rule_of_thumb(PlanProblem(bins, offers), ()).money
    191000.0
    """
    open_ = allowed(problem, excluded)
    left = {b.id: max(b.tonnes - b.reserve_t, 0.0) for b in problem.bins}
    tonnes: dict[tuple[str, str], float] = {}
    money = sum(b.keep_price_per_t * b.tonnes for b in problem.bins)
    free = sum(left.values())
    choices = [
        (cell.price_per_t, offer, cell)
        for offer in problem.offers
        for cell in cells_of(offer, problem, free if offer.most_t is None else min(free, offer.most_t))
    ]
    done: set[str] = set()
    lowest_first = sorted(problem.bins, key=lambda b: bin_fn_s(b, problem.cap_s) or math.inf)
    for price, offer, cell in sorted(choices, key=lambda c: -c[0]):
        if offer.id in done:
            continue
        room = math.inf if offer.most_t is None else offer.most_t
        taken = 0
        for one in lowest_first:
            fits = (one.id, offer.id) in open_ and price > one.keep_price_per_t and _alone(one, cell, problem)
            if not fits or (offer.most_bins is not None and taken >= offer.most_bins):
                continue
            draw = _draw(one, min(left[one.id], room))
            if draw > 0.0:
                tonnes[one.id, offer.id] = draw
                left[one.id] -= draw
                room -= draw
                taken += 1
                money += draw * (price - one.keep_price_per_t)
        if taken:
            done.add(offer.id)
    return Thumb(tonnes, money)


def _draw(one: PlanBin, most: float) -> float:
    if one.whole:
        return one.tonnes if most >= one.tonnes else 0.0
    draw = most if one.gate_step_t is None else math.floor(most / one.gate_step_t + 1e-9) * one.gate_step_t
    return draw if draw >= max(one.least_draw_t, 1e-9) else 0.0


def _alone(one: PlanBin, cell: Cell, problem: PlanProblem) -> bool:
    return all(_keeps(one, c, problem) for c in cell.ceilings)


def _keeps(one: PlanBin, ceiling: Ceiling, problem: PlanProblem) -> bool:
    value = bin_on_scale(one, ceiling.factor, problem)
    if value is None:
        return False
    wide = math.hypot(value.own, value.layered, value.shared, ceiling.lab)
    return ceiling.sign * (value.value - ceiling.limit) + ceiling.z * wide <= 1e-9
