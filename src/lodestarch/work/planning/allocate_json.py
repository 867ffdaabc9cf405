"""Allocations as plain values, problems and instances under one set of keys; keys as in ``docs/json.md``."""

from __future__ import annotations

from typing import Any, Final

from lodestarch.plan.allocate.answer import Allocation, ThumbAnswer
from lodestarch.plan.allocate.blend_value import BlendLimit, BlendValue
from lodestarch.plan.allocate.check_odds import PlanOdds
from lodestarch.plan.allocate.loading import LoadingSheet
from lodestarch.plan.allocate.neighbours import Worth
from lodestarch.plan.allocate.plan import Draw, Plan
from lodestarch.words.allocate import proof_text
from lodestarch.work.planning.allocate import InstanceOutcome, ProblemOutcome

__all__ = ["instance_as_dict", "problem_as_dict"]

_KEYS: Final = (
    "title", "instance", "variant", "type", "sense", "currency", "ended", "objective", "bound", "gap", "says",
    "solver", "solver_s", "plan", "odds", "binds", "worth", "passes", "expected", "blends", "sheets", "fewer",
    "thumb", "relaxations", "excluded", "check",
)  # fmt: skip


def _blank() -> dict[str, Any]:
    return dict.fromkeys(_KEYS)


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def problem_as_dict(outcome: ProblemOutcome) -> dict[str, Any]:
    """One plan problem with its answer; every key is there, null where there is no answer."""
    body = _blank() | {"type": "allocation", "sense": "maximise"}
    answer = outcome.answer
    if answer is None:
        return body
    body |= {"title": answer.problem.title or None, "currency": answer.problem.currency}
    plan = answer.plan
    if plan is None:
        return body
    body |= {
        "ended": plan.ended.value,
        "objective": _round(plan.objective, 6),
        "bound": _round(plan.bound, 6),
        "gap": plan.gap,
        "says": proof_text(plan.ended, plan.bound, plan.gap),
        "solver": "linear",
        "solver_s": round(plan.seconds, 4),
        "excluded": [
            {
                "bin": e.bin_id, "to": e.offer_id, "rule": e.rule, "source": e.source or None,
                "factor": e.factor, "value": e.value, "limit": e.limit,
            }
            for e in plan.excluded
        ],
        "relaxations": [
            {
                "kind": r.kind, "to": r.offer_id, "bin": r.bin_id, "amount": round(r.amount, 6),
                "step": r.step, "alone": r.alone, "share": round(r.share, 6),
            }
            for r in answer.relaxations
        ],
    }  # fmt: skip
    return body | _standing(answer) if plan.stands else body


def _standing(answer: Allocation) -> dict[str, Any]:
    plan, odds = answer.plan, answer.odds
    fewer = answer.fewer
    return {
        "plan": _moves(plan.draws if plan else ()),
        "odds": _odds(answer, odds),
        "binds": [
            {"what": b.what, "id": b.id, "factor": b.factor, "stated": b.stated} for b in answer.binding
        ],
        "worth": {"tonne_more": _worths(answer.tonne_more), "second": _worths(answer.second)},
        "expected": None
        if odds is None
        else {
            "money": round(odds.money, 2), "money_u": round(odds.money_u, 2), "low": round(odds.money_low, 2),
            "high": round(odds.money_high, 2), "trials": odds.trials,
        },
        "blends": [_blend(b) for b in answer.blends],
        "sheets": [_sheet(s) for s in answer.sheets],
        "fewer": None if fewer is None else _fewer(fewer),
        "thumb": None if answer.thumb is None else _thumb(answer.thumb),
        "check": {
            "objective": _round(answer.money_checked, 6),
            "breaches": [
                {"what": b.what, "bin": b.bin_id, "to": b.offer_id, "by": b.by} for b in answer.breaches
            ],
        },
    }  # fmt: skip


def _fewer(plan: Plan) -> dict[str, Any]:
    return {
        "objective": _round(plan.objective, 6),
        "bound": _round(plan.bound, 6),
        "plan": _moves(plan.draws),
    }


def _moves(draws: tuple[Draw, ...]) -> list[dict[str, Any]]:
    return [{"from": d.bin_id, "to": d.offer_id, "amount": round(d.tonnes, 6)} for d in draws]


def _worths(worths: tuple[Worth, ...]) -> list[dict[str, Any]]:
    return [{"id": w.id, "money": _round(w.money, 4)} for w in worths]


