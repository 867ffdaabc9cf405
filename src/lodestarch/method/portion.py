"""The test portion: how much to weigh, from the moisture.

Four rules, each used under its name. No printed row of any standard's table is known to the project, so the
name of the rule stands beside every mass, and a lab may paste its own table instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray, Floats, as_array, like
from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.rounding import half_up
from lodestarch.method.profile import Constants, Profile

__all__ = ["RULES", "Portion", "moisture_findings", "portion", "portion_mass_g", "wall_table"]

RULES: Final = ("dry-matter-to-total-water", "dry-matter", "table", "as-is")


@dataclass(frozen=True, slots=True)
class Portion:
    """What to weigh: grams, the band that the tolerance allows, and the rule it comes from."""

    moisture_pct: float
    mass_g: float
    low_g: float
    high_g: float
    unrounded_g: float
    rule: str
    base_mass_g: float
    moisture_basis_pct: float | None
    water_ml: float
    profile: str


def _window(c: Constants) -> tuple[float, float]:
    """Moistures that the profile covers; a pasted table ends where its rows end."""
    low, high = c.moisture_min_pct, c.moisture_max_pct
    if c.portion_rule == "table" and c.portion_table:
        low, high = max(low, c.portion_table[0][0]), min(high, c.portion_table[-1][0])
    return low, high


def _unrounded(m: FloatArray, c: Constants) -> FloatArray:
    if c.portion_rule == "as-is":
        return np.full_like(m, c.base_mass_g)
    if c.portion_rule == "table":
        xs, ys = zip(*(c.portion_table or ()), strict=True)
        return np.asarray(np.interp(m, xs, ys))
    basis = (c.moisture_basis_pct or 0.0) / 100.0
    moisture = m / 100.0
    if c.portion_rule == "dry-matter":
        return c.base_mass_g * (1.0 - basis) / (1.0 - moisture)
    ratio = c.base_mass_g * (1.0 - basis) / (c.water_ml + c.base_mass_g * basis)
    return ratio * c.water_ml / ((1.0 - moisture) - ratio * moisture)


def portion_mass_g(moisture_pct: Floats, constants: Constants, *, rounded: bool = True) -> Floats:
    """Test portion for a moisture.

    Parameters
    ----------
    moisture_pct : float or ndarray
        Moisture of what is weighed, wet basis. [%]  Legal: the window of the profile.
    constants : Constants
        Of a profile: rule, base portion m0, basis b, water V.
    rounded : bool
        To the profile's step.

    Returns
    -------
    float or ndarray
        Mass, same shape. [g]

    Raises
    ------
    OutOfRange
        When a moisture lies outside the window; a mass is never extrapolated.

    Notes
    -----
    With M and b as fractions: *dry matter to total water* m = k V/((1 - M) - k M),
    k = m0 (1 - b)/(V + m0 b); *dry matter* m = m0 (1 - b)/(1 - M); *as is* m = m0; *table* linear between
    the lab's own rows. All derived; which of the first two a standard prints is likely the first, not proven.

    Examples
    --------
    >>> from lodestarch.method.shipped import shipped_profile
    >>> portion_mass_g(9.0, shipped_profile("meal-15").constants)
    6.42
    """
    m = as_array(moisture_pct)
    low, high = _window(constants)
    bad = m[~((m >= low) & (m <= high))]
    if bad.size:
        raise OutOfRange("moisture_pct", float(bad.flat[0]), low, high, "%")
    mass = _unrounded(m, constants)
    return like(moisture_pct, half_up(mass, constants.portion_step_g) if rounded else mass)


def portion(moisture_pct: float, profile: Profile) -> Portion:
    """Return the portion for one moisture with its tolerance band and rule.

    Raises
    ------
    OutOfRange
        As :func:`portion_mass_g`.

    Examples
    --------
    >>> from lodestarch.method.shipped import shipped_profile
    >>> p = portion(12.0, shipped_profile("meal-14"))
    >>> p.mass_g, p.low_g, p.high_g
    (6.8, 6.75, 6.85)
    """
    c = profile.constants
    mass = portion_mass_g(moisture_pct, c)
    return Portion(
        moisture_pct=moisture_pct,
        mass_g=mass,
        low_g=half_up(mass - c.mass_tolerance_g, 0.001),
        high_g=half_up(mass + c.mass_tolerance_g, 0.001),
        unrounded_g=portion_mass_g(moisture_pct, c, rounded=False),
        rule=c.portion_rule,
        base_mass_g=c.base_mass_g,
        moisture_basis_pct=c.moisture_basis_pct,
        water_ml=c.water_ml,
        profile=profile.name,
    )


def moisture_findings(moisture_pct: float, profile: Profile, where: Where) -> tuple[Finding, ...]:
    """Say what to do with a moisture for which the profile has no portion.

    Returns
    -------
    tuple of Finding
        ``moisture-above-method``: dry gently, measure again, record, weigh. ``moisture-below-method``:
        measure again or look the mass up in the printed method. Empty inside the window.
    """
    low, high = _window(profile.constants)
    values: dict[str, Value] = {
        "moisture_pct": moisture_pct,
        "low_pct": low,
        "high_pct": high,
        "profile": profile.name,
    }
    if moisture_pct > high:
        return (Finding("moisture-above-method", where, Severity.STOP, values),)
    if moisture_pct < low:
        return (Finding("moisture-below-method", where, Severity.STOP, values),)
    return ()


def wall_table(profile: Profile, step_pct: float = 0.1) -> tuple[Portion, ...]:
    """Return the portions of the whole window in steps of moisture, for the wall."""
    low, high = _window(profile.constants)
    # The last row lies inside a window that is no whole number of steps.
    n = int((high - low) / step_pct + 1e-9)
    return tuple(portion(half_up(low + i * step_pct, step_pct / 10.0), profile) for i in range(n + 1))
