"""The allocation as the page shows it: cells, edges, and the reasons as sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from lodestarch.common.findings import Severity
from lodestarch.method.reading import Kind
from lodestarch.plan.allocate.answer import Allocation
from lodestarch.plan.allocate.problem import PlanBin, PlanOffer
from lodestarch.words.allocate import binding_text, excluded_rows, money_text, proof_text, relaxation_text
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.allocation import allocation_rows
from lodestarch.words.findings import FindingText, sentence
from lodestarch.words.numbers import DASH, figure, number, tidy
from lodestarch.words.plan_reasons import (
    asked_text,
    fewer_sentence,
    lead_sentence,
    offer_name,
    offer_sentences,
    thumb_sentences,
)
from lodestarch.work.planning.allocate import ProblemOutcome
from lodestarch.work.planning.allocation_kept import AllocationKept

__all__ = ["answer_view"]


@dataclass(frozen=True, slots=True)
class _Cell:
    """One cell: tonnes typed or planned, or why there can be none."""

    to: str
    tonnes: str
    pinned: bool
    barred: str


@dataclass(frozen=True, slots=True)
class _Row:
    id: str
    number: str
    tonnes: str
    cells: tuple[_Cell, ...]
    stays: str


@dataclass(frozen=True, slots=True)
class _Relax:
    said: str
    bin: str
    to: str


_SIGNS = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤\u00a0", Kind.ABOVE: ">\u00a0"}


def answer_view(kept: AllocationKept, outcome: ProblemOutcome | None, *, whole: bool) -> dict[str, Any]:
    """What the templates take; without an answer the cells hold what is settled."""
    answer = None if outcome is None else outcome.answer
    tonnes = _tonnes(answer)
    offers = kept.problem.offers
    return {
        "said": term("allocate-page.looking") if answer is None else lead_sentence(answer),
        "ready": answer is not None,
        "whole": whole,
        "currency": kept.problem.currency,
        "offers": tuple((o.id, offer_name(o)) for o in offers),
        "rows": tuple(_row(b, kept, tonnes, stands=_stands(answer)) for b in kept.problem.bins),
        "edges": _edges(answer, offers, tonnes, kept.problem.currency),
        "total": number(sum(tonnes.values())) if _stands(answer) else DASH,
        "back": kept.back,
        "forth": kept.forth,
        "time_s": figure(kept.time_s),
        "name": kept.name,
        **_reasons(answer),
        "found": _found(outcome),
    }


def _stands(answer: Allocation | None) -> bool:
    return answer is not None and answer.plan is not None and answer.plan.stands


def _tonnes(answer: Allocation | None) -> dict[tuple[str, str], float]:
    if answer is None or answer.plan is None:
        return {}
    return {(d.bin_id, d.offer_id): d.tonnes for d in answer.plan.draws}


def _level(one: PlanBin) -> str:
    if one.fn_s is not None:
        return f"{_SIGNS[one.fn_says]}{number(one.fn_s)}"
    levels = [layer.fn_s for layer in one.layers]
    return DASH if not levels else f"{number(min(levels))} … {number(max(levels))}"


def _row(one: PlanBin, kept: AllocationKept, tonnes: dict[tuple[str, str], float], *, stands: bool) -> _Row:
    pins = {(p.bin_id, p.offer_id): p.tonnes for p in kept.problem.pins}
    cells = []
    for offer in kept.problem.offers:
        key = (one.id, offer.id)
        pinned = key in pins
        planned = pins.get(key, tonnes.get(key, 0.0))
        barred = kept.barred.get(key)
        cells.append(
            _Cell(
                offer.id,
                figure(planned, 1) if pinned or planned > 0.0 else "",
                pinned,
                "" if barred is None else term(f"allocate-page.barred-short-{barred.rule}"),
            )
        )
    drawn = sum(tonnes.get((one.id, o.id), 0.0) for o in kept.problem.offers)
    stays = figure(one.tonnes - drawn, 1) if stands else DASH
    return _Row(one.id, _level(one), figure(one.tonnes, 1), tuple(cells), stays)


def _edges(
    answer: Allocation | None,
    offers: Sequence[PlanOffer],
    tonnes: dict[tuple[str, str], float],
    currency: str,
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Rows beneath the cells: totals, what is asked, the price, what it is predicted to read, its odds."""
    blends = {b.offer_id: b for b in (answer.blends if answer is not None else ())}
    odds = {o.offer_id: o for o in (answer.odds.offers if answer is not None and answer.odds else ())}

    def total(offer: PlanOffer) -> str:
        return number(sum(t for (_, to), t in tonnes.items() if to == offer.id)) if answer else DASH

    def reads(offer: PlanOffer) -> str:
        blend = blends.get(offer.id)
        return DASH if blend is None or blend.fn_s is None else f"{number(blend.fn_s)}\u00a0s"

    def chance(offer: PlanOffer) -> str:
        found, blend = odds.get(offer.id), blends.get(offer.id)
        return DASH if found is None or blend is None or not blend.limits else _percent(found.passes)

    def price(offer: PlanOffer) -> str:
        blend = blends.get(offer.id)
        shown = offer.price_per_t if blend is None else blend.price_per_t
        return tidy(term("allocate-page.price", price=number(shown, 2), currency=currency))

    named = (
        ("all", total), ("asked", asked_text), ("price-row", price), ("predicted", reads), ("chance", chance),
    )  # fmt: skip
    return tuple((term(f"allocate-page.{name}"), tuple(say(o) for o in offers)) for name, say in named)


