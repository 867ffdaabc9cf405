"""Activities behind readings, with a finding where there is none."""

from __future__ import annotations

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.tube.curves import Curve, activity_for, curve_of
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.legal import check
from lodestarch.tube.parameters import ParameterSet

__all__ = ["Solved", "solve"]

Solved = tuple[tuple[float, ...], Curve | None, tuple[Finding, ...]]
"""Activities, the curve they were found on, and findings; with findings there are no activities."""


def solve(readings_s: tuple[float, ...], tube: TubeInputs, params: ParameterSet, field: str) -> Solved:
    """Find the activity at which a tube reads each of some readings."""
    free = tube.with_activity(0.0)
    found = list(check(free, params))
    if found:
        return (), None, tuple(found)
    curve = curve_of(free, params)
    activities = []
    for reading in readings_s:
        try:
            activities.append(activity_for(reading, free, params, curve=curve))
        except NoAnswer as none:
            found.append(Finding(none.code, Where(field=field), Severity.STOP, none.values))
    return (() if found else tuple(activities)), curve, tuple(found)
