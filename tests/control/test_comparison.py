"""Comparing two labs or instruments: properties, equivalence, bias by pair of labs, awkward data."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import least_squares

from lodestarch.common.errors import LodestarchError, NoAnswer, OutOfRange
from lodestarch.control.agreement import agreement, repeatability
from lodestarch.control.comparison import compare
from lodestarch.control.equivalence import equivalence, pairs_needed
from lodestarch.control.lab_bias import lab_bias
from lodestarch.control.structural_lines import deming, known_variances, passing_bablok


def two_columns(rng, n=40, slope=1.05, offset=-8.0, sd=5.0):
    true = rng.uniform(150, 420, n)
    return true + sd * rng.standard_normal(n), offset + slope * true + sd * rng.standard_normal(n)


def codes(result):
    return [f.code for f in result.findings]


def test_lines_turn_round_when_the_columns_change_places():
    x, y = two_columns(np.random.default_rng(1))
    u = np.full(x.size, 5.0)
    for there, back in (
        (deming(x, y), deming(y, x)),
        (known_variances(x, y, u, u), known_variances(y, x, u, u)),
        (passing_bablok(x, y), passing_bablok(y, x)),
    ):
        assert back.slope == pytest.approx(1.0 / there.slope, rel=1e-6)
    assert known_variances(x, y, u, u).slope == pytest.approx(deming(x, y).slope, rel=1e-8)


def test_known_variances_agree_with_least_squares_over_all_true_levels():
    rng = np.random.default_rng(2)
    x, y = two_columns(rng)
    ux, uy = rng.uniform(2, 8, x.size), rng.uniform(2, 8, x.size)

    def residuals(p):  # intercept, slope, then the true level of every sample
        return np.concatenate([(x - p[2:]) / ux, (y - p[0] - p[1] * p[2:]) / uy])

    oracle = least_squares(residuals, np.concatenate([[0.0, 1.0], x]), xtol=1e-14, ftol=1e-14)
    got = known_variances(x, y, ux, uy)
    assert (got.intercept, got.slope) == pytest.approx(tuple(oracle.x[:2]), rel=1e-5)


def test_a_falling_and_a_nearly_vertical_line_are_found_too():
    x = np.linspace(1.0, 10.0, 20)
    e = 0.05 * np.sin(7.0 * np.arange(20))
    assert deming(x, 5.0 - 2.0 * x + e).slope == pytest.approx(-2.0, abs=0.05)
    u = np.full(20, 0.1)
    assert known_variances(x, 5.0 - 2.0 * x + e, u, u).slope == pytest.approx(-2.0, abs=0.05)
    assert known_variances(x, 30.0 * x + e, u, u).slope == pytest.approx(30.0, rel=0.05)


def test_intervals_of_the_lines_cover_near_their_content():
    rng = np.random.default_rng(3)
    hits = np.zeros(2)
    for _ in range(150):
        x, y = two_columns(rng)
        for i, line in enumerate((deming(x, y), passing_bablok(x, y))):
            hits[i] += line.slope_low <= 1.05 <= line.slope_high
    assert np.all(hits / 150 > 0.88)
    assert np.all(hits / 150 <= 1.0)


def test_equivalence_is_the_two_one_sided_tests():
    rng = np.random.default_rng(4)
    d = 1.0 + 6.0 * rng.standard_normal(40)
    got = equivalence(d, 5.0)
    upper = stats.ttest_1samp(d, 5.0, alternative="less").pvalue
    lower = stats.ttest_1samp(d, -5.0, alternative="greater").pvalue
    assert got.p == pytest.approx(max(upper, lower), rel=1e-9)
    assert (got.verdict == "equivalent") == (got.p < 0.05)
    assert equivalence(d + 20.0, 5.0).verdict == "different"
    assert equivalence(d[:4] * 3.0, 5.0).verdict == "cannot-tell"
    assert equivalence([1.0, 1.0, 1.0], 5.0).p == 0.0
    assert equivalence([9.0, 9.0, 9.0], 5.0).verdict == "different"


def test_the_number_of_pairs_reaches_its_power():
    n = pairs_needed(9.0, 5.0, power=0.9)
    rng = np.random.default_rng(5)
    found = sum(equivalence(9.0 * rng.standard_normal(n), 5.0).verdict == "equivalent" for _ in range(600))
    assert found / 600 == pytest.approx(0.9, abs=0.05)
    assert pairs_needed(9.0, 4.0) > n


def test_bias_by_pair_of_labs_takes_both_labs_own_scatter_off():
    rng = np.random.default_rng(6)
    true = rng.uniform(200, 400, 300)
    ours = true + 5.0 * rng.standard_normal(300)
    theirs = true + 6.0 + 4.0 * rng.standard_normal(300) + 5.0 * rng.standard_normal(300)
    got = lab_bias(ours, theirs, u_ours_s=5.0, u_theirs_s=5.0)
    assert got.bias_s == pytest.approx(6.0, abs=3 * got.u_bias_s)
    assert got.sd_between_s == pytest.approx(4.0, rel=0.25)
    assert got.sd_difference_s == pytest.approx(math.sqrt(66.0), rel=0.15)


def test_pairs_of_one_occasion_share_its_bias():
    rng = np.random.default_rng(7)
    day = np.repeat(np.arange(6), 10)
    d = 3.0 + (4.0 * rng.standard_normal(6))[day] + 2.0 * rng.standard_normal(60)
    alone = lab_bias(np.zeros(60) + 300, 300 + d)
    grouped = lab_bias(np.zeros(60) + 300, 300 + d, occasion=day)
    assert grouped.dof == 5.0
    assert grouped.u_bias_s > 2.0 * alone.u_bias_s  # sixty pairs on six days are not sixty days
    assert "bias-occasions-one" in codes(lab_bias([1.0, 2.0, 3.0], [1.0, 2.5, 3.5], occasion=["d", "d", "d"]))


def test_few_and_missing_pairs_of_labs_are_findings():
    got = lab_bias([300, 301, math.nan, 310], [304, 303, 300, 316])
    assert codes(got) == ["bias-value-missing", "bias-pairs-few"]
    with pytest.raises(NoAnswer, match="compare-pairs-few"):
        lab_bias([300, 301], [300, 302])
    with pytest.raises(LodestarchError):
        lab_bias([300, 301], [300])


@pytest.mark.parametrize(
    ("a", "b", "code"),
    [
        ([300, 301], [300, 302], "compare-pairs-few"),
        ([300, 300, 300, 300, 300], [301, 302, 299, 300, 304], "compare-one-level"),
        ([300, 310, 320, 330], [300, 310, 320, 330], "compare-all-equal"),
        ([300, math.nan, 320, 330, 290], [300, 310, 320, 330, 280], "compare-value-missing"),
        ([300, -1, 320, 330, 290], [300, 310, 320, 330, 280], "compare-value-negative"),
        ([], [], "compare-pairs-few"),
    ],
)
def test_awkward_columns_give_findings_never_nan(a, b, code):
    got = compare(a, b, margin=5.0)
    assert code in codes(got)
    assert len({(f.code, f.where) for f in got.findings}) == len(got.findings)
    for line in (got.deming, got.passing_bablok):
        assert line is None or all(
            v is None or math.isfinite(v)
            for v in (line.slope, line.intercept, line.slope_low, line.slope_high, line.intercept_low)
        )
    if got.differences is not None:
        assert math.isfinite(got.differences.mean)


def test_uncertainties_that_cannot_weigh_a_pair_leave_it_out_of_that_line_only():
    x, y = two_columns(np.random.default_rng(8), n=12)
    u = np.full(12, 4.0)
    u[3] = 0.0
    got = compare(x, y, u_a=u, u_b=u)
    assert got.pairs == 12
    assert got.known_variances.n == 11
    assert "compare-u-not-usable" in codes(got)
    assert "compare-u-one-column" in codes(compare(x, y, u_a=u))
    with pytest.raises(LodestarchError):
        compare(x, y[:-1])


def test_a_difference_that_grows_with_level_is_said():
    x, y = two_columns(np.random.default_rng(9), slope=1.2, sd=3.0)
    assert "compare-difference-grows" in codes(compare(x, y))


def test_very_many_pairs_leave_the_pairwise_slopes_out():
    x, y = two_columns(np.random.default_rng(10), n=3100)
    got = compare(x, y)
    assert codes(got)[-1] == "compare-too-many-for-slopes"
    assert got.passing_bablok is None
    assert got.deming.slope == pytest.approx(1.05, abs=0.01)


def test_too_few_for_an_answer():
    with pytest.raises(NoAnswer):
        agreement([1.0], [2.0])
    with pytest.raises(NoAnswer):
        repeatability([], [])


def test_impossible_arguments_are_refused():
    x, y = two_columns(np.random.default_rng(11), n=6)
    for call in (
        lambda: deming(x, y, ratio=0.0),
        lambda: known_variances(x, y, np.zeros(6), np.zeros(6)),
        lambda: equivalence(x - y, 0.0),
        lambda: pairs_needed(0.0, 5.0),
    ):
        with pytest.raises(OutOfRange):
            call()


def test_passing_bablok_on_grid_data_with_ties_and_one_far_pair():
    x = np.repeat(np.arange(200.0, 400.0, 25.0), 2)
    y = x + np.tile([0.0, 2.0], 8)
    y[5] += 120.0
    got = passing_bablok(x, y)
    assert got.slope == pytest.approx(1.0, abs=0.05)
    assert got.slope_low <= got.slope <= got.slope_high