def _odds(answer: Allocation, odds: PlanOdds | None) -> list[dict[str, Any]] | None:
    if odds is None:
        return None
    wanted = {o.id: o.wanted_odds for o in answer.problem.offers}
    return [
        {
            "to": o.offer_id, "wanted": wanted.get(o.offer_id), "p_other_lab": round(o.passes, 4),
            "p_true": round(o.passes_true, 4), "fn_low_s": _round(o.fn_low_s, 2),
            "fn_mid_s": _round(o.fn_mid_s, 2), "fn_high_s": _round(o.fn_high_s, 2),
            "money": round(o.money, 2),
        }
        for o in odds.offers
    ]  # fmt: skip


def _blend(blend: BlendValue) -> dict[str, Any]:
    return {
        "to": blend.offer_id,
        "tonnes": round(blend.tonnes, 6),
        "price_per_t": round(blend.price_per_t, 4),
        "fn_s": _round(blend.fn_s, 3),
        "fn_low_s": _round(blend.fn_low_s, 3),
        "fn_high_s": _round(blend.fn_high_s, 3),
        "limits": [_limit(v) for v in blend.limits],
    }


def _limit(limit: BlendLimit) -> dict[str, Any]:
    return {
        "factor": limit.factor,
        "stated": limit.stated,
        "at_least": limit.at_least,
        "predicted": round(limit.predicted, 4),
        "p_other_lab": _round(limit.odds, 4),
        "p_true": _round(limit.odds_true, 4),
        "aim": round(limit.aim, 3),
        "even": round(limit.even, 3),
        "binds": limit.binds,
    }


def _sheet(sheet: LoadingSheet) -> dict[str, Any]:
    return {
        "to": sheet.offer_id,
        "tonnes": round(sheet.tonnes, 6),
        "loads": sheet.loads,
        "ratio_fn_s": _round(sheet.ratio_fn_s, 3),
        "ratio_keeps": sheet.ratio_keeps,
        "look_at_t": [round(t, 3) for t in sheet.look_at_t],
        "aim_s": _round(sheet.aim_s, 2),
        "stop_s": _round(sheet.stop_s, 2),
        "lines": [
            {
                "order": v.order, "bin": v.bin_id, "tonnes": round(v.tonnes, 6),
                "bushels": _round(v.bushels, 1), "share": round(v.share, 6), "parts": v.parts,
                "steps": v.steps, "from_t": round(v.from_t, 6), "to_t": round(v.to_t, 6),
            }
            for v in sheet.lines
        ],
    }  # fmt: skip


def _thumb(thumb: ThumbAnswer) -> dict[str, Any]:
    return {
        "objective": round(thumb.money, 6),
        "expected": _round(thumb.money_expected, 2),
        "ahead": round(thumb.ahead, 6),
        "ahead_expected": _round(thumb.ahead_expected, 2),
        "breaches": len(thumb.breaches),
        "plan": [{"from": b, "to": o, "amount": round(t, 6)} for (b, o), t in thumb.tonnes.items()],
    }


def instance_as_dict(outcome: InstanceOutcome) -> dict[str, Any]:
    """One instance with its answer; what does not apply to its type is null."""
    read, answer = outcome.read, outcome.answer
    body = _blank() | {
        "title": read.title or None, "instance": read.id, "variant": read.variant, "type": read.type,
        "sense": read.sense,
    }  # fmt: skip
    if answer is None:
        return body
    worth = None
    if answer.tonne_more is not None and answer.second is not None:
        worth = {
            "tonne_more": [{"id": k, "money": _round(v, 4)} for k, v in answer.tonne_more.items()],
            "second": [{"id": k, "money": _round(v, 4)} for k, v in answer.second.items()],
        }
    return body | {
        "ended": None if answer.ended is None else answer.ended.value,
        "objective": answer.objective,
        "bound": answer.bound,
        "gap": answer.gap,
        "says": proof_text(answer.ended, answer.bound, answer.gap),
        "solver": answer.by,
        "solver_s": round(answer.seconds, 4),
        "plan": None
        if answer.plan is None
        else [{"from": m.origin, "to": m.to, "amount": m.amount} for m in answer.plan],
        "binds": None
        if answer.binds is None
        else [{"what": b.what, "id": b.id, "factor": b.factor, "stated": b.stated} for b in answer.binds],
        "worth": worth,
        "passes": answer.passes,
    }
