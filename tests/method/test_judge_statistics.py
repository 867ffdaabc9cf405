"""Factors of the rules for replicates, each against another way of computing it."""

from __future__ import annotations

from math import comb, factorial, pi, sqrt

import numpy as np
import pytest
from scipy import integrate, stats

from lodestarch.method.judge import (
    _MEDIAN_SD,
    AGREES,
    DISAGREES,
    agreement_limit_s,
    judge_groups,
    range_factor,
)
from lodestarch.method.scatter import DEFAULT_SCATTER, ScatterLaw
from lodestarch.method.shipped import shipped_profile
from method.support import own

DERIVED_RANGE_FACTORS = (2.772, 3.314, 3.633, 3.858, 4.030, 4.170, 4.286, 4.387, 4.474)
"""95 % point of the range of n normal readings, n = 2 to 10; derived."""
RECALLED_ISO_5725_6 = (2.8, 3.3, 3.6, 3.9, 4.0)
"""Printed in ISO 5725-6 for n = 2 to 6; recalled."""


def median_sd(n: int) -> float:
    """SD of the median of n standard normal readings, by integration over order statistics."""
    if n % 2:
        k = (n - 1) // 2
        weight = n * comb(n - 1, k)

        def density(x):
            return weight * stats.norm.cdf(x) ** k * stats.norm.sf(x) ** k * stats.norm.pdf(x)

        return sqrt(integrate.quad(lambda x: density(x) * x * x, -9.0, 9.0)[0])
    k = n // 2
    nodes, weights = np.polynomial.legendre.leggauss(160)
    x, wx = 8.0 * nodes, 8.0 * weights
    half = (8.0 - x)[:, None] / 2.0  # the upper of the two middle readings runs from x to 8
    y = x[:, None] + half * (nodes + 1.0)
    constant = factorial(n) / factorial(k - 1) ** 2
    lower = stats.norm.cdf(x) ** (k - 1) * stats.norm.pdf(x)
    upper = stats.norm.sf(y) ** (k - 1) * stats.norm.pdf(y)
    square = ((x[:, None] + y) / 2.0) ** 2
    return sqrt(float(np.sum(constant * (wx * lower)[:, None] * half * weights * upper * square)))


@pytest.mark.parametrize("n", range(2, 11))
def test_sd_of_the_median_by_integration(n):
    assert _MEDIAN_SD[n] == pytest.approx(median_sd(n), abs=6e-5)


def test_the_integration_itself_gives_known_values():
    assert median_sd(1) == pytest.approx(1.0, abs=1e-9)
    assert median_sd(2) == pytest.approx(sqrt(0.5), abs=1e-9)


@pytest.mark.parametrize("n", [11, 12, 15, 20, 31])
def test_beyond_the_table_the_formula_errs_to_the_safe_side_and_not_by_much(n):
    exact = median_sd(n)
    assert exact < sqrt(pi / (2 * n)) < 1.08 * exact


def test_range_factors_derived():
    assert [range_factor(n) for n in range(2, 11)] == pytest.approx(DERIVED_RANGE_FACTORS, abs=6e-4)


def test_range_factors_recalled_of_iso_5725_6():
    assert [round(range_factor(n), 1) for n in range(2, 7)] == list(RECALLED_ISO_5725_6)


def test_the_factor_for_a_pair_is_that_of_a_difference_of_two():
    assert range_factor(2) == pytest.approx(stats.norm.ppf(0.975) * sqrt(2.0), rel=1e-6)


@pytest.mark.parametrize("n", [2, 3, 4, 6])
def test_good_readings_break_a_limit_of_their_own_scatter_one_time_in_twenty(n):
    """With a limit of 2.772 SD for a pair, 5 % of samples of n tubes disagree, whatever n is."""
    samples, cv = 20_000, 0.02
    rng = np.random.default_rng(n)
    seconds = rng.normal(300.0, 300.0 * cv, samples * n)
    c = own(agreement_unit="s", agreement_limits=((0.0, range_factor(2) * 300.0 * cv),), tubes=2.0).constants
    res = judge_groups(
        np.repeat(np.arange(samples), n),
        seconds,
        np.zeros(samples * n, np.int8),
        np.ones(samples * n, bool),
        c,
        DEFAULT_SCATTER,
        groups=samples,
    )
    share = float(np.mean(res.agreement == DISAGREES))
    assert share == pytest.approx(0.05, abs=3 * sqrt(0.05 * 0.95 / samples))
    assert np.all((res.agreement == AGREES) | (res.agreement == DISAGREES))


