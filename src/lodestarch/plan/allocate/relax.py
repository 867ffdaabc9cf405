"""When no plan keeps everything: the least that has to give way, in steps that somebody would agree to.

Every relaxation is found by halving whole numbers of steps, each tried by solving anew: with it there is a
plan, with one step less there is none.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

from lodestarch.plan.allocate.neighbours import eased
from lodestarch.plan.allocate.plan import PlanSettings, plan_for
from lodestarch.plan.allocate.problem import FN, PlanOffer, PlanProblem
from lodestarch.plan.programme.outer import Ended

__all__ = ["Relaxation", "relaxations", "relaxed"]

Kind = Literal["contract", "seconds", "odds", "pin"]

_STEP: Final = {"contract": 1.0, "seconds": 1.0, "odds": 0.01, "pin": 1.0}
"""Steps: a tonne, a second, one in a hundred, a whole draw. Ours: what can be agreed on by phone."""
_LOWEST_S: Final = 120.0
"""Floors are not lowered further: below it a second is so much LN that nobody asks for it. [s]  Ours."""
_ANY: Final = 1e9
"""Gap with which the first plan met is enough."""


@dataclass(frozen=True, slots=True)
class Relaxation:
    """What gives way.

    Parameters
    ----------
    kind : str
        ``contract``: tonnes of a contract not filled; ``seconds``: off its floor; ``odds``: off the wanted
        odds; ``pin``: a settled draw let go.
    offer_id : str
    bin_id : str or None
        Of a settled draw.
    steps : int
        Smallest number of steps that gives a plan.
    step : float
        Size of one. [t, s, 1]
    alone : bool
        It is enough by itself; otherwise all that are listed are needed together.
    share : float
        How much of the thing is given up, to compare. [1]
    """

    kind: Kind
    offer_id: str
    bin_id: str | None
    steps: int
    step: float
    alone: bool
    share: float

    @property
    def amount(self) -> float:
        """What gives way. [t, s, 1]"""
        return self.steps * self.step


def relaxed(problem: PlanProblem, one: Relaxation, steps: int | None = None) -> PlanProblem:
    """Apply a relaxation, or another number of its steps."""
    amount = one.step * (one.steps if steps is None else steps)
    if one.kind == "pin":
        gone = (one.bin_id, one.offer_id)
        pins = tuple(p for p in problem.pins if (p.bin_id, p.offer_id) != gone or amount <= 0.0)
        return replace(problem, pins=pins)
    if one.kind == "seconds":
        return eased(problem, one.offer_id, amount)

    def changed(offer: PlanOffer) -> PlanOffer:
        if one.kind == "contract":
            return replace(offer, least_t=max(offer.least_t - amount, 0.0))
        return replace(offer, wanted_odds=max((offer.wanted_odds or 0.5) - amount, 0.5))

    return replace(problem, offers=tuple(changed(o) if o.id == one.offer_id else o for o in problem.offers))


def relaxations(problem: PlanProblem, time_s: float = 5.0) -> tuple[Relaxation, ...]:
    """Find what has to give way, the smallest first.

    Parameters
    ----------
    problem : PlanProblem
        One without a plan.
    time_s : float
        Time in the solver for each trial. [s]

    Returns
    -------
    tuple of Relaxation
        Each enough alone; where none is, the tonnes of several contracts that are needed together, none of
        which can be a step smaller. Empty where settled draws contradict each other beyond that.
    """
    settings = PlanSettings(gap=_ANY, time_s=time_s)

    def feasible(tried: PlanProblem) -> bool:
        return plan_for(tried, settings).ended in {Ended.OPTIMAL, Ended.FEASIBLE}

    alone = []
    for one, most in _candidates(problem):
        steps = _least(feasible, problem, one, most)
        if steps is not None:
            alone.append(replace(one, steps=steps, share=one.share * steps))
    if alone:
        return tuple(sorted(alone, key=lambda r: r.share))
    return _together(problem, feasible)


def _candidates(problem: PlanProblem) -> Iterator[tuple[Relaxation, int]]:
    """What could give way, ``share`` that of one step, and the most steps that make sense."""
    for offer in problem.offers:
        bound = [p for p in problem.pins if p.offer_id == offer.id and p.tonnes > 0.0]
        if not ((offer.is_contract and offer.least_t > 0.0) or bound):
            continue
        if offer.is_contract and offer.least_t > 0.0:
            yield _one("contract", offer.id, 1.0 / offer.least_t), math.ceil(offer.least_t)
        floors = [c.at_least for c in offer.clauses if c.factor == FN and c.at_least is not None]
        if floors:
            yield _one("seconds", offer.id, 1.0 / max(floors)), max(int(min(floors) - _LOWEST_S), 0)
        if offer.wanted_odds is not None and offer.wanted_odds > 0.5:
            yield (
                _one("odds", offer.id, 0.01 / offer.wanted_odds),
                math.ceil((offer.wanted_odds - 0.5) / 0.01 - 1e-9),
            )
        for pin in bound:
            yield replace(_one("pin", offer.id, 1.0), bin_id=pin.bin_id), 1


def _one(kind: Kind, offer_id: str, share: float) -> Relaxation:
    return Relaxation(kind, offer_id, None, 1, _STEP[kind], alone=True, share=share)


def _least(
    feasible: Callable[[PlanProblem], bool], problem: PlanProblem, one: Relaxation, most: int
) -> int | None:
    """Smallest number of steps up to ``most`` that gives a plan; ``None``: none does. More never hurts."""
    low, high = 0, 1
    while high < most and not feasible(relaxed(problem, one, high)):
        low, high = high, 2 * high
    high = min(high, most)
    if high < 1 or (high == most and not feasible(relaxed(problem, one, most))):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if feasible(relaxed(problem, one, middle)) else (middle, high)
    return high


def _together(problem: PlanProblem, feasible: Callable[[PlanProblem], bool]) -> tuple[Relaxation, ...]:
    """Contracts filled as far as they go, the best paid first; what is left of each cannot be a step less."""
    owed = sorted(
        (o for o in problem.offers if o.is_contract and o.least_t > 0.0), key=lambda o: -o.price_per_t
    )
    whole = [_one("contract", o.id, 1.0 / o.least_t) for o in owed]
    now = problem
    for one, offer in zip(whole, owed, strict=True):
        now = relaxed(now, one, math.ceil(offer.least_t))
    if not owed or not feasible(now):
        return ()
    found = []
    for one, offer in zip(whole, owed, strict=True):
        full = replace(now, offers=tuple(offer if o.id == offer.id else o for o in now.offers))
        steps = 0 if feasible(full) else _least(feasible, full, one, math.ceil(offer.least_t))
        steps = math.ceil(offer.least_t) if steps is None else steps
        now = relaxed(full, one, steps) if steps else full
        if steps:
            found.append(replace(one, steps=steps, alone=False, share=one.share * steps))
    return tuple(found)
