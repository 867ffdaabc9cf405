import math

import numpy as np
import pytest

from lodestarch.common.errors import OutOfRange
from lodestarch.common.provenance import Provenance
from lodestarch.tube.bench import Bench, Spread, shipped_bench
from lodestarch.tube.budget import contributions
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.inputs import TubeArrays, TubeInputs
from lodestarch.tube.parameters import shipped_set
from lodestarch.tube.shares import bench_shares, sobol_shares

REF = shipped_set()
FREE = TubeInputs(activity=0.0)


def ishigami(u):
    x = math.pi * (2.0 * u - 1.0)
    return np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_indices_of_a_function_that_has_them_in_closed_form():
    # Ishigami and Homma 1990, a = 7, b = 0.1: variances by integration by hand.
    variance = 0.5 + 49.0 / 8.0 + 0.1 * math.pi**4 / 5.0 + 0.01 * math.pi**8 / 18.0
    first = np.array([0.5 * (1.0 + 0.1 * math.pi**4 / 5.0) ** 2, 49.0 / 8.0, 0.0]) / variance
    third = 0.01 * math.pi**8 * (1.0 / 18.0 - 1.0 / 50.0) / variance
    total = first + np.array([third, 0.0, third])
    out = sobol_shares(ishigami, 3, 8192, np.random.default_rng(5))
    np.testing.assert_allclose(out.first, first, atol=0.01)
    np.testing.assert_allclose(out.total, total, atol=0.01)
    assert variance == pytest.approx(out.variance, rel=0.01)
    assert pytest.approx(out.mean, abs=0.02) == 3.5
    assert out.evaluations == 8192 * 5
    assert (np.abs(out.first - first) < 5.0 * out.first_u + 1e-3).all()


def test_the_same_seed_gives_the_same_shares_and_wrong_sizes_are_refused():
    one, two = (sobol_shares(ishigami, 3, 64, np.random.default_rng(9), resamples=20) for _ in range(2))
    np.testing.assert_array_equal(one.first, two.first)
    for dimensions, points in ((0, 64), (3, 4)):
        with pytest.raises(OutOfRange):
            sobol_shares(ishigami, dimensions, points, np.random.default_rng(9))
    flat = sobol_shares(lambda u: np.ones(u.shape[0]), 2, 64, np.random.default_rng(9), resamples=5)
    assert flat.variance == 0.0
    assert (flat.first == 0.0).all()


def test_shares_of_a_bench_against_the_library():
    from SALib.analyze import sobol as analyse
    from SALib.sample import sobol as sample

    bench = shipped_bench()
    out = bench_shares(280.0, FREE, REF, bench, np.random.default_rng(2), points=1024)
    problem = {"num_vars": 9, "names": list(out.keys), "bounds": [[0.0, 1.0]] * 9}
    u = sample.sample(problem, 1024, calc_second_order=False, seed=3)
    tube = TubeInputs(activity=0.0)
    from lodestarch.tube.curves import with_reading

    tube = with_reading(280.0, tube, REF)
    base = TubeArrays.like(tube, REF)
    drawn = {
        key: bench.spreads[key].draw(float(getattr(base, key)), u[:, j]) for j, key in enumerate(out.keys)
    }
    got = analyse.analyze(
        problem, seconds(TubeArrays.like(tube, REF, **drawn), REF), calc_second_order=False, seed=4
    )
    slack = 4.0 * np.hypot(out.shares.first_u, got["S1_conf"] / 1.96)
    assert (np.abs(out.shares.first - got["S1"]) < slack).all()
    slack = 4.0 * np.hypot(out.shares.total_u, got["ST_conf"] / 1.96)
    assert (np.abs(out.shares.total - got["ST"]) < slack).all()


def test_shares_agree_with_the_first_order_budget_where_the_model_is_straight():
    bench = shipped_bench()
    out = bench_shares(300.0, FREE, REF, bench, np.random.default_rng(1), points=2048)
    rows, total = contributions(300.0, FREE, REF, bench)
    for row in rows:
        k = out.keys.index(row.key)
        assert (row.u_s / total) ** 2 == pytest.approx(out.shares.total[k], abs=0.02)
    assert total == pytest.approx(math.sqrt(out.shares.variance), rel=0.03)
    assert pytest.approx(out.shares.first.sum(), abs=0.06) == 1.0


def test_a_bench_of_one_stray_input_blames_it_alone():
    one = Bench("one", {"mass_g": Spread("mass_g", "even", 0.05, Provenance.INVENTED)})
    out = bench_shares(300.0, FREE, REF, one, np.random.default_rng(1), points=64)
    assert pytest.approx(out.shares.total[0], abs=0.05) == 1.0
