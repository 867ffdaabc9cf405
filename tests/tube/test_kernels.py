import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import qmc

from lodestarch.method.bath import boiling_point_c
from lodestarch.tube import kernels
from lodestarch.tube.ensemble import seconds, seconds_with_error, stream
from lodestarch.tube.grid import FAST, FINE
from lodestarch.tube.inputs import TubeArrays, TubeInputs
from lodestarch.tube.jit import PARALLEL
from lodestarch.tube.parameters import set_names, shipped_set
from lodestarch.tube.reference import integrate
from tube.tables import table

REF = shipped_set()


def nine(n, seed):
    """Tubes that differ in all nine inputs."""
    u = qmc.LatinHypercube(9, rng=np.random.default_rng(seed)).random(n).T
    k85 = REF.decay_85_per_s
    return TubeArrays(
        activity=np.exp(np.log(0.5) + u[0] * np.log(800.0)),
        mass_g=5.0 + 4.0 * u[1],
        moisture_pct=9.0 + 9.0 * u[2],
        water_ml=23.0 + 4.0 * u[3],
        start_temp_c=15.0 + 15.0 * u[4],
        pressure_hpa=780.0 + 260.0 * u[5],
        wall_mm=1.1 + 0.6 * u[6],
        stir_from_s=12.0 * u[7],
        decay_85_per_s=k85 * 9.0 ** (u[8] - 0.5),
    )


def one(tubes, i):
    return TubeInputs(**{key: float(getattr(tubes, key)[i]) for key in TubeArrays.__dataclass_fields__})


def test_the_reference_set_reads_309_at_ln_24():
    assert pytest.approx(seconds(TubeArrays(activity=9.0), REF).item(), abs=0.005) == 309.28


@pytest.mark.parametrize("row", table("readings.csv"), ids=lambda r: r["id"])
def test_readings_of_the_reference_set(row):
    tubes = TubeArrays(
        activity=float(row["A"]),
        mass_g=float(row["m_g"]),
        moisture_pct=float(row["moisture_pct"]),
        water_ml=float(row["W_mL"]),
        pressure_hpa=float(row["p_hPa"]),
        start_temp_c=float(row["T0_C"]),
    )
    assert float(row["FN"]) == pytest.approx(seconds(tubes, REF, grid=FINE).item(), abs=0.006)


@pytest.mark.parametrize("row", table("sets.csv"), ids=lambda r: r["set"])
def test_outputs_of_every_shipped_set(row):
    names = {"F0-550": "f0-550", "F0-700": "f0-700", "film+": "film-plus", "film-": "film-minus"}
    names |= {"kd+": "kd-plus", "kd-": "kd-minus", "N5": "n5", "N3": "n3", "N2": "n2"}
    params = shipped_set(names.get(row["set"], row["set"]))
    a = params.offset
    for key, value in row.items():
        if key.startswith("F") and value:
            activity = 6000.0 / (float(key[1:]) - 50.0) - a
            got = seconds(TubeArrays(activity=activity), params).item()
            assert float(value) == pytest.approx(got, abs=0.06), key
    got = seconds(TubeArrays(activity=20.0 - a, mass_g=5.0), params).item()
    assert float(row["5g"]) == pytest.approx(got, abs=0.06)
    for key, ln in (("rise300", 24.0), ("rise150", 60.0)):
        pair = seconds(TubeArrays(activity=ln - a, pressure_hpa=np.array([908.12, 1013.25])), params)
        assert float(row[key]) == pytest.approx(pair[0] - pair[1], abs=0.06)
    assert float(row["A0"]) == pytest.approx(seconds(TubeArrays(), params).item(), abs=0.06)


def test_every_name_in_the_table_of_sets_is_shipped():
    assert len(set_names()) == len(table("sets.csv"))


def test_nine_inputs_against_the_reference_path():
    tubes = nine(16, 1)
    got, error = seconds_with_error(tubes, REF)
    for i in range(16):
        expected = integrate(one(tubes, i), REF).seconds
        assert expected == pytest.approx(got[i], abs=max(error[i], 2e-4)), one(tubes, i)
    assert error.max() < 0.02


