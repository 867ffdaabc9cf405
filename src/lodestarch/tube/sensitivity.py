"""How a reading moves with each input, and with each constant."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.provenance import Provenance
from lodestarch.tube.ensemble import read_rows, seconds
from lodestarch.tube.grid import FINE
from lodestarch.tube.inputs import LEGAL, UNITS, VARIED, TubeArrays, TubeInputs, activity_of
from lodestarch.tube.legal import require_arrays
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of

__all__ = ["Elasticity", "Sensitivities", "Sensitivity", "elasticities", "sensitivities"]

_STEPS: Final[dict[str, float]] = {
    "activity": 0.2,
    "mass_g": 0.05,
    "moisture_pct": 0.5,
    "water_ml": 0.2,
    "start_temp_c": 1.0,
    "pressure_hpa": 4.0,
    "wall_mm": 0.05,
    "stir_from_s": 0.5,
    "decay_85_per_s": 0.0005,
}


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """Slope of the reading to one input.

    Parameters
    ----------
    key, unit : str
        The input.
    slope : float
        Seconds per unit of it.
    error : float
        Numerical error of the slope.
    """

    key: str
    unit: str
    slope: float
    error: float


@dataclass(frozen=True, slots=True)
class Sensitivities:
    """Slopes of one reading to its nine inputs."""

    seconds: float
    rows: tuple[Sensitivity, ...]
    limits: tuple[Limit, ...]

    def of(self, key: str) -> Sensitivity:
        """Return the slope to one input."""
        return next(row for row in self.rows if row.key == key)


def _stencil(key: str, at: float, step: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points, and weights of the slope by a long and a short step; one-sided at an end of the legal range."""
    low, high = LEGAL[key]
    step = min(step, 0.2 * (high - low))
    if at - step < low:
        side = 1.0
    elif at + step > high:
        side = -1.0
    else:
        points = at + step * np.array([-1.0, -0.5, 0.5, 1.0])
        return points, np.array([-0.5, 0.0, 0.0, 0.5]) / step, np.array([0.0, -1.0, 1.0, 0.0]) / step
    h = 0.5 * side * step
    points = at + h * np.array([0.0, 0.5, 1.0, 2.0])
    return points, np.array([-1.5, 0.0, 2.0, -0.5]) / h, np.array([-3.0, 4.0, -1.0, 0.0]) / h


def sensitivities(inputs: TubeInputs, params: ParameterSet) -> Sensitivities:
    """Slopes of one reading to its nine inputs.

    Parameters
    ----------
    inputs, params
        A tube without findings, with one origin of enzyme, and the constants.

    Raises
    ------
    OutOfRange
        When an input is not legal.

    Notes
    -----
    Differences over two steps, extrapolated (Richardson); their disagreement is the error given.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> round(sensitivities(TubeInputs(ln=24.0), shipped_set()).of("water_ml").slope, 1)
    -16.6
    """
    base = TubeArrays.like(inputs, params)
    require_arrays(base)
    at = {key: float(getattr(base, key)) for key in VARIED}
    plans = {key: _stencil(key, at[key], _STEPS[key]) for key in VARIED}
    columns = {key: np.full(4 * len(VARIED) + 1, at[key]) for key in VARIED}
    for j, key in enumerate(VARIED):
        columns[key][4 * j : 4 * j + 4] = plans[key][0]
    got = seconds(TubeArrays(**columns), params, grid=FINE)
    rows = []
    for j, key in enumerate(VARIED):
        values = got[4 * j : 4 * j + 4]
        long, short = float(plans[key][1] @ values), float(plans[key][2] @ values)
        rows.append(Sensitivity(key, UNITS[key], (4.0 * short - long) / 3.0, abs(short - long) / 3.0))
    return Sensitivities(float(got[-1]), tuple(rows), limits_of(inputs, params))


@dataclass(frozen=True, slots=True)
class Elasticity:
    """Relative change of the reading per relative change of one constant: d ln FN/d ln p."""

    key: str
    symbol: str
    value: float


def elasticities(inputs: TubeInputs, params: ParameterSet, keys: Sequence[str]) -> tuple[Elasticity, ...]:
    """Elasticities of one reading to some constants.

    Parameters
    ----------
    inputs, params
        A tube without findings and its constants. ``decay_prefactor_per_s`` acts through the decay at 85 °C.
    keys : sequence of str
        Constants of the set.

    Raises
    ------
    UnknownName
        When a key is no constant.

    Notes
    -----
    Central differences over one per cent up and down; the activity is kept.
    """
    kept = inputs.with_activity(activity_of(inputs, params))
    sets = [
        params.replaced(params.name, {key: params[key] * factor}, Provenance.DERIVED, "varied")
        for key in keys
        for factor in (1.01, 1.0 / 1.01)
    ]
    rows = np.concatenate([TubeArrays.like(kept, one).rows(one) for one in sets])
    got = np.empty(rows.shape[0])
    read_rows(rows, np.array([one.vector() for one in sets]), FINE, got)
    slope = np.log(got[::2] / got[1::2]) / (2.0 * np.log(1.01))
    return tuple(
        Elasticity(key, params.table[key].symbol, float(e)) for key, e in zip(keys, slope, strict=True)
    )
