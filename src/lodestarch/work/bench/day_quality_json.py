"""What u rests on, and what is held, as plain values; keys in ``docs/json.md``."""

from __future__ import annotations

from typing import Any

from lodestarch.control.check_spread import CheckSpread
from lodestarch.control.day_hold import DayHold
from lodestarch.control.own_precision import OwnPrecision
from lodestarch.work.bench.outcome import DayOutcome
from lodestarch.work.quality.as_json import as_dict

__all__ = ["day_quality_as_dict", "hold_as_dict"]


def day_quality_as_dict(outcome: DayOutcome) -> dict[str, Any]:
    """Return the keys ``own``, ``budget`` and ``hold`` of a day; null where there is nothing of the kind."""
    return {
        "own": None if outcome.own is None else _own(outcome.own),
        "budget": None if outcome.budget is None else as_dict(outcome.budget),
        "hold": None if outcome.hold is None else hold_as_dict(outcome.hold),
    }


def _own(own: OwnPrecision) -> dict[str, Any]:
    return {
        "pairs_kept": own.kept,
        "pairs_brought": own.brought,
        "pairs_used": 0 if own.fit is None else own.fit.used,
        "prior_weight": own.prior_weight,
        "pairs_of_other_methods": sum(n for _, n in own.others),
        "bench_cv": None if own.spread is None else own.spread.cv,
        "bench_checks": None if own.spread is None else own.spread.checks,
        "checks_meal": None if own.spread is None else _checks(own.spread.meal),
        "checks_grain": None if own.spread is None else _checks(own.spread.grain),
        "grinding_cv": None if own.spread is None else own.spread.grinding_cv,
    }


def _checks(part: CheckSpread | None) -> dict[str, Any] | None:
    return None if part is None else {"cv": part.cv, "dof": part.dof, "checks": part.checks}


def hold_as_dict(hold: DayHold) -> dict[str, Any]:
    """What failed checks hold, who has it, and where the retained samples are."""
    return {
        "failed": list(hold.failed),
        "cleared": [{"sample": sample, "cause": cause} for sample, cause in hold.cleared],
        "held": [
            {
                "sample": h.sample,
                "ticket": h.ticket,
                "day_id": h.day_id or None,
                "checks": list(h.checks),
                "released_at": h.released,
                "told": [{"who": who or None, "how": how} for who, how in h.told],
                "retained": h.retained,
            }
            for h in hold.held
        ],
    }
