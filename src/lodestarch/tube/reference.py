"""The plain reference path: the same equations as differential equations, solved by SciPy at tight tolerance.

Slow and obvious on purpose: nothing is integrated in closed form, nothing is shared with the compiled
kernels. Tests compare the two. The bath may here have a heat balance of its own, which the kernels do not
know (see ``questions.two_tubes``).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import NoAnswer
from lodestarch.method.bath import boiling_point_c
from lodestarch.tube.composition import charge
from lodestarch.tube.heat import Chain, chain
from lodestarch.tube.inputs import TubeInputs, activity_of
from lodestarch.tube.origins import Decay, decay_of
from lodestarch.tube.parameters import ParameterSet

__all__ = ["BathBalance", "Reference", "integrate"]

_KELVIN: Final = 273.15
_LONGEST_S: Final = 50000.0
_Slopes = Callable[[float, FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class BathBalance:
    """A bath that can fall below boiling while cold tubes draw heat.

    Parameters
    ----------
    water_l : float
        Water in the bath. [L]
    spare_w : float
        Heater power less the losses of a bath that just does not boil. [W]
    tubes : int
        Like tubes lowered together.
    """

    water_l: float
    spare_w: float
    tubes: int = 1


@dataclass(frozen=True, slots=True)
class Reference:
    """What the reference path returns.

    Parameters
    ----------
    seconds : float
        Falling number. [s]
    time_s : ndarray
        Times of the solver's own steps, from lowering to the end. [s]
    temp_c, glass_c, bath_c : ndarray
        Shells (a row a time), glass, bath. [°C]
    swollen, enzyme_left, cuts : ndarray
        Shares, and x of the model, by shell (a row a time). [1]
    share_fallen : ndarray
        Share of the fall done. [1]
    """

    seconds: float
    time_s: FloatArray
    temp_c: FloatArray
    glass_c: FloatArray
    bath_c: FloatArray
    swollen: FloatArray
    enzyme_left: FloatArray
    cuts: FloatArray
    share_fallen: FloatArray


@dataclass(frozen=True, slots=True)
class _Equations:
    """Right-hand sides; a state is [T, g, x (shells each), e (shells by species), glass, bath, z]."""

    chain: Chain
    params: ParameterSet
    concentration: float
    activity: float
    decays: tuple[tuple[Decay, float], ...]
    saturation_c: float
    balance: BathBalance | None
    depth_m: float

    def kinetics(self, temps: FloatArray, swollen: FloatArray, enzyme: FloatArray) -> tuple[FloatArray, ...]:
        p = self.params
        gas = p["gas_constant_j_molk"]
        per_t = 1.0 / (temps + _KELVIN)
        balance = 1.0 / (1.0 + np.exp(-(temps - p["swell_mid_c"]) / p["swell_width_c"]))
        act = np.exp(-p["cutting_energy_j_mol"] / gas * (per_t - 1.0 / 353.15))
        reach = p["cutting_rate_per_s"] * self.activity
        if p["damage_per_starch"] == 0.0:
            reach *= self.concentration
        d_enzyme = np.empty_like(enzyme)
        working = np.zeros_like(temps)
        for s, (decay, share) in enumerate(self.decays):
            rate = decay.at_85_per_s * np.exp(-decay.energy_j_mol / gas * (per_t - 1.0 / 358.15))
            d_enzyme[s] = -rate * enzyme[s]
            working += share * enzyme[s]
        d_swollen = np.maximum(balance - swollen, 0.0) / p["swell_time_s"]
        return d_swollen, reach * act * working * swollen, d_enzyme

    def log_strength(self, temps: FloatArray, swollen: FloatArray, cuts: FloatArray) -> FloatArray:
        p = self.params
        paste = p["paste_exponent"] * np.log(np.maximum(swollen, p["swollen_floor"]) * self.concentration)
        heat = p["paste_energy_j_mol"] / p["gas_constant_j_molk"] * (1.0 / (temps + _KELVIN) - 1.0 / 363.15)
        return paste + heat - cuts

    def bath_slope(self, glass: float, bath: float) -> float:
        b = self.balance
        if b is None:
            return 0.0
        drawn = b.tubes * self.depth_m * float(self.chain.still_w_mk[-1]) * (bath - glass)
        slope = (b.spare_w - drawn) / (4216.0 * 0.958 * b.water_l)
        return min(slope, 0.0) if bath >= self.saturation_c else slope

    def waiting(self, t: float, y: FloatArray) -> FloatArray:
        slopes = self.falling(t, y)
        slopes[-1] = 0.0
        return slopes

    def falling(self, _t: float, y: FloatArray) -> FloatArray:
        n, species = self.params.shells, len(self.decays)
        temps, swollen, cuts = y[:n], y[n : 2 * n], y[2 * n : 3 * n]
        enzyme = y[3 * n : (3 + species) * n].reshape(species, n)
        glass, bath = float(y[-3]), float(y[-2])
        slopes = self.chain.slopes(np.append(temps, glass), bath)
        d_swollen, d_cuts, d_enzyme = self.kinetics(temps, swollen, enzyme)
        strength = float(self.chain.weights @ self.log_strength(temps, swollen, cuts))
        speed = min(math.exp(-strength) / self.params["paste_time_s"], self.params["speed_cap_per_s"])
        tail = [slopes[-1], self.bath_slope(glass, bath), speed]
        return np.concatenate((slopes[:-1], d_swollen, d_cuts, d_enzyme.reshape(-1), tail))

    def stirred(self, _t: float, y: FloatArray) -> FloatArray:
        species = len(self.decays)
        glass, bath = float(y[-3]), float(y[-2])
        d_slurry, d_glass = self.chain.stirred_slopes(float(y[0]), glass, bath)
        d_swollen, d_cuts, d_enzyme = self.kinetics(y[:1], y[1:2], y[3 : 3 + species].reshape(species, 1))
        tail = [d_glass, self.bath_slope(glass, bath), 0.0]
        return np.concatenate(([d_slurry], d_swollen, d_cuts, d_enzyme.reshape(-1), tail))


@dataclass(frozen=True, slots=True)
class _Solver:
    """SciPy's solver with its tolerances, one phase at a time."""

    method: str
    rtol: float
    atol: float

    def phase(
        self, slopes: _Slopes, span: tuple[float, float], start: FloatArray, end: _Event | None = None
    ) -> tuple[FloatArray, FloatArray]:
        # Imported here, so that nobody waits for SciPy who does not run the reference.
        from scipy.integrate import solve_ivp  # noqa: PLC0415

        solver: Any = solve_ivp
        out = solver(slopes, span, start, method=self.method, rtol=self.rtol, atol=self.atol, events=end)
        return out.t, out.y


