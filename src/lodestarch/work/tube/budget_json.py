"""Budgets as plain values; keys as in ``docs/json.md``."""

from __future__ import annotations

from typing import Any

from lodestarch.work.tube.as_json import limits_as_list
from lodestarch.work.tube.budget import BudgetAnswer, LevelBudget

__all__ = ["budget_as_dict"]


def budget_as_dict(answer: BudgetAnswer, seed: int | None) -> dict[str, Any]:
    """A budget of several readings."""
    return {
        "set": answer.set_name,
        "bench": answer.bench.name,
        "spreads": [
            {
                "input": key,
                "shape": spread.shape,
                "width": spread.width,
                "provenance": spread.provenance.value,
                "note": spread.note,
            }
            for key, spread in answer.bench.spreads.items()
        ],
        "seed": seed,
        "readings": [_level(level) for level in answer.levels],
        "limits": limits_as_list(answer.limits),
    }


def _level(level: LevelBudget) -> dict[str, Any]:
    shares = level.shares
    return {
        "seconds": level.lines.reading_s,
        "activity": level.lines.activity,
        "disturbances": [
            {
                "input": line.key,
                "unit": line.unit,
                "amount": line.amount,
                "more_s": line.more_s,
                "less_s": line.less_s,
                "measured": line.measured,
            }
            for line in level.lines.lines
        ],
        "u_s": level.u_s,
        "contributions": [
            {"input": p.key, "unit": p.unit, "u_input": p.u_input, "slope_s": p.slope, "u_s": p.u_s}
            for p in level.parts
        ],
        "shares": {
            "evaluations": shares.shares.evaluations if shares else None,
            "sd_s": shares.shares.variance**0.5 if shares else None,
            "inputs": [
                {"input": key, "first": first, "first_u": first_u, "total": total, "total_u": total_u}
                for key, first, first_u, total, total_u in zip(
                    shares.keys, shares.shares.first.tolist(), shares.shares.first_u.tolist(),
                    shares.shares.total.tolist(), shares.shares.total_u.tolist(), strict=True,
                )
            ]
            if shares
            else [],
        },
    }  # fmt: skip
