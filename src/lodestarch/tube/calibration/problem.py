"""A calibration problem: which constants move, what the model then says, and how that moves.

Everything that moves is positive and travels as its logarithm, so a step of 0.01 is one per cent.
Where only the four lumped constants and the enzyme of lots move, histories are computed once and a
prediction is one quadrature with its slopes; otherwise every prediction runs the tube again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import NoAnswer, UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.method.bath import boiling_point_c
from lodestarch.tube.calibration.observations import LOG_FLOOR_S, Lot, Observation, Scale
from lodestarch.tube.curves import CurveStack, curve_of, falls, stacked
from lodestarch.tube.ensemble import read_rows
from lodestarch.tube.grid import FAST, FINE
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.layout import INPUT_COLUMNS, PARAMETER_COLUMNS
from lodestarch.tube.origins import decay_of
from lodestarch.tube.parameters import LUMPED, ParameterSet

__all__ = ["FITTABLE", "Problem"]

FITTABLE: Final = (
    *LUMPED,
    "decay_prefactor_per_s",
    "film_outer_w_m2k",
    "film_inner_w_m2k",
    "conductivity_w_mk",
    "cutting_energy_j_mol",
    "swell_mid_c",
    "swell_time_s",
)
"""Constants that a fit may move."""

_SLOPE_STEP: Final = 1e-4


@dataclass(frozen=True, slots=True)
class Problem:
    """Observations, lots, and the constants that move.

    Parameters
    ----------
    params : ParameterSet
        Where it starts, and what stays.
    keys : tuple of str
        Constants that move, from ``FITTABLE``.
    lots : tuple of Lot
        Lots; those whose enzyme is unknown move along.
    observations : tuple of Observation
        From ``observations.usable``.

    Raises
    ------
    UnknownName
        When a key may not move.
    NoAnswer
        ``tube-fit-nothing-to-fit`` without observations; ``tube-fit-mixed-origins`` where constants of heat
        or decay move and a run has several origins of enzyme.
    """

    params: ParameterSet
    keys: tuple[str, ...]
    lots: tuple[Lot, ...]
    observations: tuple[Observation, ...]
    free_lots: tuple[str, ...] = field(init=False)
    _tubes: tuple[tuple[TubeInputs, str], ...] = field(init=False, repr=False)
    _stack: CurveStack | None = field(init=False, repr=False)
    _which: FloatArray = field(init=False, repr=False)
    _fixed: FloatArray = field(init=False, repr=False)
    _mix: FloatArray = field(init=False, repr=False)

    def __post_init__(self) -> None:
        for key in self.keys:
            if key not in FITTABLE:
                raise UnknownName("constant that a fit may move", key, FITTABLE)
        if not self.observations:
            raise NoAnswer("tube-fit-nothing-to-fit")
        used = {one.lot for one in self.observations}
        used |= {part for lot in self.lots if lot.name in used for part, _ in lot.parts}
        free = tuple(lot.name for lot in self.lots if lot.free and lot.name in used)
        tubes = [(one.inputs, one.lot) for one in self.observations]
        tubes += [(one.less, one.lot) for one in self.observations if one.less is not None]
        if not self.lumped and any(len(tube.origins) > 1 for tube, _ in tubes):
            raise NoAnswer("tube-fit-mixed-origins")
        bare = [replace(tube, ln=None, activity=0.0) for tube, _ in tubes]
        distinct = list(dict.fromkeys(bare))
        curves = [curve_of(tube, self.params, grid=FINE) for tube in distinct] if self.lumped else []
        shares = [self._shares(lot) for _, lot in tubes]
        made = {
            "free_lots": free,
            "_tubes": tuple(tubes),
            "_stack": stacked(curves) if curves else None,
            "_which": np.array([float(distinct.index(tube)) for tube in bare]),
            "_fixed": np.array([known for known, _ in shares]),
            "_mix": np.array([[parts.get(name, 0.0) for name in free] for _, parts in shares]),
        }
        for key, value in made.items():
            object.__setattr__(self, key, value)

    def _shares(self, name: str) -> tuple[float, dict[str, float]]:
        """Known enzyme of a lot, and its shares of lots whose enzyme is unknown."""
        lot = next(x for x in self.lots if x.name == name)
        if lot.parts:
            known, unknown = 0.0, dict[str, float]()
            for part, share in lot.parts:
                more, parts = self._shares(part)
                known += share * more
                for key, value in parts.items():
                    unknown[key] = unknown.get(key, 0.0) + share * value
            return known, unknown
        if lot.activity is not None:
            return lot.activity, {}
        if lot.ln is not None:
            return max(lot.ln - self.params.offset, 0.0), {}
        return 0.0, {name: 1.0}

    @property
    def lumped(self) -> bool:
        """True where only the four lumped constants move, beside the enzyme of lots."""
        return set(self.keys) <= set(LUMPED)

    @property
    def names(self) -> tuple[str, ...]:
        """What moves: constants, then lots as ``lot NAME``."""
        return (*self.keys, *(f"lot {name}" for name in self.free_lots))

    def start(self) -> FloatArray:
        """Logarithms of where it starts; unknown lots start where their first reading puts LN."""
        values = [self.params[key] for key in self.keys]
        for name in self.free_lots:
            seconds = [o.seconds for o in self.observations if o.lot == name and o.less is None]
            ln = 6000.0 / (max(seconds[0], LOG_FLOOR_S + 5.0) - 50.0) if seconds else 24.0
            values.append(max(ln - self.params.offset, 0.5))
        return np.log(values)

    def at(self, theta: FloatArray, name: str, provenance: Provenance, source: str) -> ParameterSet:
        """Return the parameter set that some logarithms stand for."""
        values = {key: float(math.exp(x)) for key, x in zip(self.keys, theta, strict=False)}
        return self.params.replaced(name, values, provenance, source)

    def activities(self, thetas: FloatArray) -> FloatArray:
        """Return the enzyme in every tube, a row a row of logarithms."""
        unknown = np.exp(thetas[:, len(self.keys) :])
        return np.asarray(self._fixed + unknown @ self._mix.T)

    def seconds(self, thetas: FloatArray) -> FloatArray:
        """Readings of every tube (observations, then what is subtracted) for rows of logarithms. [s]"""
        return self._fall(thetas)[0] if self.lumped else self._run(thetas)

    def _fall(self, thetas: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Seconds, slopes and laws along stored curves."""
        if self._stack is None:
            raise ValueError("curves are stored only where lumped constants alone move")
        m, n = thetas.shape[0], len(self._tubes)
        moved = {key: np.exp(thetas[:, i])[:, None] for i, key in enumerate(self.keys)}
        at = {key: moved.get(key, np.full((m, 1), self.params[key])) for key in LUMPED}
        ratio = np.exp(self._stack.ln_concentration[self._which.astype(np.intp)])
        if self.params["damage_per_starch"] != 0.0:
            ratio = np.ones_like(ratio)
        laws = np.empty((m, n, 5))
        laws[:, :, 0] = at["paste_exponent"]
        laws[:, :, 1] = at["paste_energy_j_mol"] / self.params["gas_constant_j_molk"]
        laws[:, :, 2] = np.log(at["paste_time_s"])
        laws[:, :, 3] = at["cutting_rate_per_s"] * self.activities(thetas) * ratio
        laws[:, :, 4] = math.log(self.params["speed_cap_per_s"])
        out = falls(self._stack, np.tile(self._which, m), laws.reshape(m * n, 5))
        return out.seconds.reshape(m, n), out.slopes.reshape(m, n, 4), laws

    def _run(self, thetas: FloatArray) -> FloatArray:
        """Seconds by running every tube under every set."""
        m, n = thetas.shape[0], len(self._tubes)
        rows = np.empty((m, n, len(INPUT_COLUMNS)))
        sets = np.empty((m, n, len(PARAMETER_COLUMNS)))
        baths = [boiling_point_c(tube.pressure_hpa) for tube, _ in self._tubes]
        enzyme, energy = self.activities(thetas), PARAMETER_COLUMNS.index("decay_energy_j_mol")
        for i in range(m):
            params = self.at(thetas[i], self.params.name, Provenance.DERIVED, "trial")
            vector = params.vector()
            for j, (tube, _) in enumerate(self._tubes):
                decay = decay_of(tube.origins[0][0], params)
                k85 = tube.decay_85_per_s if tube.decay_85_per_s is not None else decay.at_85_per_s
                rows[i, j] = (
                    enzyme[i, j], tube.mass_g, tube.moisture_pct, tube.water_ml, tube.start_temp_c, baths[j],
                    tube.wall_mm, tube.stir_from_s, k85,
                )  # fmt: skip
                sets[i, j] = vector
                sets[i, j, energy] = decay.energy_j_mol
        got = np.empty(m * n)
        read_rows(rows.reshape(m * n, -1), sets.reshape(m * n, -1), FAST, got)
        return got.reshape(m, n)

    def residuals(self, thetas: FloatArray) -> FloatArray:
        """Residuals over their uncertainties, a row a row of logarithms."""
        return self._compare(self.seconds(thetas))[0]

    def _compare(self, seconds: FloatArray) -> tuple[FloatArray, FloatArray, list[int]]:
        """Residuals, their slope to their own reading, and the column subtracted (or -1)."""
        n = len(self.observations)
        result, slope = np.empty((seconds.shape[0], n)), np.empty((seconds.shape[0], n))
        less, extra = [], n
        for k, one in enumerate(self.observations):
            at = seconds[:, k]
            less.append(-1)
            if one.less is not None:
                less[-1] = extra
                result[:, k] = (at - seconds[:, extra] - one.seconds) / one.u
                slope[:, k] = 1.0 / one.u
                extra += 1
            elif one.scale is Scale.LOG:
                above = np.maximum(at - LOG_FLOOR_S, 1e-3)
                result[:, k] = np.log(above / (one.seconds - LOG_FLOOR_S)) / one.u
                slope[:, k] = 1.0 / (above * one.u)
            else:
                result[:, k] = (at - one.seconds) / one.u
                slope[:, k] = 1.0 / one.u
        return result, slope, less

    def jacobian(self, theta: FloatArray) -> FloatArray:
        """Slopes of the residuals to the logarithms."""
        if not self.lumped:
            h = _SLOPE_STEP
            steps = np.concatenate((theta + h * np.eye(theta.size), theta - h * np.eye(theta.size)))
            got = self.residuals(steps)
            return np.asarray(((got[: theta.size] - got[theta.size :]) / (2.0 * h)).T)
        seconds, slopes, laws = self._fall(theta[None, :])
        tube = self._to_logs(theta, slopes[0], laws[0])
        _, own, less = self._compare(seconds)
        rows = [
            own[0, k] * (tube[k] - (tube[less[k]] if less[k] >= 0 else 0.0))
            for k in range(len(self.observations))
        ]
        return np.array(rows)

    def _to_logs(self, theta: FloatArray, slopes: FloatArray, laws: FloatArray) -> FloatArray:
        """dFN/d(logarithm) of every tube, from the slopes of its law."""
        column = {"paste_exponent": 0, "paste_energy_j_mol": 1, "paste_time_s": 2, "cutting_rate_per_s": 3}
        out = np.zeros((len(self._tubes), theta.size))
        for i, key in enumerate(self.keys):
            j = column[key]
            out[:, i] = slopes[:, j] * (1.0 if j == 2 else laws[:, j])
        enzyme = self.activities(theta[None, :])[0]
        for i in range(len(self.free_lots)):
            part = self._mix[:, i] * math.exp(theta[len(self.keys) + i])
            share = np.divide(part, enzyme, out=np.zeros_like(part), where=enzyme > 0.0)
            out[:, len(self.keys) + i] = slopes[:, 3] * laws[:, 3] * share
        return out