def _percent(share: float) -> str:
    return f"{number(100.0 * share)}\u00a0%"


def _reasons(answer: Allocation | None) -> dict[str, Any]:
    """Sentences beside the cells."""
    nothing: dict[str, Any] = {
        "blends": (), "binds": (), "fewer": None, "proof": "", "expected": "", "thumb": (), "excluded": (),
        "relax": (), "relax_title": "", "picture": None, "plan": False,
    }  # fmt: skip
    if answer is None or answer.plan is None:
        return nothing
    plan = answer.plan
    said = {
        "proof": proof_text(plan.ended, plan.bound, plan.gap) + ".",
        "excluded": tuple(
            tidy(term("allocate-page.excluded-line", bin=b, offer=o, rule=rule))
            for b, o, rule in excluded_rows(plan.excluded)
        ),
    }
    if not plan.stands:
        alone = all(r.alone for r in answer.relaxations)
        name = "relax-alone" if alone else "relax-together"
        return nothing | said | {
            "relax": tuple(
                _Relax(relaxation_text(r), (r.bin_id or "") if r.kind == "pin" else "", r.offer_id)
                for r in answer.relaxations
            ),
            "relax_title": term(f"allocate.{name if answer.relaxations else 'relax-none'}"),
        }  # fmt: skip
    offers = {o.id: o for o in answer.problem.offers}
    picture, _ = allocation_rows(answer)
    return nothing | said | {
        "plan": True,
        "blends": tuple(
            (offer_name(offers[b.offer_id]), " ".join(offer_sentences(answer, b, offers[b.offer_id])))
            for b in answer.blends
        ),
        "binds": tuple(binding_text(b, answer) for b in answer.binding),
        "fewer": fewer_sentence(answer),
        "expected": _expected(answer),
        "thumb": thumb_sentences(answer),
        "picture": picture,
    }  # fmt: skip


def _expected(answer: Allocation) -> str:
    odds = answer.odds
    if odds is None:
        return ""
    values = {
        "money": money_text(odds.money), "low": money_text(odds.money_low),
        "high": money_text(odds.money_high), "currency": answer.problem.currency,
    }  # fmt: skip
    return tidy(term("allocate-page.expected", **values))


def _found(outcome: ProblemOutcome | None) -> tuple[FindingText, ...]:
    if outcome is None:
        return ()
    return tuple(sentence(f) for f in outcome.findings if f.severity is not Severity.NOTE)
