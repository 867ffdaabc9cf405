"""Money over the odds, against quadrature, against simulation, and at its edges."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from lodestarch.common.errors import OutOfRange
from lodestarch.common.money import MoneyBySeconds, constant_money
from lodestarch.common.rounding import half_up
from lodestarch.decide.expected_money import (
    expected_money,
    expected_money_rounded,
    expected_moneys,
    money_sd,
)

STEPS = MoneyBySeconds(
    np.array([250.0, 275.0, 300.0]),
    np.array([-90.0, -50.0, -25.0, 0.0]),
    np.zeros(4),
    np.array([True, True, True]),
    "USD/t",
)
SLOPE_AND_CLIFF = MoneyBySeconds(
    np.array([220.0, 300.0, 350.3]),
    np.array([100.0, 60.0, 210.0, 245.0]),
    np.array([0.1, 0.5, 0.0, -0.1]),
    np.array([True, False, True]),
    "USD/t",
)
BOTH = [STEPS, SLOPE_AND_CLIFF]


def by_quadrature(money: MoneyBySeconds, m: float, s: float, power: int = 1) -> float:
    edges = [-np.inf, *money.breaks_s, np.inf]
    return sum(
        quad(
            lambda x, a=a, b=b: (a + b * x) ** power * norm.pdf(x, m, s),
            max(low, m - 12 * s), min(high, m + 12 * s), epsabs=1e-11, epsrel=1e-12, limit=200,
        )[0]
        for a, b, low, high in zip(money.intercept, money.slope_per_s, edges[:-1], edges[1:], strict=True)
        if min(high, m + 12 * s) > max(low, m - 12 * s)
    )  # fmt: skip


@pytest.mark.parametrize("money", BOTH)
@pytest.mark.parametrize(("m", "s"), [(299.0, 9.0), (240.0, 25.0), (310.0, 0.5), (420.0, 3.0), (62.0, 60.0)])
def test_closed_form_is_the_integral(money: MoneyBySeconds, m: float, s: float) -> None:
    mean = by_quadrature(money, m, s)
    assert float(expected_money(money, m, s)) == pytest.approx(mean, rel=1e-10, abs=1e-9)
    var = by_quadrature(money, m, s, 2) - mean**2
    assert float(money_sd(money, m, s)) == pytest.approx(np.sqrt(max(var, 0.0)), rel=1e-5, abs=1e-4)


def rounded_one_by_one(money: MoneyBySeconds, m: float, s: float, step: float) -> float:
    report = np.arange(np.floor((m - 10 * s) / step) - 2, np.ceil((m + 10 * s) / step) + 3) * step
    chance = norm.cdf(report + step / 2, m, s) - norm.cdf(report - step / 2, m, s)
    return float((money.at(report) * chance).sum())


@pytest.mark.parametrize("money", BOTH)
@pytest.mark.parametrize("step", [0.5, 1.0, 5.0, 10.0])
@pytest.mark.parametrize(
    ("m", "s"), [(299.0, 9.0), (299.5, 1.0), (300.2, 5.0), (247.3, 0.3), (352.7, 10.0), (330.0, 40.0)]
)
def test_rounded_is_the_sum_over_reports(money: MoneyBySeconds, step: float, m: float, s: float) -> None:
    got = float(expected_money_rounded(money, m, s, step_s=step))
    assert got == pytest.approx(rounded_one_by_one(money, m, s, step), rel=0, abs=1e-8)


def test_rounded_against_simulation() -> None:
    draws = half_up(np.random.default_rng(7).normal(298.7, 6.0, 200_000), 1.0)
    paid = SLOPE_AND_CLIFF.at(draws)
    error = paid.std() / np.sqrt(paid.size)
    assert abs(float(expected_money_rounded(SLOPE_AND_CLIFF, 298.7, 6.0)) - paid.mean()) < 4 * error
    assert float(money_sd(SLOPE_AND_CLIFF, 298.7, 6.0)) == pytest.approx(paid.std(), rel=0.02)


def test_a_known_report_is_paid_as_it_stands() -> None:
    m = np.array([249.9, 250.0, 299.6, 300.0])
    np.testing.assert_array_equal(expected_money(STEPS, m, 0.0), STEPS.at(m))
    np.testing.assert_array_equal(expected_money_rounded(STEPS, m, 0.0), STEPS.at(half_up(m)))
    np.testing.assert_array_equal(money_sd(STEPS, m, 0.0), np.zeros(4))


def test_many_functions_are_the_functions_one_by_one() -> None:
    rng = np.random.default_rng(3)
    m, s = rng.uniform(200, 400, 40_000), rng.uniform(2, 20, 40_000)
    both = expected_moneys([*BOTH, constant_money(7.0, "USD/t")], m, s)
    for i, money in enumerate(BOTH):
        np.testing.assert_array_equal(both[:, i], expected_money(money, m, s))
    np.testing.assert_array_equal(both[:, 2], np.full(m.size, 7.0))
    own = np.stack([m + 3.0, m - 2.0], axis=1)
    np.testing.assert_array_equal(
        expected_moneys(BOTH, own, s[:, None])[:, 1], expected_money(SLOPE_AND_CLIFF, m - 2.0, s)
    )


def test_published_shape_of_the_reference_table() -> None:
    # 25 cents a bushel below 300 s, SD 10: 77.13, 39.66, 5.69 dollars per 1,000 bu at 305, 310, 320 s.
    step = MoneyBySeconds(
        np.array([300.0]), np.array([-250.0, 0.0]), np.zeros(2), np.array([True]), "USD per 1,000 bu"
    )
    got = expected_money(step, np.array([305.0, 310.0, 320.0]), 10.0)
    np.testing.assert_allclose(got, [-77.13, -39.66, -5.69], atol=0.005)


@pytest.mark.parametrize(("m", "s"), [(300.0, -1.0), (300.0, np.nan), (np.inf, 1.0), (np.nan, 1.0)])
def test_what_is_no_number_is_refused(m: float, s: float) -> None:
    with pytest.raises(OutOfRange):
        expected_money(STEPS, m, s)


def test_a_step_of_nothing_is_refused() -> None:
    with pytest.raises(OutOfRange):
        expected_money_rounded(STEPS, 300.0, 9.0, step_s=0.0)