class _Event:
    """The end of the fall, in the form that the solver asks for."""

    terminal = True

    def __call__(self, _t: float, y: FloatArray) -> float:
        return float(y[-1]) - 1.0


def integrate(
    inputs: TubeInputs,
    params: ParameterSet,
    *,
    bath: BathBalance | None = None,
    rtol: float = 1e-10,
    atol: float = 1e-12,
    method: str = "DOP853",
) -> Reference:
    """Run one tube by SciPy's ``solve_ivp``.

    Parameters
    ----------
    inputs, params
        A tube without findings and its constants.
    bath : BathBalance or None
        ``None`` keeps the bath at the boiling point.
    rtol, atol, method
        Passed on.

    Raises
    ------
    NoAnswer
        ``tube-never-falls`` when the fall does not end within 50,000 s.

    Notes
    -----
    Every phase by itself, because the states jump at the first stroke; the end of the fall is an event.
    """
    n, species = params.shells, len(inputs.origins)
    law = _equations(inputs, params, bath)
    solver = _Solver(method, rtol, atol)
    start, boiling, release = inputs.start_temp_c, law.saturation_c, params["release_s"]
    state = np.concatenate((np.full(n, start), np.zeros(2 * n), np.ones(species * n), [start, boiling, 0.0]))
    parts: list[tuple[FloatArray, FloatArray]] = []
    if inputs.stir_from_s > 0.0:
        parts.append(solver.phase(law.waiting, (0.0, inputs.stir_from_s), state))
        state = parts[-1][1][:, -1]
    mixed = np.concatenate((state[:-3].reshape(-1, n) @ law.chain.weights, state[-3:]))
    times, states = solver.phase(law.stirred, (inputs.stir_from_s, release), mixed)
    parts.append((times, np.concatenate((np.repeat(states[:-3], n, axis=0), states[-3:]))))
    parts.append(solver.phase(law.falling, (release, _LONGEST_S), parts[-1][1][:, -1], _Event()))
    if parts[-1][1][-1, -1] < 1.0 - 1e-6:
        raise NoAnswer("tube-never-falls", longest_s=_LONGEST_S)
    times = np.concatenate([t for t, _ in parts])
    states = np.concatenate([s for _, s in parts], axis=1).T
    enzyme = states[:, 3 * n : (3 + species) * n].reshape(-1, species, n)
    left = np.einsum("s,tsn->tn", np.array([share for _, share in law.decays]), enzyme)
    return Reference(
        float(times[-1]), times, states[:, :n], states[:, -3], states[:, -2], states[:, n : 2 * n],
        left, states[:, 2 * n : 3 * n], states[:, -1],
    )  # fmt: skip


def _equations(inputs: TubeInputs, params: ParameterSet, bath: BathBalance | None) -> _Equations:
    decays = tuple((decay_of(name, params), share) for name, share in inputs.origins)
    if inputs.decay_85_per_s is not None:
        decays = ((Decay(inputs.decay_85_per_s, decays[0][0].energy_j_mol), 1.0),)
    slurry = charge(inputs, params)
    return _Equations(
        chain(inputs, params), params, slurry.dry_share / params["standard_dry_share"],
        activity_of(inputs, params), decays, boiling_point_c(inputs.pressure_hpa), bath,
        1e-3 * slurry.depth_mm,
    )  # fmt: skip
