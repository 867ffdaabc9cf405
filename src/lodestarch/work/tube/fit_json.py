"""Fits as plain values; keys as in ``docs/json.md``."""

from __future__ import annotations

import math
from typing import Any

from lodestarch.work.tube.as_json import limits_as_list
from lodestarch.work.tube.fit import FitAnswer

__all__ = ["fit_as_dict"]


def fit_as_dict(answer: FitAnswer | None, seed: int | None) -> dict[str, Any]:
    """A fit; every key is there, null or empty where there is no answer."""
    made = answer.fit if answer else None
    walked = answer.posterior if answer else None
    found = made.identified if made else None
    return {
        "name": made.params.name if made else None,
        "standing": made.params.standing.value if made else None,
        "runs": answer.used if answer else None,
        "published": answer.published if answer else None,
        "u_by_law": answer.runs.by_law if answer else None,
        "sum_of_squares": made.sum_of_squares if made else None,
        "freedom": made.freedom if made else None,
        "scale": made.scale if made else None,
        "estimates": [
            {"name": e.name, "value": e.value, "u_relative": e.u_relative}
            for e in (made.estimates if made else ())
        ],
        "calibration_residuals": [
            {"run": r.key, "observed_s": r.observed_s, "modelled_s": r.modelled_s, "over_u": r.over_u}
            for r in (made.residuals if made else ())
        ],
        "not_told_apart": [
            {
                "u_log": d.u_log if math.isfinite(d.u_log) else None,
                "determined": d.determined,
                "parts": [{"name": part, "weight": weight} for part, weight in d.parts],
            }
            for d in (found.directions if found else ())
        ],
        "alike": [
            {"first": first, "second": second, "correlation": r}
            for first, second, r in (found.alike if found else ())
        ],
        "posterior": {
            "seed": seed,
            "effective": walked.effective if walked else None,
            "ratio": walked.ratio if walked else None,
            "accepted": walked.accepted if walked else None,
            "evaluations": walked.evaluations if walked else None,
            "margins": [
                {"name": m.name, "median": m.median, "low": m.low, "high": m.high, "told": m.told}
                for m in (walked.margins if walked else ())
            ],
        },
        "limits": limits_as_list(made.limits) if made else [],
    }
