"""The part of a tube's history that activity and the four lumped constants do not touch, kept once.

With it a reading for another activity, or for other q, H, t_ref, b, is one quadrature, and comes with its
slopes: what fitting, posteriors and the search for an activity need.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import NoAnswer
from lodestarch.common.provenance import Provenance
from lodestarch.method.bath import boiling_point_c
from lodestarch.tube.composition import charge
from lodestarch.tube.grid import FINE, Grid
from lodestarch.tube.inputs import LEGAL, TubeInputs
from lodestarch.tube.origins import Decay, decay_of
from lodestarch.tube.parameters import ParameterSet

__all__ = [
    "Curve",
    "CurveStack",
    "Falls",
    "activity_for",
    "curve_of",
    "fall_along",
    "falls",
    "law_of",
    "rows_by_origin",
    "stacked",
    "with_reading",
]


@dataclass(frozen=True, slots=True)
class Curve:
    """Means over shells from release on.

    Parameters
    ----------
    rows : ndarray
        Columns time, L, L', Q, Q', Y, Y' (see ``kernels``).
    concentration : float
        Dry share over the standard one, c/c0. [1]
    """

    rows: FloatArray
    concentration: float


@dataclass(frozen=True, slots=True)
class Falls:
    """Readings along curves, with slopes.

    Parameters
    ----------
    seconds : ndarray
        One a law. [s]
    slopes : ndarray
        dFN/d(q, H/R, ln t_ref, reach), a row a law; reach is b A C_A.
    """

    seconds: FloatArray
    slopes: FloatArray


def rows_by_origin(inputs: TubeInputs, params: ParameterSet) -> list[tuple[float, FloatArray, FloatArray]]:
    """Share, input row and parameter row of each origin of a tube, activity left at 0."""
    found = []
    for name, share in inputs.origins:
        decay = decay_of(name, params)
        if inputs.decay_85_per_s is not None:
            decay = Decay(inputs.decay_85_per_s, decay.energy_j_mol)
        own = params
        if decay.energy_j_mol != params["decay_energy_j_mol"]:
            own = params.replaced(
                params.name, {"decay_energy_j_mol": decay.energy_j_mol}, Provenance.DERIVED, name
            )
        row = np.array(
            [0.0, inputs.mass_g, inputs.moisture_pct, inputs.water_ml, inputs.start_temp_c,
             boiling_point_c(inputs.pressure_hpa), inputs.wall_mm, inputs.stir_from_s, decay.at_85_per_s]
        )  # fmt: skip
        found.append((share, row, own.vector()))
    return found


def curve_of(inputs: TubeInputs, params: ParameterSet, *, grid: Grid = FINE) -> Curve:
    """Compute the curve of one tube; its activity does not matter."""
    from lodestarch.tube.kernels import curve  # noqa: PLC0415

    total: FloatArray | None = None
    for share, row, p in rows_by_origin(inputs, params):
        means = np.empty((grid.rows_after_release(), 7))
        means = means[: curve(row, p, grid.row(), means)]
        if total is None:
            total = means.copy()
            total[:, 5:] = 0.0
        total[:, 5:] += share * means[:, 5:]
    if total is None:
        raise ValueError("a tube has at least one origin; look for findings before running it")
    return Curve(total, charge(inputs, params).dry_share / params["standard_dry_share"])


def law_of(params: ParameterSet, activity: float, concentration: float) -> FloatArray:
    """The five numbers of a fall: q, H/R, ln t_ref, reach, ln v_max."""
    reach = params["cutting_rate_per_s"] * activity
    if params["damage_per_starch"] == 0.0:
        reach *= concentration
    return np.array(
        [
            params["paste_exponent"],
            params["paste_energy_j_mol"] / params["gas_constant_j_molk"],
            math.log(params["paste_time_s"]),
            reach,
            math.log(params["speed_cap_per_s"]),
        ]
    )


@dataclass(frozen=True, slots=True)
class CurveStack:
    """Several curves in one block, ready for many falls along them."""

    block: FloatArray
    rows: FloatArray
    ln_concentration: FloatArray


def stacked(curves: Sequence[Curve]) -> CurveStack:
    """Put curves into one block."""
    block = np.zeros((len(curves), max(c.rows.shape[0] for c in curves), 7))
    for k, c in enumerate(curves):
        block[k, : c.rows.shape[0]] = c.rows
    rows = np.array([float(c.rows.shape[0]) for c in curves])
    return CurveStack(block, rows, np.log([c.concentration for c in curves]))


def falls(stack: CurveStack, which: FloatArray, laws: FloatArray) -> Falls:
    """Readings of many laws, each along the curve that ``which`` numbers."""
    from lodestarch.tube.fall import arrivals, few  # noqa: PLC0415
    from lodestarch.tube.jit import PARALLEL  # noqa: PLC0415

    seconds, slopes = np.empty(laws.shape[0]), np.empty((laws.shape[0], 4))
    laws = np.ascontiguousarray(laws)
    if laws.shape[0] < 2000:
        few(stack.block, stack.rows, stack.ln_concentration, which, laws, seconds, slopes)
    else:
        with PARALLEL:
            arrivals(stack.block, stack.rows, stack.ln_concentration, which, laws, seconds, slopes)
    return Falls(seconds, slopes)


def fall_along(curve: Curve, law: FloatArray) -> tuple[float, FloatArray]:
    """One reading along a curve, and its slopes to q, H/R, ln t_ref and reach."""
    from lodestarch.tube.fall import arrival  # noqa: PLC0415

    work = np.empty(30)
    at = arrival(curve.rows, curve.rows.shape[0], math.log(curve.concentration), law, work)
    return at, work[:4].copy()


def activity_for(
    seconds: float, inputs: TubeInputs, params: ParameterSet, *, curve: Curve | None = None
) -> float:
    """Activity at which one tube reads a number of seconds.

    Parameters
    ----------
    seconds : float
        Falling number. [s]
    inputs, params
        The tube (its own activity does not matter) and the constants.
    curve : Curve or None
        Its curve, where it is at hand.

    Returns
    -------
    float
        A in LN units above enzyme-free meal. [1]

    Raises
    ------
    NoAnswer
        ``tube-above-enzyme-free`` when even enzyme-free meal reads less under this set;
        ``tube-below-reach`` when the largest legal activity reads more.

    Notes
    -----
    Newton on ln(FN - release) against A, kept inside a bracket.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> round(activity_for(300.0, TubeInputs(ln=24.0), shipped_set()), 3)
    9.936
    """
    curve = curve or curve_of(inputs, params)
    low, high = 0.0, LEGAL["activity"][1]
    release = params["release_s"]
    top, _ = fall_along(curve, law_of(params, low, curve.concentration))
    bottom, _ = fall_along(curve, law_of(params, high, curve.concentration))
    if not seconds <= top:
        raise NoAnswer("tube-above-enzyme-free", seconds=seconds, enzyme_free_s=top, set=params.name)
    if not seconds >= bottom:
        raise NoAnswer("tube-below-reach", seconds=seconds, least_s=bottom, set=params.name)
    per_activity = float(law_of(params, 1.0, curve.concentration)[3])
    guess = 10.0
    for _ in range(80):
        at, slopes = fall_along(curve, law_of(params, guess, curve.concentration))
        low, high = (guess, high) if at > seconds else (low, guess)
        rise = float(slopes[3]) * per_activity / max(at - release, 1e-12)
        new = guess - (math.log(at - release) - math.log(seconds - release)) / rise if rise < 0.0 else -1.0
        if not low <= new <= high:
            new = 0.5 * (low + high)
        if abs(new - guess) <= 1e-10 * (1.0 + guess):
            return new
        guess = new
    return guess


def with_reading(seconds: float, inputs: TubeInputs, params: ParameterSet) -> TubeInputs:
    """Return the same tube with the activity at which it reads ``seconds``."""
    return replace(inputs, ln=None, activity=activity_for(seconds, inputs, params))
