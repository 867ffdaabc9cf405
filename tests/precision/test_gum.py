from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import LodestarchError, NoAnswer, OutOfRange, UnknownName
from lodestarch.precision.distribution import Distribution
from lodestarch.precision.gum import propagate
from lodestarch.precision.line import fit_line
from lodestarch.precision.monte_carlo import compare_with_linear, shortest_interval, simulate, tolerance_of
from lodestarch.precision.summary import percentile, summarise


def test_correlation_enters_with_its_sign():
    model = lambda x: x[0] - x[1]  # noqa: E731
    apart = propagate(model, [5.0, 3.0], [0.3, 0.4])
    together = propagate(model, [5.0, 3.0], [0.3, 0.4], correlation=[[1.0, 0.5], [0.5, 1.0]])
    assert apart.u == pytest.approx(0.5)
    assert together.u == pytest.approx(math.sqrt(0.25 - 2 * 0.5 * 0.12))


def test_second_order_of_a_square_is_exact_for_normal_inputs():
    got = propagate(lambda x: x[0] ** 2, [0.0], [1.0])
    assert got.u == pytest.approx(0.0, abs=1e-9)
    assert got.u_second_order == pytest.approx(math.sqrt(2.0), rel=1e-6)


def test_a_model_of_the_wrong_shape_is_a_programming_error():
    with pytest.raises(LodestarchError):
        propagate(lambda x: x, [1.0], [0.1])
    with pytest.raises(LodestarchError):
        propagate(lambda x: x[0], [1.0, 2.0], [0.1])


@pytest.mark.parametrize(
    ("form", "width", "u"),
    [
        ("normal", 2.0, 2.0),
        ("rectangular", 3.0, 3**0.5),
        ("triangular", 6**0.5, 1.0),
        ("arcsine", 2**0.5, 1.0),
    ],
)
def test_draws_have_the_stated_uncertainty(form, width, u):
    d = Distribution(form, 10.0, width)
    x = d.draw(np.random.default_rng(1), 200_000)
    assert d.u == pytest.approx(u)
    assert x.std() == pytest.approx(u, rel=0.01)
    assert x.mean() == pytest.approx(10.0, abs=0.02)


def test_student_draws_are_scaled_by_u_and_heavier_than_normal():
    x = Distribution("student", 0.0, 1.0, 5.0).draw(np.random.default_rng(2), 400_000)
    assert x.std() == pytest.approx(math.sqrt(5.0 / 3.0), rel=0.02)
    assert np.quantile(x, 0.975) == pytest.approx(2.5706, rel=0.02)


def test_unknown_forms_and_negative_widths_are_refused():
    with pytest.raises(UnknownName):
        Distribution("cauchy", 0.0, 1.0)  # type: ignore[arg-type]
    with pytest.raises(OutOfRange):
        Distribution("student", 0.0, 1.0, 0.0)
    with pytest.raises(OutOfRange):
        tolerance_of(0.0)


def test_shortest_interval_of_a_skewed_sample_starts_at_its_edge():
    x = np.random.default_rng(3).exponential(size=200_000)
    low, high = shortest_interval(x, 0.95)
    assert low < 0.001
    assert high == pytest.approx(-math.log(0.05), rel=0.02)


def test_a_simulation_stops_when_its_figures_stand_still_and_agrees_with_a_linear_model():
    inputs = [Distribution("normal", 1.0, 0.1), Distribution("normal", 2.0, 0.2)]
    got = simulate(lambda x: x[0] + x[1], inputs, np.random.default_rng(4), block=100_000, digits=1)
    assert got.stable
    linear = propagate(lambda x: x[0] + x[1], [1.0, 2.0], [0.1, 0.2])
    assert compare_with_linear(linear, got, digits=1).holds
    still = simulate(lambda x: x[0], [Distribution("normal", 1.0, 0.0)], np.random.default_rng(5), block=100)
    assert (still.u, still.low, still.high) == (0.0, 1.0, 1.0)


def test_a_line_through_fewer_than_three_points_or_one_x_has_no_answer():
    with pytest.raises(NoAnswer, match="line-too-few"):
        fit_line([1.0, 2.0], [1.0, 2.0])
    with pytest.raises(NoAnswer, match="line-one-x"):
        fit_line([5.0, 5.0, 5.0], [1.0, 2.0, 3.0])


def test_a_weighted_line_agrees_with_a_weighted_polynomial_fit():
    rng = np.random.default_rng(6)
    x = rng.uniform(0, 10, 25)
    y = 2.0 + 0.5 * x + rng.standard_normal(25)
    w = rng.uniform(0.5, 2.0, 25)
    (slope, intercept), cov = np.polyfit(x, y, 1, w=np.sqrt(w), cov=True)
    line = fit_line(x, y, weight=w)
    assert (line.intercept, line.slope) == pytest.approx((intercept, slope))
    assert (line.u_slope, line.u_intercept) == pytest.approx(tuple(np.sqrt(np.diag(cov))), rel=1e-6)
    low, high = line.slope_interval()
    assert low < line.slope < high


def test_summary_edges():
    assert summarise([5.0]).sd is None
    assert summarise([5.0, 5.0, 5.0]).lag1 is None
    with pytest.raises(NoAnswer, match="summary-empty"):
        summarise([])
    with pytest.raises(UnknownName):
        percentile([1.0, 2.0], 0.5, kind=9)
