"""The full history of one tube, for pictures and landmarks."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.bath import boiling_point_c
from lodestarch.tube.curves import curve_of, fall_along, law_of, rows_by_origin
from lodestarch.tube.grid import FAST, FINE, Grid
from lodestarch.tube.inputs import TubeInputs, activity_of
from lodestarch.tube.legal import check
from lodestarch.tube.parameters import ParameterSet, shipped_set
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of

__all__ = ["FALLING", "STIRRING", "WAITING", "Run", "TubeHistory", "run"]

WAITING: Final = 0
STIRRING: Final = 1
FALLING: Final = 2

_STEP_S: Final = (0.02, 5.0)
_UNTIL_S: Final = (70.0, 7200.0)
_GAUSS_X: Final = np.array(
    [-0.8611363115940526, -0.33998104358485626, 0.33998104358485626, 0.8611363115940526]
)
_GAUSS_W: Final = np.array([0.34785484513745385, 0.6521451548625461, 0.6521451548625461, 0.34785484513745385])


@dataclass(frozen=True, slots=True)
class TubeHistory:
    """One tube from lowering to the end of the fall.

    Rows are times; at the first stroke and at release two rows share a time, before and after. Columns of
    the two-dimensional fields are shells from the axis outward.

    Parameters
    ----------
    seconds : float
        Falling number, not rounded. [s]
    error_s : float
        Numerical error of it; nothing on how good the model is. [s]
    activity : float
        Enzyme in LN units above enzyme-free meal. [1]
    bath_c : float
        Boiling point at the station pressure. [°C]
    time_s : ndarray
        Since lowering. [s]
    phase : ndarray of int
        0 waiting, 1 stirring, 2 falling.
    temp_c, glass_c : ndarray
        Shells, and glass at mid-wall. [°C]
    swollen, enzyme_left, cuts : ndarray
        Share of starch swollen, share of enzyme left, and x: the logarithm of the strength lost to cutting,
        over the flow index. [1]
    strength : ndarray
        ln Φ of the mean over shells: how much slower than at its reference the stirrer would fall. [1]
    speed_per_s : ndarray
        Share of the fall per second, 0 before release. [1/s]
    share_fallen : ndarray
        Share of the fall done, 1 at the end. [1]
    radius_mm, weights : ndarray
        Middle of each shell and its share of volume.
    complete : bool
        False where the history was cut before the end of the fall.
    """

    inputs: TubeInputs
    params: ParameterSet
    seconds: float
    error_s: float
    activity: float
    bath_c: float
    time_s: FloatArray = field(repr=False)
    phase: npt.NDArray[np.int64] = field(repr=False)
    temp_c: FloatArray = field(repr=False)
    glass_c: FloatArray = field(repr=False)
    swollen: FloatArray = field(repr=False)
    enzyme_left: FloatArray = field(repr=False)
    cuts: FloatArray = field(repr=False)
    strength: FloatArray = field(repr=False)
    speed_per_s: FloatArray = field(repr=False)
    share_fallen: FloatArray = field(repr=False)
    radius_mm: FloatArray = field(repr=False)
    weights: FloatArray = field(repr=False)
    complete: bool

    def mean(self, rows: FloatArray) -> FloatArray:
        """Volume mean over shells of a two-dimensional field."""
        return np.asarray(rows @ self.weights)


@dataclass(frozen=True, slots=True)
class Run:
    """What came of asking for one tube.

    Parameters
    ----------
    history : TubeHistory or None
        ``None`` where a finding of severity *stop* kept it from being run.
    findings : tuple of Finding
        Problems with what was asked, and what is worth knowing of what came out.
    limits : tuple of Limit
        What the output does not know.
    """

    history: TubeHistory | None
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def run(
    inputs: TubeInputs,
    params: ParameterSet | None = None,
    *,
    step_s: float = 0.5,
    until_s: float = 900.0,
) -> Run:
    """Run one tube and keep its history.

    Parameters
    ----------
    inputs : TubeInputs
        The tube as lowered.
    params : ParameterSet or None
        Constants; ``None`` takes the shipped reference set.
    step_s : float
        Longest step between rows, and of the computation. [s]  Legal 0.02 to 5.
    until_s : float
        Longest history kept; the reading itself is always found. [s]  Legal 70 to 7200.

    Returns
    -------
    Run
        With findings instead of a history where an input is not legal. ``tube-past-history`` (check) where
        the fall goes on after ``until_s``; ``tube-floor`` (note) where the stirrer fell as through water.

    Raises
    ------
    OutOfRange
        When ``step_s`` or ``until_s`` is not legal.

    Examples
    --------
    >>> round(run(TubeInputs(ln=24.0)).history.seconds, 1)
    309.3
    >>> [f.code for f in run(TubeInputs(ln=24.0, water_ml=0.0)).findings]
    ['tube-input-illegal']
    """
    for name, value, (low, high) in (("step_s", step_s, _STEP_S), ("until_s", until_s, _UNTIL_S)):
        if not low <= value <= high:
            raise OutOfRange(name, value, low, high, "s")
    params = params or shipped_set()
    found = check(inputs, params)
    limits = limits_of(inputs, params)
    if found:
        return Run(None, found, limits)
    history = _history(inputs, params, step_s, until_s)
    more: list[Finding] = []
    if not history.complete:
        values = {"seconds": history.seconds, "until_s": until_s}
        more.append(Finding("tube-past-history", Where(field="seconds"), Severity.CHECK, values))
    quickest = params["release_s"] + 1.0 / params["speed_cap_per_s"]
    if history.seconds < quickest + 0.5:
        more.append(
            Finding("tube-floor", Where(field="seconds"), Severity.NOTE, {"seconds": history.seconds})
        )
    return Run(history, tuple(more), limits)


def _history(inputs: TubeInputs, params: ParameterSet, step_s: float, until_s: float) -> TubeHistory:
    from lodestarch.tube.kernels import history  # noqa: PLC0415

    activity = activity_of(inputs, params)
    curve = curve_of(inputs, params, grid=FINE)
    law = law_of(params, activity, curve.concentration)
    seconds, _ = fall_along(curve, law)
    rough, _ = fall_along(curve_of(inputs, params, grid=FAST), law)
    end = min(seconds, until_s)
    steps = Grid(step_s, step_s, step_s, 1, step_s).row()
    n = params.shells
    parts = rows_by_origin(inputs, params)
    none, nothing = np.empty((0, 9)), np.empty((0, 4, n))
    total = history(parts[0][1], parts[0][2], steps, end, none, nothing)
    left, cuts = np.zeros((total, n)), np.zeros((total, n))
    cut_mean = np.zeros((total, 2))
    times, record = np.empty((total, 9)), np.empty((total, 4, n))
    for share, row, p in parts:
        history(row, p, steps, end, times, record)
        left += share * record[:, 2]
        cuts += law[3] * share * record[:, 3]
        cut_mean += share * times[:, 7:9]
    times[-1, 0] = end  # not its sum of steps
    means = times[:, 3:7]
    ln_c = math.log(curve.concentration)
    strength = law[0] * (means[:, 0] + ln_c) + law[1] * means[:, 2] - law[3] * cut_mean[:, 0]
    slope = -(law[0] * means[:, 1] + law[1] * means[:, 3] - law[3] * cut_mean[:, 1])
    phase = times[:, 1].astype(np.int64)
    fallen = _share_fallen(times[:, 0], phase, -strength - law[2], slope, law[4])
    speed = np.where(phase == FALLING, np.exp(np.minimum(-strength - law[2], law[4])), 0.0)
    edges = np.arange(n) + 0.5
    return TubeHistory(
        inputs, params, seconds, abs(seconds - rough), activity, boiling_point_c(inputs.pressure_hpa),
        times[:, 0].copy(), phase, record[:, 0].copy(), times[:, 2].copy(), record[:, 1].copy(), left, cuts,
        strength, speed, fallen, edges * 0.5 * params["bore_mm"] / n,
        (2.0 * np.arange(1, n + 1) - 1.0) / n**2, end >= seconds,
    )  # fmt: skip


def _share_fallen(
    time_s: FloatArray, phase: npt.NDArray[np.int64], log_speed: FloatArray, slope: FloatArray, cap: float
) -> FloatArray:
    """Integrate the speed from release, each step by four points of Gauss on the cubic of its logarithm."""
    z = np.zeros_like(time_s)
    at = np.flatnonzero(phase == FALLING)
    h = np.diff(time_s[at])[:, None]
    a, b = log_speed[at][:-1, None], log_speed[at][1:, None]
    da, db = slope[at][:-1, None], slope[at][1:, None]
    theta = 0.5 * (1.0 + _GAUSS_X)[None, :]
    c2 = 3.0 * (b - a) - h * (2.0 * da + db)
    c3 = 2.0 * (a - b) + h * (da + db)
    s = a + theta * (h * da + theta * (c2 + theta * c3))
    z[at[1:]] = np.cumsum(0.5 * h[:, 0] * (np.exp(np.minimum(s, cap)) @ _GAUSS_W))
    return z
