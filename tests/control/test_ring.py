"""Ring tests: scores, consensus, and awkward data."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from lodestarch.common.errors import LodestarchError, NoAnswer, OutOfRange
from lodestarch.control.homogeneity import expanded_factors, homogeneity
from lodestarch.control.outlier_tests import cochran, cochran_critical, grubbs, grubbs_critical
from lodestarch.control.ring_precision import ring_precision
from lodestarch.control.ring_report import Assigned, ring_test
from lodestarch.control.ring_scores import expected_sd_horwitz, expected_sd_of_method, score
from lodestarch.control.robust import algorithm_a, hampel_location, q_hampel, q_scale


def codes(report):
    return [f.code for f in report.findings]


def test_scores_by_their_formulas():
    s = score(312.0, 300.0, 5.0, 2.0, u_lab=4.0, k_lab=2.0)
    assert s.z == pytest.approx(12 / 5)
    assert s.z_prime == pytest.approx(12 / math.sqrt(29))
    assert s.zeta == pytest.approx(12 / math.sqrt(20))
    assert s.e_n == pytest.approx(12 / math.sqrt(64 + 16))
    assert s.share_of_allowed_pct == pytest.approx(80.0)
    assert s.difference_pct == pytest.approx(4.0)
    assert (s.used, s.signal) == ("z-prime", "warning")  # 2.0 is not below 0.3 * 5


@pytest.mark.parametrize(
    ("value", "signal"), [(300.0, "none"), (310.1, "warning"), (315.0, "action"), (284.0, "action")]
)
def test_signals_stand_at_two_and_three(value, signal):
    assert score(value, 300.0, 5.0, 0.0).signal == signal


def test_impossible_scores_are_refused():
    for call in (
        lambda: score(300.0, 300.0, 0.0, 1.0),
        lambda: score(300.0, 300.0, 1.0, -1.0),
        lambda: score(300.0, 300.0, 1.0, 1.0, u_lab=0.0),
        lambda: expected_sd_horwitz(2.0),
        lambda: expected_sd_of_method(5.0, 4.0, 0),
        lambda: grubbs_critical(2, 0.05),
        lambda: cochran_critical(5, 2, 0.7),
        lambda: expanded_factors(1),
        lambda: homogeneity([[1.0, 2.0], [1.0, 2.0]], 0.0),
    ):
        with pytest.raises(OutOfRange):
            call()
    assert expected_sd_of_method(10.0, 6.0, 2) == pytest.approx(math.sqrt(100 - 18))


def test_a_ring_test_with_replicates_scores_every_lab_and_gives_precision():
    rng = np.random.default_rng(1)
    bias = np.array([0.0, 3.0, -2.0, 1.0, 25.0, -4.0, 2.0, 0.0, -1.0, 4.0])
    lab = np.repeat([f"L{i}" for i in range(10)], 3)
    value = 300.0 + np.repeat(bias, 3) + 3.0 * rng.standard_normal(30)
    report = ring_test(lab, value, u=np.full(30, 3.0))
    one = report.materials[0]
    assert one.assigned_by == "algorithm-a"
    assert one.assigned == pytest.approx(301.0, abs=2.5)
    worst = max(one.scores, key=lambda s: abs(s.score.z))
    assert worst.lab == "L4"
    assert worst.score.signal == "action"
    assert "ring-score-action" in codes(report)
    assert "ring-outlier" in codes(report)
    assert one.precision.s_r == pytest.approx(3.0, rel=0.4)
    # Left out on request, it no longer carries the reproducibility, and is still scored.
    without = ring_test(lab, value, exclude=[(None, "L4")]).materials[0]
    assert without.precision.s_R < 0.6 * one.precision.s_R
    assert [s.excluded for s in without.scores].count(True) == 1


def test_a_given_assigned_value_is_used():
    given = {"": Assigned(310.0, 1.0, 6.0)}
    one = ring_test(list("abcdefgh"), np.arange(300.0, 308.0), assigned=given).materials[0]
    assert (one.assigned, one.sigma_pt, one.assigned_by) == (310.0, 6.0, "given")
    assert one.scores[0].score.z == pytest.approx(-10.0 / 6.0)


def test_half_equal_results_fall_back_to_the_q_method():
    report = ring_test(list("abcdefg"), [300.0, 300.0, 300.0, 300.0, 301.0, 299.0, 310.0])
    assert "ring-half-equal" in codes(report)
    assert report.materials[0].assigned_by == "q-hampel"
    assert report.materials[0].sigma_pt > 0.0
    assert algorithm_a([300.0] * 4 + [301.0, 299.0, 310.0]).collapsed


@pytest.mark.parametrize(
    ("lab", "value", "code"),
    [
        (["a", "a", "a"], [300.0, 301.0, 302.0], "ring-labs-few"),
        (list("abcdef"), [300.0] * 6, "ring-all-equal"),
        (["a", "b"], [300.0, 304.0], "ring-consensus-too-few-labs"),
        (list("abcd"), [300.0, math.nan, 310.0, 305.0], "ring-value-missing"),
        (list("abcd"), [300.0, -5.0, 310.0, 305.0], "ring-value-negative"),
        (list("abcd"), [300.0, 302.0, 310.0, 305.0], "ring-no-replicates"),
        (["a"], [math.nan], "ring-labs-few"),
    ],
)
def test_awkward_ring_tests_give_findings_never_nan(lab, value, code):
    report = ring_test(lab, value)
    assert code in codes(report)
    for material in report.materials:
        for number in (material.assigned, material.sigma_pt, material.u_assigned):
            assert number is None or math.isfinite(number)
        for s in material.scores:
            assert math.isfinite(s.mean)
            assert s.score is None or math.isfinite(s.score.z)


def test_a_stated_u_that_is_not_positive_is_a_finding_and_not_a_score():
    report = ring_test(list("abcd"), [300.0, 302.0, 310.0, 305.0], u=[0.0, 2.0, -1.0, math.nan])
    assert codes(report).count("ring-u-not-positive") == 2
    assert [s.score.zeta is None for s in report.materials[0].scores] == [True, False, True, True]


def test_columns_of_different_length_are_a_programming_error():
    with pytest.raises(LodestarchError):
        ring_test(["a"], [1.0, 2.0])


def test_anova_agrees_with_scipy_for_unequal_replicates():
    rng = np.random.default_rng(2)
    cells = [300 + 5 * rng.standard_normal() + 2 * rng.standard_normal(n) for n in (2, 3, 5, 4, 2)]
    got = ring_precision(np.repeat(list("abcde"), [2, 3, 5, 4, 2]), np.concatenate(cells))
    f, _ = stats.f_oneway(*cells)
    n = np.array([2, 3, 5, 4, 2])
    n_bar = (16 - (n * n).sum() / 16) / 4
    assert got.s_lab**2 == pytest.approx((f - 1) * got.s_r**2 / n_bar, rel=1e-9)


def test_common_offset_costs_no_digits():
    """Variance parts of data with twelve leading digits equal those of the same data without them."""
    rng = np.random.default_rng(3)
    small = np.round(rng.standard_normal(20), 3)
    lab = np.repeat(list("abcde"), 4)
    near = ring_precision(lab, small)
    far = ring_precision(lab, 1e9 + small)
    assert (far.s_r, far.s_R) == pytest.approx((near.s_r, near.s_R), rel=1e-6)


def test_robust_estimates_move_and_stretch_with_the_data():
    rng = np.random.default_rng(4)
    x = rng.standard_t(3, 40)
    for f in (algorithm_a, q_hampel):
        a, b = f(x), f(10.0 - 3.0 * x)
        assert b.location == pytest.approx(10.0 - 3.0 * a.location, rel=1e-9)
        assert b.scale == pytest.approx(3.0 * a.scale, rel=1e-9)


def test_q_method_survives_forty_percent_of_wild_labs_and_uses_replicates():
    rng = np.random.default_rng(5)
    x = np.concatenate([300 + 5 * rng.standard_normal(30), 380 + 30 * rng.random(20)])
    got = q_hampel(x)
    assert got.location == pytest.approx(300.0, abs=4.0)
    assert got.scale < 15.0
    lab = np.repeat(np.arange(25), 2)
    assert q_scale(x, lab) > 0.0
    with pytest.raises(NoAnswer, match="robust-too-few"):
        q_scale([1.0, 2.0], ["a", "a"])
    with pytest.raises(NoAnswer, match="robust-all-equal"):
        q_hampel([1.0, 1.0, 1.0])
    with pytest.raises(NoAnswer, match="robust-too-few"):
        algorithm_a([1.0, 2.0])


def test_hampel_location_is_a_root_of_its_own_equation():
    rng = np.random.default_rng(6)
    x = rng.standard_t(2, 31)
    at = hampel_location(x, 0.9)
    q = (x - at) / 0.9
    psi = np.sign(q) * np.clip(np.minimum(np.abs(q), 4.5 - np.abs(q)), 0.0, 1.5)
    assert psi.sum() == pytest.approx(0.0, abs=1e-9)


def test_tests_without_spread_say_nothing():
    assert grubbs([1.0, 2.0]) is None
    assert grubbs([5.0, 5.0, 5.0]) is None
    assert cochran([0.0, 0.0]) is None
    assert cochran([1.0]) is None
    with pytest.raises(NoAnswer, match="homogeneity-items-few"):
        homogeneity([[1.0, 2.0]], 1.0)
