"""What a larger portion would gain for meal with much enzyme, as in rye.

The answer hangs on an open question. If cuts go as enzyme (half time independent of starch, one dilute
study), more meal brings as much more enzyme as paste, and below about 150 s the two cancel. If they go as
enzyme over starch (as saturation would have it), a larger portion spreads low readings. Both are given.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding
from lodestarch.common.provenance import Provenance
from lodestarch.tube.curves import curve_of, fall_along, law_of
from lodestarch.tube.inputs import LEGAL, UNITS, TubeInputs
from lodestarch.tube.legal import check
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of, with_limits

__all__ = ["PortionReading", "Portions", "portions"]


@dataclass(frozen=True, slots=True)
class PortionReading:
    """One meal with one portion.

    Parameters
    ----------
    activity : float
        Enzyme of the meal. [1]
    mass_g : float
        Portion. [g]
    free_s, free_per_percent_s : float
        What it reads when cuts go as enzyme, and how far that falls for one per cent more of it. [s]
    saturated_s, saturated_per_percent_s : float
        The same when cuts go as enzyme over starch. [s]
    """

    activity: float
    mass_g: float
    free_s: float
    free_per_percent_s: float
    saturated_s: float
    saturated_per_percent_s: float


@dataclass(frozen=True, slots=True)
class Portions:
    """Readings by meal and portion."""

    rows: tuple[PortionReading, ...]
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def portions(
    activities: tuple[float, ...],
    masses_g: tuple[float, ...],
    inputs: TubeInputs,
    params: ParameterSet,
) -> Portions:
    """Compare portions over meals.

    Parameters
    ----------
    activities : tuple of float
        Enzyme of the meals, in LN units above enzyme-free. [1]
    masses_g : tuple of float
        Portions, such as 7 and 9. [g]
    inputs, params
        The tube, with its origin of enzyme (``rye`` is a bound, not a measurement), and the constants.

    Raises
    ------
    OutOfRange
        When an activity is not legal.

    Notes
    -----
    A portion resolves two meals the better, the more seconds lie between them: compare the seconds per cent
    with the scatter of duplicates at that level. Constants are those of wheat.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> out = portions((100.0,), (7.0, 9.0), TubeInputs(activity=0.0, moisture_pct=15.0), shipped_set())
    >>> [(round(row.free_s), round(row.saturated_s)) for row in out.rows]
    [(101, 100), (101, 109)]
    """
    limits = with_limits(
        limits_of(inputs, params), Limit.OTHER_GRAIN, Limit.FLOUR_NOT_MEAL, Limit.SATURATION_OPEN
    )
    low, high = LEGAL["activity"]
    for activity in activities:
        if not low <= activity <= high:
            raise OutOfRange("activity", activity, low, high, UNITS["activity"])
    forms = [
        params.replaced(params.name, {"damage_per_starch": flag}, Provenance.DERIVED, "open question")
        for flag in (0.0, 1.0)
    ]
    rows: list[PortionReading] = []
    found: list[Finding] = []
    for mass_g in masses_g:
        tube = replace(inputs.with_activity(0.0), mass_g=mass_g)
        problems = check(tube, params)
        if problems:
            found.extend(problems)
            continue
        curve = curve_of(tube, params)
        for activity in activities:
            figures: list[float] = []
            for form in forms:
                law = law_of(form, activity, curve.concentration)
                at, slopes = fall_along(curve, law)
                figures += [at, float(-0.01 * slopes[3] * law[3])]
            rows.append(PortionReading(activity, mass_g, *figures))
    rows.sort(key=lambda row: (row.activity, row.mass_g))
    return Portions(tuple(rows), tuple(found), limits)
