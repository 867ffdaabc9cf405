import numpy as np
import pytest
from scipy.linalg import expm

from lodestarch.method.bath import boiling_point_c
from lodestarch.tube.composition import charge
from lodestarch.tube.heat import chain
from lodestarch.tube.history import run
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.parameters import shipped_set

REF = shipped_set()
STANDARD = TubeInputs(ln=24.0)


def test_standard_charge_and_chain_by_hand():
    c = chain(STANDARD, REF)
    assert pytest.approx(c.weights.sum()) == 1.0
    assert pytest.approx(c.weights[-1]) == 0.19
    assert pytest.approx(c.still_w_mk[0], abs=5e-5) == 3.4558
    assert pytest.approx(c.still_w_mk[-1], abs=5e-4) == 77.388
    assert pytest.approx(c.still_w_mk[-2], abs=5e-4) == 41.923
    assert pytest.approx(c.stirred_w_mk, abs=5e-4) == 52.314
    assert pytest.approx(c.capacity_j_mk[:-1].sum(), abs=0.05) == 1347.6
    assert pytest.approx(c.capacity_j_mk[-1], abs=0.005) == 182.35
    assert charge(STANDARD, REF).dry_share == 0.188125


def matrix(c):
    """Generator of the chain while nothing is stirred."""
    n = c.capacity_j_mk.size
    m = np.zeros((n, n))
    for j in range(n):
        m[:, j] = c.slopes(np.eye(n)[j], 0.0)
    return m


@pytest.mark.parametrize("name", ["ref", "n3"])
def test_modes_of_the_kernel_are_those_of_the_matrix(name):
    from lodestarch.tube import kernels as k
    from lodestarch.tube.inputs import TubeArrays

    params = shipped_set(name)
    row = TubeArrays(mass_g=8.0, wall_mm=1.6, activity=0.0).rows(params)[0]
    n = params.shells + 1
    state, modes = np.zeros(k.SIZE), np.zeros((n, n))
    assert params.shells == k.heat_chain(row, params.vector(), state, 0.0)
    k.shape(n, state, modes)
    c = chain(TubeInputs(activity=0.0, mass_g=8.0, wall_mm=1.6), params)

    def part(name, of=state):
        return of[name : name + n]

    np.testing.assert_allclose(part(k.CAPACITY), c.capacity_j_mk, rtol=1e-13)
    np.testing.assert_allclose(part(k.CONDUCTANCE), c.still_w_mk, rtol=1e-13)
    m = matrix(c)
    np.testing.assert_allclose(np.sort(part(k.RATE)), np.sort(-np.linalg.eigvals(m).real), rtol=1e-10)
    part(k.T)[:] = np.linspace(22.0, 60.0, n)
    start = part(k.T).copy()
    k.set_amplitudes(n, 99.0, state, modes)
    for elapsed in (0.0, 3.0, 200.0):
        moved = state.copy()
        part(k.AMPLITUDE, moved)[:] *= np.exp(-part(k.RATE) * elapsed)
        k.temperatures(n, 99.0, moved, modes)
        expected = 99.0 + expm(m * elapsed) @ (start - 99.0)
        np.testing.assert_allclose(part(k.T, moved), expected, atol=1e-9)
        np.testing.assert_allclose(part(k.DT, moved), c.slopes(expected, 99.0), atol=1e-9)


def test_heat_that_came_through_the_glass_is_the_heat_that_the_tube_holds():
    params = REF
    h = run(STANDARD, params, step_s=0.05).history
    c = chain(STANDARD, params)
    bath = boiling_point_c(1013.25)
    drawn = c.still_w_mk[-1] * (bath - h.glass_c)
    came = np.sum(0.5 * (drawn[1:] + drawn[:-1]) * np.diff(h.time_s))
    held = np.append(h.temp_c[-1], h.glass_c[-1]) - 22.0
    assert came == pytest.approx(float(c.capacity_j_mk @ held), rel=2e-4)


def test_mixing_keeps_heat_enzyme_and_cuts():
    h = run(TubeInputs(ln=60.0, stir_from_s=30.0), REF).history
    before, after = np.flatnonzero(h.time_s == 30.0)
    for rows in (h.temp_c, h.swollen, h.enzyme_left, h.cuts):
        assert h.mean(rows)[before] == pytest.approx(h.mean(rows)[after], rel=1e-12)
        assert np.ptp(rows[after]) == 0.0
        assert np.ptp(rows[before]) > 0.0


def test_no_node_is_ever_warmer_than_the_bath_or_colder_than_it_was():
    h = run(TubeInputs(ln=20.0, pressure_hpa=850.0), REF).history
    assert h.temp_c.max() < h.bath_c
    assert (np.diff(h.temp_c[h.phase == 2], axis=0) > -1e-9).all()
    assert (np.diff(h.temp_c[h.phase == 2][1:], axis=1) > -1e-9).all()
