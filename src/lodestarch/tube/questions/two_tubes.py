"""One tube or two in one bath: whether boiling holds while cold tubes draw heat, and what a dip costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.tube.composition import charge
from lodestarch.tube.heat import chain
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.legal import check
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.reference import BathBalance, integrate
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of, with_limits

__all__ = ["BathRun", "TwoTubes", "two_tubes"]

_WATER_L: Final = (0.2, 20.0)
_SPARE_W: Final = (0.0, 3000.0)


@dataclass(frozen=True, slots=True)
class BathRun:
    """A number of like tubes in one bath.

    Parameters
    ----------
    tubes : int
        How many are lowered together.
    seconds : float
        What each reads. [s]
    first_drawn_w : float
        Mean heat flow out of the bath into all of them over the first 30 s. [W]
    dip_c : float
        How far the bath falls below boiling. [K]
    not_boiling_s : float
        How long it does not boil. [s]
    """

    tubes: int
    seconds: float
    first_drawn_w: float
    dip_c: float
    not_boiling_s: float


@dataclass(frozen=True, slots=True)
class TwoTubes:
    """The same tube alone and with others, in a bath that is kept boiling, and in this bath.

    Parameters
    ----------
    boiling_s : float or None
        What it reads when boiling holds. [s]
    runs : tuple of BathRun
        In this bath, by number of tubes.
    """

    boiling_s: float | None
    runs: tuple[BathRun, ...]
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def two_tubes(
    inputs: TubeInputs,
    params: ParameterSet,
    *,
    water_l: float,
    spare_w: float,
    tubes: tuple[int, ...] = (1, 2),
) -> TwoTubes:
    """Compare numbers of tubes in one bath.

    Parameters
    ----------
    inputs, params
        The tube and the constants.
    water_l : float
        Water in the bath. [L]  Legal 0.2 to 20. Measure it.
    spare_w : float
        What the heater gives beyond the losses of a bath that just does not boil. [W]  Legal 0 to 3000.
        Measure it: the rate at which the bath, without tubes, warms just below boiling, times 4.04 kJ/(L K)
        and its litres.
    tubes : tuple of int
        Numbers of like tubes to compare. 1 to 12.

    Notes
    -----
    C dT/dt = spare - tubes x depth x G_out (T - T_glass), held at boiling once there. The bath is one body
    of water; what is drawn along the depth of slurry only. No measurement of a dip is known.
    """
    limits = with_limits(limits_of(inputs, params), Limit.NO_MEASUREMENT)
    found = [*check(inputs, params)]
    for key, value, unit, (low, high) in (
        ("water_l", water_l, "L", _WATER_L),
        ("spare_w", spare_w, "W", _SPARE_W),
        *(("tubes", float(n), "1", (1.0, 12.0)) for n in tubes),
    ):
        if not low <= value <= high:
            values: dict[str, Value] = {"value": repr(value), "low": low, "high": high, "unit": unit}
            found.append(Finding("tube-input-illegal", Where(field=key), Severity.STOP, values))
    if found:
        return TwoTubes(None, (), tuple(found), limits)
    boiling = integrate(inputs, params, rtol=1e-8, atol=1e-10).seconds
    outward = float(chain(inputs, params).still_w_mk[-1]) * 1e-3 * charge(inputs, params).depth_mm
    runs = []
    for n in tubes:
        out = integrate(inputs, params, bath=BathBalance(water_l, spare_w, n), rtol=1e-7, atol=1e-9)
        top = float(out.bath_c[0])
        below = out.bath_c < top - 1e-3
        idle = float(np.sum(np.diff(out.time_s)[below[1:]]))
        drawn = n * outward * (out.bath_c - out.glass_c)
        early = np.linspace(0.0, 30.0, 301)
        first = float(np.trapezoid(np.interp(early, out.time_s, drawn), early) / 30.0)
        runs.append(BathRun(n, out.seconds, first, top - float(out.bath_c.min()), idle))
    return TwoTubes(boiling, tuple(runs), (), limits)
