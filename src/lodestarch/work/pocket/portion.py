"""How much to weigh."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.nomenclature import legal_range
from lodestarch.method.portion import Portion, moisture_findings, portion, wall_table
from lodestarch.method.profile import Profile

__all__ = ["PortionAnswer", "portion_for", "wall_rows"]


@dataclass(frozen=True, slots=True)
class PortionAnswer:
    """A portion, or the findings that say why there is none and what to do."""

    portion: Portion | None
    findings: tuple[Finding, ...]


def portion_for(moisture_pct: float, profile: Profile) -> PortionAnswer:
    """Answer with the portion for a moisture; outside the method's moistures, with the path instead."""
    where = Where(field="moisture_pct")
    low, high = legal_range("moisture_pct")
    if not low <= moisture_pct <= high:
        values: dict[str, Value] = {"moisture_pct": moisture_pct, "low_pct": low, "high_pct": high}
        return PortionAnswer(None, (Finding("moisture-illegal", where, Severity.STOP, values),))
    found = moisture_findings(moisture_pct, profile, where)
    return PortionAnswer(None if found else portion(moisture_pct, profile), found)


def wall_rows(profile: Profile) -> tuple[Portion, ...]:
    """Portions of the whole moisture window in steps of 0.1 %, for the wall."""
    return wall_table(profile)
