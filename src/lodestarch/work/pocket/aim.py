"""The number to show here, the guard band, and the risks of the rule."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity, Where, of_range
from lodestarch.decide.aim import Aim, aim_point
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.risk import Risks, Rule, WantedRisk, risks, rule_for
from lodestarch.work.pocket.typed_results import limits_of, read_u

__all__ = ["AimAnswer", "AimAsked", "aim_for", "aim_json"]


@dataclass(frozen=True, slots=True)
class AimAsked:
    """The question as typed; ``wanted`` as a chance, ``risk`` as one, what they are of in ``side``."""

    u: str | None
    limit_s: float | None = None
    at_most_s: float | None = None
    counts_from_s: float | None = None
    counts_to_s: float | None = None
    wanted: float = 0.95
    other_u_s: float | None = None
    other_bias_s: float = 0.0
    other_bias_u_s: float = 0.0
    lots_mean_s: float | None = None
    lots_sd_s: float | None = None
    risk: float | None = None
    side: WantedRisk = "consumer"


@dataclass(frozen=True, slots=True)
class AimAnswer:
    """Aim point, its guard band, the risks of accepting from it on, and the rule for a wanted risk."""

    aim: Aim | None
    at_other_lab: bool
    risks: Risks | None
    rule: Rule | None
    findings: tuple[Finding, ...]


def aim_for(asked: AimAsked) -> AimAnswer:
    """Answer for a limit and a wanted probability.

    Notes
    -----
    Without a word on the lab that decides the aim is for the true value, and a finding says so. The risks
    are those of loads N(``lots_mean_s``, ``lots_sd_s``) when results from the aim on are accepted.
    """
    law = read_u(asked.u)
    found: list[Finding] = [law] if isinstance(law, Finding) else []
    if (asked.lots_mean_s is None) != (asked.lots_sd_s is None) or (
        asked.risk is not None and asked.lots_sd_s is None
    ):
        found.append(Finding("aim-lots-half", Where(field="lots"), Severity.STOP, {}))
    deciding = None
    try:
        limits = limits_of(asked.limit_s, asked.at_most_s, asked.counts_from_s, asked.counts_to_s)
        if asked.other_u_s is not None:
            deciding = DecidingLab(asked.other_u_s, asked.other_bias_s, asked.other_bias_u_s)
        if found or isinstance(law, Finding):
            return AimAnswer(None, deciding is not None, None, None, tuple(found))
        found += law.told(limits.low_s if math.isfinite(limits.low_s) else limits.high_s)
        aim = aim_point(limits, asked.wanted, law.by_level, deciding=deciding)
        got = rule = None
        if asked.lots_mean_s is not None and asked.lots_sd_s is not None:
            level = law.at(limits.low_s if math.isfinite(limits.low_s) else limits.high_s)
            made = Rule(limits.low_s, limits.high_s, aim.show_s, aim.show_to_s)
            got = risks(made, asked.lots_mean_s, asked.lots_sd_s, level)
            if asked.risk is not None:
                rule, _ = rule_for(asked.side, asked.risk, made, asked.lots_mean_s, asked.lots_sd_s, level)
    except NoAnswer as cause:
        found.append(Finding(cause.code, Where(field="limit"), Severity.STOP, cause.values))
        return AimAnswer(None, deciding is not None, None, None, tuple(found))
    except OutOfRange as cause:
        found.append(of_range(cause, Where(field=cause.name)))
        return AimAnswer(None, deciding is not None, None, None, tuple(found))
    if deciding is None:
        found.append(Finding("odds-other-missing", Where(field="other_u_s"), Severity.CHECK, {}))
    return AimAnswer(aim, deciding is not None, got, rule, tuple(found))


def _or_null(value: float, digits: int = 6) -> float | None:
    return round(value, digits) if math.isfinite(value) else None


def aim_json(asked: AimAsked, answer: AimAnswer) -> Mapping[str, object]:
    """The answer as JSON keys (``docs/json.md``)."""
    aim, got, rule = answer.aim, answer.risks, answer.rule
    return {
        "show_s": None if aim is None else _or_null(aim.show_s),
        "show_to_s": None if aim is None else _or_null(aim.show_to_s),
        "from_s": None if aim is None else _or_null(aim.from_s),
        "to_s": None if aim is None else _or_null(aim.to_s),
        "best_s": None if aim is None else _or_null(aim.best_s),
        "best_p": None if aim is None else _or_null(aim.best_p),
        "wanted": asked.wanted,
        "limit_s": asked.limit_s,
        "at_most_s": asked.at_most_s,
        "at_other_lab": answer.at_other_lab,
        "u_from_scatter": asked.u is None,
        "risks": None
        if got is None
        else {
            "consumer": _or_null(got.consumer, 9),
            "producer": _or_null(got.producer, 9),
            "conforming": _or_null(got.conforming, 9),
            "accepted": _or_null(got.accepted, 9),
            "false_among_accepted": _or_null(got.false_among_accepted, 9),
            "good_among_rejected": _or_null(got.good_among_rejected, 9),
        },
        "rule": None
        if rule is None
        else {
            "accept_from_s": _or_null(rule.accept_from_s),
            "accept_to_s": _or_null(rule.accept_to_s),
            "risk": asked.risk,
            "side": asked.side,
        },
    }
