"""A decision rule that lab and customer agreed beforehand, applied to a result."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.decide.guard import acceptance_limit
from lodestarch.method.reading import Kind
from lodestarch.words.issued.statement import Conformity, StatedResult

__all__ = ["PROBABILITY", "RULES", "Agreed", "conformity"]

RULES: Final = ("simple", "guarded")
PROBABILITY: Final = 0.95
"""Probability that a result accepted at the guard band's edge meets the limit. [1]  Common practice."""


@dataclass(frozen=True, slots=True)
class Agreed:
    """What was agreed: the specification by name, its limits, the rule, and when."""

    specification: str
    at_least_s: float | None
    at_most_s: float | None
    rule: str
    agreed_on: str


def _stop(field: str, where: Where, **values: str | float) -> Finding:
    at = Where(ticket=where.ticket, sample=where.sample, field=field)
    return Finding("agreed-odd", at, Severity.STOP, {"field": field, **values})


def _findings(agreed: Agreed, result: StatedResult, received: str | None, where: Where) -> list[Finding]:
    found = []
    if not agreed.specification.strip():
        found.append(_stop("specification", where, why="empty"))
    low, high = agreed.at_least_s, agreed.at_most_s
    outside = any(x is not None and not (math.isfinite(x) and 0.0 < x <= 2000.0) for x in (low, high))
    if (low is None and high is None) or outside or (low is not None and high is not None and low >= high):
        found.append(_stop("limit", where, why="outside"))
    if agreed.rule not in RULES:
        found.append(_stop("rule", where, why="no-choice"))
    if agreed.rule == "guarded" and result.u_s is None:
        found.append(Finding("agreed-no-u", where, Severity.STOP))
    try:
        on = date.fromisoformat(agreed.agreed_on)
    except ValueError:
        return [*found, _stop("agreed_on", where, why="no-date")]
    if received and on.isoformat() > received[:10]:
        values = {"agreed_on": on.isoformat(), "received": received[:10]}
        found.append(Finding("agreed-late", where, Severity.CHECK, values))
    return found


def _span(result: StatedResult) -> tuple[float, float]:
    """Seconds between which the result says that the reading lies."""
    if result.kind == Kind.AT_OR_BELOW:
        return 0.0, result.seconds
    return (result.seconds, math.inf) if result.kind == Kind.ABOVE else (result.seconds, result.seconds)


def conformity(
    agreed: Agreed, result: StatedResult, received: str | None, where: Where
) -> tuple[Conformity | None, tuple[Finding, ...]]:
    """Apply the rule; ``None`` with findings where it cannot be.

    Parameters
    ----------
    agreed : Agreed
    result : StatedResult
    received : str or None
        When the sample came in: a rule agreed later than that is reported.
    where : Where
    """
    found = _findings(agreed, result, received, where)
    if any(f.severity is Severity.STOP for f in found):
        return None, tuple(found)
    guard = 0.0
    if agreed.rule == "guarded" and result.u_s is not None:
        guard = round(float(acceptance_limit(0.0, result.u_s, PROBABILITY)), 1)
    least, most = _span(result)
    low = -math.inf if agreed.at_least_s is None else agreed.at_least_s
    high = math.inf if agreed.at_most_s is None else agreed.at_most_s
    if least - guard >= low and most + guard <= high:
        outcome = "meets"
    elif most + guard < low or least - guard > high:
        outcome = "does-not-meet"
    else:
        outcome = "not-stated"
    stated = Conformity(
        agreed.specification.strip(), agreed.at_least_s, agreed.at_most_s, agreed.rule, guard,
        round(1.0 - PROBABILITY, 6) if agreed.rule == "guarded" else None, agreed.agreed_on, outcome,
    )  # fmt: skip
    return stated, tuple(found)
