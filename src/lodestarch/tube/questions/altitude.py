"""What elevation and weather do to a reading at this bench, as a band over what is not known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.bath import STANDARD_HPA, boiling_point_c
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.grid import FINE
from lodestarch.tube.inputs import LEGAL, UNITS, TubeArrays, TubeInputs
from lodestarch.tube.parameters import ParameterSet, shipped_set
from lodestarch.tube.questions.solve import solve
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of

__all__ = ["BOUNDS", "Altitude", "Shift", "altitude"]

BOUNDS: Final = ("ref", "f0-550", "f0-700", "film-plus", "film-minus", "kd-plus", "kd-minus")
"""Sets that meet the same targets under other assumptions; their spread is the band."""


@dataclass(frozen=True, slots=True)
class Shift:
    """What a pressure does to one reading.

    Parameters
    ----------
    level_s : float
        The reading at the base pressure. [s]
    pressure_hpa, bath_c : float
        The other pressure, and its boiling point.
    shift_s : float
        How much more it reads there, by the set in use. [s]
    low_s, high_s : float
        Least and most over the other sets that can read this level. [s]
    sets : int
        How many sets that is.
    """

    level_s: float
    pressure_hpa: float
    bath_c: float
    shift_s: float
    low_s: float
    high_s: float
    sets: int


@dataclass(frozen=True, slots=True)
class Altitude:
    """Shifts by level and pressure."""

    base_hpa: float
    shifts: tuple[Shift, ...]
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def altitude(
    levels_s: tuple[float, ...],
    pressures_hpa: tuple[float, ...],
    inputs: TubeInputs,
    params: ParameterSet,
    *,
    base_hpa: float = STANDARD_HPA,
    bounds: tuple[str, ...] = BOUNDS,
) -> Altitude:
    """What other pressures do to readings.

    Parameters
    ----------
    levels_s : tuple of float
        Readings at the base pressure. [s]
    pressures_hpa : tuple of float
        Station pressures: those of a higher place, or this place's on a stormy and on a fine day. [hPa]
    inputs, params
        The tube (its activity and pressure do not matter) and the constants.
    base_hpa : float
        Pressure at which the levels are read. [hPa]
    bounds : tuple of str
        Shipped sets that make the band.

    Returns
    -------
    Altitude
        ``tube-input-illegal``, ``tube-above-enzyme-free`` or ``tube-below-reach`` (stop) with no shifts where
        something cannot be; ``tube-altitude-open`` (check) where the band is wider than twice the shift:
        below about 200 s the effect is a matter of unmeasured heat transfer and enzyme stability.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> one = altitude((300.0,), (908.12,), TubeInputs(activity=0.0), shipped_set()).shifts[0]
    >>> round(one.shift_s, 1), round(one.low_s, 1), round(one.high_s, 1)
    (27.3, 25.2, 30.7)
    """
    limits = limits_of(inputs, params)
    low, high = LEGAL["pressure_hpa"]
    bad = [p for p in (*pressures_hpa, base_hpa) if not low <= p <= high]
    if bad:
        values: dict[str, Value] = {
            "value": repr(bad[0]),
            "low": low,
            "high": high,
            "unit": UNITS["pressure_hpa"],
        }
        finding = Finding("tube-input-illegal", Where(field="pressure_hpa"), Severity.STOP, values)
        return Altitude(base_hpa, (), (finding,), limits)
    tube = replace(inputs, pressure_hpa=base_hpa)
    activities, _, found = solve(levels_s, tube, params, "seconds")
    if found:
        return Altitude(base_hpa, (), found, limits)
    here = _shifts(levels_s, activities, pressures_hpa, tube, params)
    rows: list[Shift] = []
    more: list[Finding] = []
    for i, level in enumerate(levels_s):
        others = [
            _shifts((level,), solved, pressures_hpa, tube, other)[0]
            for other in map(shipped_set, bounds)
            for solved in (solve((level,), tube, other, "seconds")[0],)
            if solved
        ]
        band = np.array([*others, here[i]])
        for j, pressure in enumerate(pressures_hpa):
            shift, least, most = float(here[i][j]), float(band[:, j].min()), float(band[:, j].max())
            rows.append(Shift(level, pressure, boiling_point_c(pressure), shift, least, most, len(others)))
            if most - least > 2.0 * abs(shift) and most - least > 1.0:
                wide: dict[str, Value] = {"seconds": level, "shift_s": shift, "low_s": least, "high_s": most}
                more.append(Finding("tube-altitude-open", Where(field="seconds"), Severity.CHECK, wide))
    return Altitude(base_hpa, tuple(rows), tuple(more), limits)


def _shifts(
    levels_s: tuple[float, ...],
    activities: tuple[float, ...],
    pressures_hpa: tuple[float, ...],
    tube: TubeInputs,
    params: ParameterSet,
) -> list[FloatArray]:
    varied = {"activity": np.array(activities)[:, None], "pressure_hpa": np.array(pressures_hpa)[None, :]}
    got = seconds(TubeArrays.like(tube.with_activity(0.0), params, **varied), params, grid=FINE)
    return [got[i] - levels_s[i] for i in range(len(levels_s))]