def test_the_reference_path_does_not_hang_on_its_own_solver():
    inputs = TubeInputs(ln=30.0, mass_g=6.5)
    stiff = integrate(inputs, REF, method="LSODA", rtol=1e-9, atol=1e-11).seconds
    assert stiff == pytest.approx(integrate(inputs, REF).seconds, abs=2e-4)


def test_error_shrinks_as_the_fourth_power_of_the_step():
    tubes = nine(300, 2)
    kept = seconds(tubes, REF, grid=FINE.halved().halved())
    errors = []
    grid = FAST
    for _ in range(3):
        errors.append(float(np.median(np.abs(seconds(tubes, REF, grid=grid) - kept))))
        grid = grid.halved()
    assert errors[0] / errors[1] > 8.0
    assert errors[1] / errors[2] > 8.0


def test_the_stated_error_bounds_the_error():
    tubes = nine(4000, 3)
    kept = seconds(tubes, REF, grid=FINE.halved())
    got, error = seconds_with_error(tubes, REF)
    assert np.abs(got - kept).max() < 0.01
    assert (np.abs(got - kept) <= error + 2e-4).all()
    assert np.abs(seconds(tubes, REF) - kept).max() < 0.1


def test_shapes_chunks_and_streams_change_nothing(monkeypatch):
    tubes = nine(600, 4)
    whole = seconds(tubes, REF)
    monkeypatch.setattr("lodestarch.tube.ensemble.CHUNK", 128)
    np.testing.assert_array_equal(whole, seconds(tubes, REF))
    np.testing.assert_array_equal(whole[None, :], np.array(list(stream([tubes], REF))))
    picked = tubes.picked(np.array([3, 500]))
    np.testing.assert_array_equal(whole[[3, 500]], seconds(picked, REF))
    grid = TubeArrays(activity=np.array([[5.0], [50.0]]), pressure_hpa=np.array([1013.25, 900.0, 800.0]))
    wide = seconds(grid, REF)
    assert wide.shape == (2, 3)
    assert wide[1, 2] == seconds(TubeArrays(activity=50.0, pressure_hpa=800.0), REF)


def test_several_threads_may_ask_at_once():
    from concurrent.futures import ThreadPoolExecutor

    tubes = nine(400, 7)
    alone = seconds(tubes, REF)
    with ThreadPoolExecutor(4) as pool:
        for got in pool.map(lambda _: seconds(tubes, REF), range(12)):
            np.testing.assert_array_equal(alone, got)


def test_warming_leaves_every_kernel_compiled():
    from lodestarch.tube import fall
    from lodestarch.tube.warm import warm

    warm()
    for kernel in (kernels.readings, kernels.some, kernels.history, kernels.curve, fall.few, fall.arrivals):
        assert kernel.signatures


def test_any_number_of_threads_gives_the_same_bits():
    import numba

    tubes = nine(500, 5)
    many = seconds(tubes, REF)
    before = numba.get_num_threads()
    try:
        numba.set_num_threads(1)
        np.testing.assert_array_equal(many, seconds(tubes, REF))
    finally:
        numba.set_num_threads(before)
    assert not PARALLEL.locked()


def test_a_parameter_set_a_tube():
    sets = np.array([shipped_set(name).vector() for name in ("ref", "n2", "film-plus")])
    rows = TubeArrays(activity=np.array([9.0, 9.0, 9.0])).rows(REF)
    got = np.empty(3)
    kernels.readings(rows, sets, FINE.row(), got)
    alone = [
        seconds(TubeArrays(activity=9.0), shipped_set(n), grid=FINE).item()
        for n in ("ref", "n2", "film-plus")
    ]
    np.testing.assert_array_equal(got, alone)


