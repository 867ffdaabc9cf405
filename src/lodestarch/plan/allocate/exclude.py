"""What may not go where, before anything is solved: law first, then what cannot be judged there."""

from __future__ import annotations

from lodestarch.method.reading import Kind
from lodestarch.plan.allocate.law import law_exclusions
from lodestarch.plan.allocate.problem import FN, Excluded, PlanBin, PlanOffer, PlanProblem, Rule
from lodestarch.plan.allocate.scale import bin_fn_s

__all__ = ["allowed", "exclusions"]


def exclusions(problem: PlanProblem) -> tuple[Excluded, ...]:
    """Every pair of bin and offer that is left out, with the rule; law comes first.

    Notes
    -----
    A lot at the floor has no upper bound of its liquefaction number, and a bin without a number none at all:
    neither can enter a blend that is judged by seconds. Other kinds and classes never mix.
    """
    found = [*problem.excluded, *law_exclusions(problem)]
    barred = {(e.bin_id, e.offer_id) for e in found}
    for one in problem.bins:
        if (one.id, None) in barred:
            continue
        for offer in problem.offers:
            if (one.id, offer.id) in barred:
                continue
            rule = _rule(one, offer, problem)
            if rule is not None:
                found.append(Excluded(one.id, offer.id, rule))
    return tuple(found)


def _rule(one: PlanBin, offer: PlanOffer, problem: PlanProblem) -> Rule | None:
    if offer.material is not None and one.material is not None and one.material != offer.material:
        return "other-material"
    if offer.grain_class is not None and one.grain_class is not None and one.grain_class != offer.grain_class:
        return "other-class"
    factors = {c.factor for c in offer.clauses} | {b.factor for b in offer.bands}
    if FN in factors:
        if bin_fn_s(one, problem.cap_s) is None:
            return "not-tested"
        if one.fn_says is Kind.AT_OR_BELOW:
            return "at-floor"
        if one.fn_says is Kind.ABOVE and problem.cap_s is None and _has_ceiling(offer):
            return "open-above"
    return "not-measured" if any(f not in one.factors for f in factors - {FN}) else None


def _has_ceiling(offer: PlanOffer) -> bool:
    return any(c.factor == FN and c.at_most is not None for c in offer.clauses)


def allowed(problem: PlanProblem, excluded: tuple[Excluded, ...]) -> frozenset[tuple[str, str]]:
    """Pairs of bin and offer that are left."""
    barred = {(e.bin_id, e.offer_id) for e in excluded}
    return frozenset(
        (one.id, offer.id)
        for one in problem.bins
        for offer in problem.offers
        if (one.id, offer.id) not in barred and (one.id, None) not in barred
    )