def test_how_often_a_good_pair_breaks_ten_per_cent_derived():
    """P by CV 2, 3, 3.6 and 4 %, here by judging drawn pairs."""
    pairs = 60_000
    rng = np.random.default_rng(8)
    c = shipped_profile("meal-15").constants
    for cv, expected in ((0.02, 0.0004), (0.03, 0.0184), (0.036, 0.0495), (0.04, 0.0771)):
        res = judge_groups(
            np.repeat(np.arange(pairs), 2),
            rng.normal(300.0, 300.0 * cv, 2 * pairs),
            np.zeros(2 * pairs, np.int8),
            np.ones(2 * pairs, bool),
            c,
            DEFAULT_SCATTER,
            groups=pairs,
        )
        # A little more than the closed form, which takes 10 % of the true level and not of the pair's mean.
        sigma = sqrt(expected * (1 - expected) / pairs)
        assert float(np.mean(res.agreement == DISAGREES)) == pytest.approx(
            expected, abs=4 * sigma + 0.003 * (cv > 0.02)
        )


def test_the_note_on_the_loose_limit_says_what_is_so():
    note = shipped_profile("meal-15").fields["agreement_limits"].note
    assert "1 pair in 2,500" in note
    assert 1.0 / (2.0 * stats.norm.sf(0.10 / (0.02 * sqrt(2.0)))) == pytest.approx(2500.0, rel=0.05)


# --- limits by level --------------------------------------------------------------------------------------


def test_limits_in_per_cent_of_the_mean():
    c = own(agreement_limits=((0.0, 10.0), (200.0, 6.0), (350.0, 8.0))).constants
    levels = np.array([100.0, 199.9, 200.0, 300.0, 350.0, 500.0])
    assert agreement_limit_s(levels, c) == pytest.approx([10.0, 19.99, 12.0, 18.0, 28.0, 40.0])
    assert float(agreement_limit_s(300.0, c)) == pytest.approx(18.0)


def test_limits_in_seconds():
    c = own(agreement_unit="s", agreement_limits=((0.0, 8.0), (200.0, 15.0))).constants
    assert agreement_limit_s(np.array([80.0, 200.0, 600.0]), c).tolist() == [8.0, 15.0, 15.0]


@pytest.mark.parametrize("tubes", [1, 2, 3, 4, 8])
def test_more_tubes_may_lie_further_apart(tubes):
    c = own(agreement_unit="s", agreement_limits=((0.0, 20.0),)).constants
    expected = 20.0 * (range_factor(tubes) / range_factor(2) if tubes > 2 else 1.0)
    assert float(agreement_limit_s(250.0, c, tubes)) == pytest.approx(expected)


# --- uncertainty ------------------------------------------------------------------------------------------


def u_by_simulation(n: int, *, median: bool) -> float:
    draws = np.random.default_rng(n).normal(300.0, 6.0, (40_000, n))
    return float(np.std(np.median(draws, axis=1) if median else draws.mean(axis=1)))


@pytest.mark.parametrize("n", [1, 2, 3, 4])
def test_u_of_a_mean_is_what_repeated_samples_show(n):
    seconds = 300.0 + np.linspace(-1.0, 1.0, n) if n > 1 else np.array([300.0])
    res = judge_groups(
        np.zeros(n, np.int64),
        seconds,
        np.zeros(n, np.int8),
        np.ones(n, bool),
        shipped_profile("meal-15").constants,
        DEFAULT_SCATTER,
        groups=1,
    )
    assert float(res.u_s[0]) == pytest.approx(6.0 / sqrt(n))
    assert float(res.u_s[0]) == pytest.approx(u_by_simulation(n, median=False), rel=0.015)


@pytest.mark.parametrize("n", [3, 4, 5, 9, 12])
def test_u_of_a_median_takes_the_wider_of_the_law_and_the_readings_own_scatter(n):
    seconds = np.full(n, 300.0)
    seconds[0], seconds[-1] = 240.0, 360.0
    wide, narrow = (
        judge_groups(
            np.zeros(n, np.int64),
            seconds,
            np.zeros(n, np.int8),
            np.ones(n, bool),
            own(tubes=2.0, agreement_unit="s", agreement_limits=((0.0, 10.0),)).constants,
            law,
            groups=1,
        )
        for law in (DEFAULT_SCATTER, ScatterLaw("constant-cv", (0.2,), DEFAULT_SCATTER.provenance))
    )
    factor = _MEDIAN_SD.get(n, sqrt(pi / (2 * n)))
    assert wide.median_used[0]
    assert float(wide.u_s[0]) == pytest.approx(factor * float(np.std(seconds, ddof=1)))
    assert float(narrow.u_s[0]) == pytest.approx(factor * 60.0)


@pytest.mark.parametrize("n", [3, 4, 5])
def test_the_factor_of_the_median_is_what_repeated_samples_show(n):
    assert 6.0 * _MEDIAN_SD[n] == pytest.approx(u_by_simulation(n, median=True), rel=0.015)
