"""Heat and boiling against what others publish."""

import math

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.optimize import brentq
from scipy.special import j0, j1

from lodestarch.common.provenance import Provenance
from lodestarch.method.bath import boiling_point_c
from lodestarch.tube.heat import chain
from lodestarch.tube.history import run
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.parameters import shipped_set

TUBE = TubeInputs(activity=0.0, stir_from_s=30.0)


def without_heat_in_the_glass(shells):
    """Glass that only resists: the case that has a series."""
    values = {"shells": float(shells), "glass_density_kg_m3": 1e-3}
    return shipped_set().replaced("still", values, Provenance.DERIVED, "test")


def series(params, elapsed_s):
    """Mean and axis of a cylinder with a resistance at its surface, as shares of the first difference.

    Separation of variables; the roots of λ J1(λ) = Bi J0(λ). Carslaw and Jaeger, Conduction of Heat in
    Solids, 2nd ed. 1959, section 7.7 (recalled; derived anew here, the coefficients are checked to sum to 1).
    """
    c = chain(TUBE, params)
    bore = 0.0005 * params["bore_mm"]
    outer = bore + 0.001 * TUBE.wall_mm
    turn = 2.0 * math.pi
    wall = math.log(outer / bore) / (turn * params["glass_conductivity_w_mk"])
    film = 1.0 / (params["film_outer_w_m2k"] * turn * outer)
    biot = 1.0 / (wall + film) / (turn * params["conductivity_w_mk"])
    alpha = params["conductivity_w_mk"] * math.pi * bore**2 / float(c.capacity_j_mk[:-1].sum())
    zeros = [brentq(j0, (n - 0.25) * math.pi - 0.5, (n - 0.25) * math.pi + 0.5) for n in range(1, 200)]
    tops = [brentq(j1, (n + 0.25) * math.pi - 0.5, (n + 0.25) * math.pi + 0.5) for n in range(1, 199)]
    roots = np.array(
        [brentq(lambda x: x * j1(x) - biot * j0(x), low, high)
         for low, high in zip([1e-9, *tops], zeros, strict=True)]
    )  # fmt: skip
    decay = np.exp(-(roots**2) * alpha * elapsed_s / bore**2)
    mean = 4.0 * biot**2 / (roots**2 * (roots**2 + biot**2))
    axis = 2.0 * biot / ((roots**2 + biot**2) * j0(roots))
    assert mean.sum() == pytest.approx(1.0, abs=2e-4)
    return float(mean @ decay), float(axis @ decay)


@pytest.mark.parametrize("elapsed_s", [5.0, 10.0, 20.0, 30.0])
def test_a_still_tube_warms_as_the_cylinder_series_says(elapsed_s):
    params = without_heat_in_the_glass(64)
    h = run(TUBE, params, step_s=0.5).history
    row = int(np.flatnonzero(np.isclose(h.time_s, elapsed_s))[0])
    share = (h.bath_c - h.mean(h.temp_c)[row]) / (h.bath_c - 22.0)
    assert series(params, elapsed_s)[0] == pytest.approx(share, abs=3e-4)


def test_shells_converge_to_the_series_as_their_square():
    misses = []
    for shells in (5, 10, 20, 40):
        params = without_heat_in_the_glass(shells)
        c = chain(TUBE, params)
        n = shells + 1
        m = np.array([c.slopes(row, 0.0) for row in np.eye(n)]).T
        left = expm(m * 120.0) @ np.ones(n)
        misses.append(abs(float(c.weights @ left[:-1]) - series(params, 120.0)[0]))
    ratios = np.array(misses[:-1]) / np.array(misses[1:])
    assert (ratios > 3.5).all()
    assert (ratios < 4.6).all()
    assert misses[1] < 5e-3


def test_a_core_without_films_has_the_textbook_time_constant():
    # First root of J0, 2.404826 (Abramowitz and Stegun, table 9.5, recalled): R²/(5.783 α) = 135 s here.
    params = without_heat_in_the_glass(64).replaced(
        "bare", {"film_outer_w_m2k": 1e9, "glass_conductivity_w_mk": 1e6}, Provenance.DERIVED, "test"
    )
    c = chain(TUBE, params)
    m = np.array([c.slopes(row, 0.0) for row in np.eye(65)]).T
    slowest = float(np.min(-np.linalg.eigvals(m).real))
    bore = 0.0005 * params["bore_mm"]
    alpha = params["conductivity_w_mk"] * math.pi * bore**2 / float(c.capacity_j_mk[:-1].sum())
    assert 2.404826**2 * alpha / bore**2 == pytest.approx(slowest, rel=2e-3)
    assert 1.0 / slowest == pytest.approx(135.0, abs=1.0)


@pytest.mark.parametrize(("p_hpa", "kelvin"), [(1000.0, 372.755919)])
def test_the_bath_boils_where_the_industrial_formulation_says(p_hpa, kelvin):
    # Published: IAPWS R7-97(2012), table 36 (0.1 MPa; the other two points are no weather).
    assert kelvin - 273.15 == pytest.approx(boiling_point_c(p_hpa), abs=1e-6)
    h = run(TubeInputs(ln=24.0, pressure_hpa=p_hpa)).history
    assert h.bath_c == boiling_point_c(p_hpa)
