"""Answers on the season as plain values; keys as in ``docs/json.md``."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from lodestarch.season.intervals import Ends
from lodestarch.season.local_fit import LocalFit
from lodestarch.season.scale import from_scale
from lodestarch.work.season.answers import (
    BlendAnswer,
    EffectsAnswer,
    FaultAnswer,
    IndicatorAnswer,
    RatingAnswer,
)

__all__ = [
    "blends_as_dict",
    "effects_as_dict",
    "faults_as_dict",
    "indicators_as_dict",
    "iso_day",
    "ratings_as_dict",
]


def iso_day(day: int) -> str:
    """A day counted from 1970-01-01 as ISO 8601.

    Examples
    --------
    >>> iso_day(10807)
    '1999-08-04'
    """
    return (date(1970, 1, 1) + timedelta(days=day)).isoformat()


def _ends(name: str, ends: Ends) -> dict[str, Any]:
    return {f"{name}_low": ends[0], f"{name}_high": ends[1]}


def effects_as_dict(answer: EffectsAnswer) -> dict[str, Any]:
    """Shares of variance; every key is there, null or empty where there is no answer."""
    e, c = answer.effects, answer.censored
    mean = e.mean if e else None
    names = [x.name for x in e.effects] if e else []
    return {
        "scale": e.scale.value if e else None,
        "results": e.table.n if e else None,
        "at_floor": e.at_floor if e else None,
        "above_stop": e.above if e else None,
        "mean": mean,
        "u_mean": e.u_mean if e else None,
        "mean_s": None if e is None or mean is None else from_scale(e.scale, mean),
        "probability": e.probability if e else None,
        "reml_deviance": e.deviance if e else None,
        "effects": [
            {
                "factor": x.name, "levels": x.levels, "sd": x.sd, **_ends("sd", x.sd_ends), "share": x.share,
                **_ends("share", x.share_ends),
            }
            for x in (e.effects if e else ())
        ],
        "scales": [
            {"scale": s.scale.value, "deviance": s.deviance, "residual_share": s.shares[-1]} for s in
            answer.scales
        ],
        "censored": {
            "mean": c.mean if c else None,
            "u_mean": c.u_mean if c else None,
            "bounds": c.bounds if c else None,
            "deviance": c.deviance if c else None,
            "effects": [
                {"factor": n, "sd": sd, **_ends("sd", ends), "share": share}
                for n, sd, ends, share in zip(names, c.sds, c.sd_ends, c.shares, strict=True)
            ]
            if c and c.sds
            else [],
        },
    }  # fmt: skip


def ratings_as_dict(answer: RatingAnswer) -> dict[str, Any]:
    """Ratings, a list a factor."""
    return {
        "limit_s": answer.ratings[0].limit_s if answer.ratings else None,
        "probability": answer.ratings[0].probability if answer.ratings else None,
        "ratings": [
            {
                "factor": r.factor, "level": x.level, "rated": x.rated, "results": x.results,
                "trials": x.trials, "seasons": x.seasons, "estimate_s": x.estimate_s, "low_s": x.low_s,
                "high_s": x.high_s,
                "plain_mean_s": x.mean_s, "reliability": x.reliability, "below_limit": x.below,
            }
            for r in answer.ratings
            for x in r.lines
        ],
    }  # fmt: skip


def _fit(one: LocalFit) -> dict[str, Any]:
    return {
        "predictors": " + ".join(one.names), "seasons": one.seasons, "verdict": one.verdict.value,
        "left_out_error_s": one.error_s, "no_model_error_s": one.no_model_s, "gain": one.gain, "q2": one.q2,
        "mean_gain_s2": one.mean_gain, "u_mean_gain_s2": one.u_mean_gain, "nearer": one.nearer,
        "intercept_s": one.intercept_s, "slopes": list(one.slopes),
    }  # fmt: skip


def indicators_as_dict(answer: IndicatorAnswer) -> dict[str, Any]:
    """Weather beside results, and the verdict of each fit."""
    record = answer.record
    return {
        "indicators": list(record.names) if record else [],
        "harvests": [
            {
                "season": h.season, "harvest_date": iso_day(h.day), "results": h.results,
                "at_bound": h.at_bound, "mean_s": h.mean_s, "low_s": h.low_s, "high_s": h.high_s,
                "cause": h.cause,
                "values": list(h.values), "missing_days": list(h.missing),
            }
            for h in (record.harvests if record else ())
        ],
        "fits": [_fit(f) for f in (record.fits if record else ())],
    }  # fmt: skip


def faults_as_dict(answer: FaultAnswer) -> dict[str, Any]:
    """Suspicions; what each rests on stands among the findings too."""
    return {
        "looked": answer.looked,
        "results": answer.results,
        "faults": [
            {"kind": f.kind, "rows": list(f.rows), "chance": f.chance, "code": f.finding.code}
            for f in answer.faults
        ],
    }


def blends_as_dict(answer: BlendAnswer) -> dict[str, Any]:
    """Own blends."""
    r = answer.record
    return {
        "compared": r.compared, "bias_s": r.bias_s, "u_bias_s": r.u_bias_s, "sd_s": r.sd_s,
        "chance": r.chance,
        "margin_s": r.margin_s, "probability": r.probability, "offset_s": r.offset_s,
        "law_error_s": r.law_error_s, "fitted_error_s": r.fitted_error_s, "use_fitted": r.use_fitted,
        "blends": [
            {
                "blend": x.name, "lots": x.lots, "predicted_s": x.predicted_s, "measured_s": x.measured_s,
                "error_s": x.error_s, "compared": x.compared,
            }
            for x in r.lines
        ],
    }  # fmt: skip
