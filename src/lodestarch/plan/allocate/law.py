"""What law says of the bins of a problem: excluded before anything is averaged, or to be looked at first.

A plan mixes. So a bin that law lets nobody mix is left out of every contract of that use, also where it could
go alone; whoever sells it alone sells it outside the plan.
"""

from __future__ import annotations

from collections.abc import Iterator

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.plan.allocate.problem import Excluded, PlanBin, PlanOffer, PlanProblem
from lodestarch.trade.law import (
    JURISDICTIONS,
    LawEffect,
    LawLot,
    Verdict,
    law_of,
    law_on_lot,
    lots_for_mixing,
)

__all__ = ["law_exclusions", "law_findings"]


def _lot(one: PlanBin, offer: PlanOffer) -> LawLot:
    factors = {key: known.value for key, known in one.factors.items()}
    return LawLot(one.id, one.material or offer.material or "", factors)


def law_exclusions(problem: PlanProblem) -> tuple[Excluded, ...]:
    """Every pair of bin and offer that the law of the problem's jurisdiction leaves out, with its rule.

    A bin that several rules meet is named once for each.

    Examples
    --------
    >>> from lodestarch.plan.allocate.problem import FactorValue
    >>> bins = (PlanBin("a", 50.0, 320.0, factors={"aflatoxin_ug_kg": FactorValue(24.0)}, material="maize"),)
    >>> found = law_exclusions(PlanProblem(bins, (PlanOffer("mill", 230.0),), jurisdiction="US"))
    >>> [(e.bin_id, e.offer_id, e.value, e.limit) for e in found][0]
    ('a', 'mill', 24.0, 20.0)
    """
    if problem.jurisdiction not in JURISDICTIONS:
        return ()
    found = []
    for offer in problem.offers:
        lots = [_lot(one, offer) for one in problem.bins]
        _, barred = lots_for_mixing(lots, problem.jurisdiction, offer.use)
        found += [_excluded(v, offer) for v in barred]
    return tuple(found)


def _excluded(verdict: Verdict, offer: PlanOffer) -> Excluded:
    rule = verdict.rule
    source = f"{rule.id}: {rule.source}"
    return Excluded(verdict.lot_id or "", offer.id, "law", source, rule.factor, verdict.value, rule.above)


def law_findings(problem: PlanProblem) -> Iterator[Finding]:
    """What a person has to look at: no law kept here, rules that warn, kinds of grain that would be mixed."""
    if problem.jurisdiction is None:
        yield Finding("plan-law-not-asked", Where(field="jurisdiction"), Severity.NOTE)
        return
    rules = law_of(problem.jurisdiction) if problem.jurisdiction in JURISDICTIONS else ()
    if not any(r.jurisdiction == problem.jurisdiction for r in rules):
        values: dict[str, Value] = {"jurisdiction": problem.jurisdiction}
        yield Finding("plan-law-none-kept", Where(field="jurisdiction"), Severity.NOTE, values)
    if not rules:
        return
    warned: dict[str, Verdict] = {}
    for offer in problem.offers:
        for one in problem.bins:
            met = law_on_lot(_lot(one, offer), problem.jurisdiction, offer.use)
            warned |= {f"{v.rule.id} {one.id}": v for v in met if v.rule.effect is LawEffect.WARN}
    for verdict in warned.values():
        values = {"id": verdict.lot_id or "", "rule": verdict.rule.id, "source": verdict.rule.source}
        yield Finding("plan-law-warns", Where(field=f"bin {verdict.lot_id}"), Severity.CHECK, values)
    if any(r.about == "kinds" for r in rules):
        yield from _kinds(problem)


def _kinds(problem: PlanProblem) -> Iterator[Finding]:
    # Durum is a class of wheat to the law that knows kinds.
    of_law = {"durum": "wheat"}
    kinds = dict.fromkeys(of_law.get(b.material, b.material) for b in problem.bins if b.material is not None)
    for offer in problem.offers:
        if offer.material is None and len(kinds) > 1:
            values: dict[str, Value] = {"id": offer.id, "kinds": ", ".join(kinds)}
            yield Finding("plan-law-kinds", Where(field=f"offer {offer.id}"), Severity.STOP, values)
