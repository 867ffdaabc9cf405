"""The error budget from physics: seconds per disturbance, at any falling number.

Given to ``precision`` as contributions explained by the model. A budget never corrects a result.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.tube.bench import Bench
from lodestarch.tube.curves import activity_for, curve_of
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.grid import FINE
from lodestarch.tube.inputs import LEGAL, UNITS, VARIED, TubeArrays, TubeInputs
from lodestarch.tube.legal import check
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.sensitivity import sensitivities
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of, with_limits

__all__ = ["STANDARD", "Budget", "Contribution", "Disturbance", "Line", "budget", "contributions"]


@dataclass(frozen=True, slots=True)
class Disturbance:
    """A change of one input by an amount in its unit."""

    key: str
    amount: float


STANDARD: Final = (
    Disturbance("mass_g", 0.05),
    Disturbance("water_ml", 0.2),
    Disturbance("moisture_pct", 1.0),
    Disturbance("pressure_hpa", 1.0),
    Disturbance("start_temp_c", 1.0),
    Disturbance("stir_from_s", 1.0),
    Disturbance("wall_mm", 0.1),
)
"""What a bench can do about: 0.05 g, 0.2 mL, a point of moisture (mass kept), 1 hPa, 1 °C of slurry and
glass, 1 s until the first stroke, 0.1 mm of glass."""

_UNMEASURED: Final = frozenset({"water_ml", "start_temp_c", "stir_from_s", "wall_mm"})


@dataclass(frozen=True, slots=True)
class Line:
    """One disturbance and what it does to the reading.

    Parameters
    ----------
    key, unit : str
        The input.
    amount : float
        Its change, in ``unit``.
    more_s, less_s : float or None
        Change of the reading when the input is larger, smaller by the amount; ``None`` where that would
        leave the legal range. [s]
    measured : bool
        False where no measurement of this effect is known.
    """

    key: str
    unit: str
    amount: float
    more_s: float | None
    less_s: float | None
    measured: bool


@dataclass(frozen=True, slots=True)
class Budget:
    """Disturbances of one reading.

    Parameters
    ----------
    reading_s : float
        The reading. [s]
    activity : float or None
        The activity at which the model reads it; ``None`` where it cannot. [1]
    lines : tuple of Line
        A line a disturbance; empty where there are findings of severity *stop*.
    """

    reading_s: float
    activity: float | None
    lines: tuple[Line, ...]
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def budget(
    reading_s: float,
    inputs: TubeInputs,
    params: ParameterSet,
    disturbances: tuple[Disturbance, ...] = STANDARD,
) -> Budget:
    """Seconds per disturbance at a reading.

    Parameters
    ----------
    reading_s : float
        Falling number. [s]
    inputs : TubeInputs
        The tube as it should be; its own activity does not matter.
    params : ParameterSet
        Constants.
    disturbances : tuple of Disturbance
        What to vary, one at a time.

    Returns
    -------
    Budget
        With findings where the set cannot read that much or that little
        (``tube-above-enzyme-free``, ``tube-below-reach``), or where the tube is not legal.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> lines = budget(300.0, TubeInputs(activity=0.0), shipped_set()).lines
    >>> [(line.key, round(line.more_s, 1)) for line in lines[:2]]
    [('mass_g', 2.8), ('water_ml', -3.1)]
    """
    limits = limits_of(inputs, params)
    tube = inputs.with_activity(0.0)
    found = check(tube, params)
    if found:
        return Budget(reading_s, None, (), found, limits)
    try:
        activity = activity_for(reading_s, tube, params, curve=curve_of(tube, params))
    except NoAnswer as none:
        finding = Finding(none.code, Where(field="seconds"), Severity.STOP, none.values)
        return Budget(reading_s, None, (), (finding,), limits)
    lines = _lines(tube.with_activity(activity), params, disturbances)
    more = (Limit.NO_MEASUREMENT,) if any(not line.measured for line in lines) else ()
    if any(line.key == "mass_g" for line in lines):
        more = (*more, Limit.FLOUR_NOT_MEAL)
    return Budget(reading_s, activity, lines, (), with_limits(limits, *more))


def _lines(tube: TubeInputs, params: ParameterSet, disturbances: tuple[Disturbance, ...]) -> tuple[Line, ...]:
    base = TubeArrays.like(tube, params)
    at = {key: float(getattr(base, key)) for key in VARIED}
    columns = {key: np.full(2 * len(disturbances) + 1, at[key]) for key in VARIED}
    legal = []
    for j, d in enumerate(disturbances):
        for k, sign in enumerate((1.0, -1.0)):
            value = at[d.key] + sign * d.amount
            legal.append(LEGAL[d.key][0] <= value <= LEGAL[d.key][1])
            if legal[-1]:
                columns[d.key][2 * j + k] = value
    got = seconds(TubeArrays(**columns), params, grid=FINE)
    change = [float(x) if fine else None for x, fine in zip(got[:-1] - got[-1], legal, strict=True)]
    return tuple(
        Line(d.key, UNITS[d.key], d.amount, change[2 * j], change[2 * j + 1], d.key not in _UNMEASURED)
        for j, d in enumerate(disturbances)
    )


@dataclass(frozen=True, slots=True)
class Contribution:
    """Part of a reading's uncertainty that the model explains.

    Parameters
    ----------
    key, unit : str
        The input.
    u_input : float
        Its standard uncertainty, in ``unit``.
    slope : float
        Seconds per unit.
    u_s : float
        Their product, without sign. [s]
    """

    key: str
    unit: str
    u_input: float
    slope: float
    u_s: float


def contributions(
    reading_s: float, inputs: TubeInputs, params: ParameterSet, bench: Bench
) -> tuple[tuple[Contribution, ...], float]:
    """Contributions of a bench's stray inputs to a reading, first order, and their root sum of squares. [s]

    Raises
    ------
    NoAnswer
        Where the set cannot read that much or that little.

    Notes
    -----
    ``u = |dFN/dx| u(x)``, inputs taken as independent (JCGM 100:2008, 5.1.2). Explained by model: the bench's
    own duplicates say what is really there.
    """
    tube = inputs.with_activity(activity_for(reading_s, inputs, params))
    slopes = sensitivities(tube, params)
    base = TubeArrays.like(tube, params)
    rows = []
    for key, spread in bench.spreads.items():
        u, slope = spread.u_at(float(getattr(base, key))), slopes.of(key).slope
        rows.append(Contribution(key, UNITS[key], u, slope, abs(slope) * u))
    return tuple(rows), math.sqrt(sum(row.u_s**2 for row in rows))
