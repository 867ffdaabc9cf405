"""Heat through the glass in plain NumPy: capacities, conductances, and the chain they make.

The compiled kernels have the same equations; tests compare the two. Used by the reference path, by energy
balances and where the bath is not constant.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.tube.composition import charge
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.parameters import ParameterSet

__all__ = ["Chain", "chain"]


@dataclass(frozen=True, slots=True)
class Chain:
    """Nodes from the axis outward, glass last, bath beyond; per metre of tube.

    Parameters
    ----------
    weights : ndarray
        Share of volume of each shell; they sum to 1. [1]
    capacity_j_mk : ndarray
        Heat capacity of each shell, then of the glass. [J/(m K)]
    still_w_mk : ndarray
        Conductance from node j to j + 1 while nothing is stirred; the last to the bath. [W/(m K)]
    stirred_w_mk : float
        Conductance from the glass to the mixed slurry. [W/(m K)]
    """

    weights: FloatArray
    capacity_j_mk: FloatArray
    still_w_mk: FloatArray
    stirred_w_mk: float

    def slopes(self, temps_c: FloatArray, bath_c: float) -> FloatArray:
        """dT/dt of every node while nothing is stirred. [K/s]"""
        flow = self.still_w_mk * np.diff(temps_c, append=bath_c)
        return np.diff(flow, prepend=0.0) / self.capacity_j_mk

    def stirred_slopes(self, slurry_c: float, glass_c: float, bath_c: float) -> tuple[float, float]:
        """dT/dt of the mixed slurry and of the glass. [K/s]"""
        into = self.stirred_w_mk * (glass_c - slurry_c)
        onto = float(self.still_w_mk[-1]) * (bath_c - glass_c)
        return into / float(self.capacity_j_mk[:-1].sum()), (onto - into) / float(self.capacity_j_mk[-1])


def chain(inputs: TubeInputs, params: ParameterSet) -> Chain:
    """Chain of one tube.

    Notes
    -----
    Shells of equal thickness; between two of them 2πk i; glass as one node at mid-wall; film outside; while
    stirred a film inside, while still conduction from the wall to the middle of the last shell.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> c = chain(TubeInputs(ln=24.0), shipped_set())
    >>> [round(float(x), 3) for x in (c.still_w_mk[-1], c.stirred_w_mk, c.still_w_mk[-2], c.still_w_mk[0])]
    [77.388, 52.314, 41.923, 3.456]
    >>> round(float(c.capacity_j_mk[:-1].sum()), 1), round(float(c.capacity_j_mk[-1]), 2)
    (1347.6, 182.35)
    """
    slurry = charge(inputs, params)
    n = params.shells
    bore = 0.0005 * params["bore_mm"]
    outer = bore + 0.001 * inputs.wall_mm
    middle = 0.5 * (bore + outer)
    turn = 2.0 * math.pi
    weights = (2.0 * np.arange(1, n + 1) - 1.0) / n**2
    total = slurry.density_kg_m3 * slurry.heat_j_kgk * math.pi * bore**2
    glass = params["glass_density_kg_m3"] * params["glass_heat_j_kgk"] * math.pi * (outer**2 - bore**2)
    inner_wall = math.log(middle / bore) / (turn * params["glass_conductivity_w_mk"])
    outer_wall = math.log(outer / middle) / (turn * params["glass_conductivity_w_mk"])
    between = turn * params["conductivity_w_mk"] * np.arange(1, n)
    to_wall = math.log(n / (n - 0.5)) / (turn * params["conductivity_w_mk"])
    still = np.concatenate(
        (between, [1.0 / (inner_wall + to_wall)],
         [1.0 / (1.0 / (params["film_outer_w_m2k"] * turn * outer) + outer_wall)])
    )  # fmt: skip
    return Chain(
        weights,
        np.concatenate((total * weights, [glass])),
        still,
        1.0 / (inner_wall + 1.0 / (params["film_inner_w_m2k"] * turn * bore)),
    )