def test_compiled_and_plain_kernels_agree():
    row = nine(1, 6).rows(REF)[0]
    n = REF.shells + 1
    made = {}
    for kind in ("compiled", "plain"):
        state, modes = np.zeros(kernels.SIZE), np.zeros((n, n))
        weights, out, p = np.empty(9), np.empty(6), REF.vector()

        def pick(f, kind=kind):
            return f.py_func if kind == "plain" else f

        pick(kernels.heat_chain)(row, p, state, 0.0)
        pick(kernels.decompose)(n, state, modes)
        for j in range(n):
            modes[:, j] /= math.sqrt(state[kernels.CAPACITY + j])
        state[kernels.T : kernels.T + n] = np.linspace(70.0, 90.0, n)
        state[kernels.E : kernels.E + n] = 1.0
        state[kernels.G : kernels.G + n] = 0.5
        weights[:5] = (1.0, 0.0, 0.0, 0.0, 0.0)
        pick(kernels.set_amplitudes)(n, row[5], state, modes)
        pick(kernels.temperatures)(n, row[5], state, modes)
        pick(kernels.kinetics)(n - 1, 0.0, row[8], p, weights, state, out)
        pick(kernels.relaxation)(2.0, 6.0, weights)
        decay = np.exp(-state[kernels.RATE : kernels.RATE + n] * 2.0)
        state[kernels.AMPLITUDE : kernels.AMPLITUDE + n] *= decay
        pick(kernels.temperatures)(n, row[5], state, modes)
        pick(kernels.kinetics)(n - 1, 2.0, row[8], p, weights, state, out)
        speed = np.empty((2, 2))
        pick(kernels.log_speed)(row, p, out, speed[0])
        made[kind] = np.concatenate((state[: kernels.KD], out, speed[0], weights[:5]))
    np.testing.assert_allclose(made["plain"], made["compiled"], rtol=1e-12)


def test_lane_functions_are_those_of_the_library():
    from lodestarch.tube.lanes import lane_exp, lane_log

    for x in (*np.linspace(-690.0, 690.0, 401), 0.0, 1e-300, -1e-9, 0.5):
        assert math.exp(x) == pytest.approx(lane_exp(float(x)), rel=3e-13 if abs(x) > 40.0 else 2e-14)
    assert lane_exp(-1e300) == pytest.approx(math.exp(-700.0), rel=1e-12)
    for x in (*np.geomspace(1e-300, 1e300, 601), 1.0, 0.001, 0.7071067811865475, 0.7071067811865477):
        assert math.log(x) == pytest.approx(lane_log(float(x)), rel=2e-15, abs=2e-15)


@pytest.mark.parametrize("h", [0.01, 0.5, 5.9, 6.1, 40.0])
def test_relaxation_weights_integrate_cubics_exactly(h):
    weights = np.empty(9)
    kernels.relaxation(h, 6.0, weights)
    for power in range(4):
        kept = quad(lambda s, m=power: math.exp(-(h - s) / 6.0) / 6.0 * s**m, 0.0, h, epsabs=1e-15)[0]
        ends = np.array(
            [0.0, 0.0**power, h**power, float(power == 1), power * h ** (power - 1) if power else 0.0]
        )
        assert kept == pytest.approx(float(weights[:5] @ ends), rel=1e-9, abs=1e-15)


def test_rows_carry_the_boiling_point():
    rows = TubeArrays(activity=1.0, pressure_hpa=np.array([900.0, 1000.0])).rows(REF)
    np.testing.assert_array_equal(rows[:, 5], boiling_point_c(np.array([900.0, 1000.0])))
    assert rows[0, 0] == 1.0


def test_a_stiff_charge_still_ends():
    # 18 g in 10 mL: hours, found from the speed at the bath's temperature instead of a march there.
    slow = seconds(TubeArrays(activity=0.0, mass_g=18.0, moisture_pct=5.0, water_ml=10.0), REF).item()
    kept = TubeInputs(activity=0.0, mass_g=18.0, moisture_pct=5.0, water_ml=10.0)
    assert slow > 10000.0
    assert slow == pytest.approx(
        integrate(kept, REF, method="LSODA", rtol=1e-8, atol=1e-10).seconds, rel=1e-5
    )
