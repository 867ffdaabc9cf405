"""The three odds: their closed forms, their priors, their silence, each against simulation."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.decide.belief import GridBelief, Results, belief, thin_prior
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.limits import Limits
from lodestarch.decide.odds import LotState, Odds, Retest, Says, lot_states, odds
from lodestarch.decide.prior import FlatPrior, LnPrior, NormalPrior, SamplePrior
from lodestarch.decide.regression import regress
from lodestarch.method.reading import Kind

FLOOR = Limits(300.0)


def test_the_three_odds_of_one_load():
    got = odds(Results.of(310.0, 9.0), FLOOR, deciding=DecidingLab(12.0))
    assert got.p_true.p[0] == pytest.approx(0.86674, abs=1e-5)
    assert got.p_other_lab is not None
    assert got.p_other_lab.p[0] == pytest.approx(0.74751, abs=1e-5)
    rounded = odds(Results.of(310.0, 9.0), Limits(300.0, counts_from_s=299.5), deciding=DecidingLab(12.0))
    assert rounded.p_other_lab is not None
    assert rounded.p_other_lab.p[0] == pytest.approx(0.75804, abs=1e-5)
    assert rounded.p_true.p[0] == got.p_true.p[0]  # rounding is the report's, not the grain's


def test_reference_table_of_a_flat_prior():
    # Odds of a true value of 300 s and more: rows u, columns the result (derived).
    x = np.array([280, 285, 290, 294, 295, 298, 300, 305, 310, 315, 320], dtype=float)
    rows = {
        4.5: [0.000, 0.000, 0.013, 0.091, 0.133, 0.328, 0.500, 0.867, 0.987, 1.000, 1.000],
        9.0: [0.013, 0.048, 0.133, 0.252, 0.289, 0.412, 0.500, 0.711, 0.867, 0.952, 0.987],
        12.0: [0.048, 0.106, 0.202, 0.309, 0.338, 0.434, 0.500, 0.662, 0.798, 0.894, 0.952],
    }
    for u, expected in rows.items():
        np.testing.assert_allclose(odds(Results.of(x, u), FLOOR).p_true.p, expected, atol=5.1e-4)


def test_windows_split_into_within_under_and_over():
    got = odds(Results.of([240.0, 285.0, 215.0], 12.0), Limits(220.0, 280.0)).p_true
    np.testing.assert_allclose(got.p + got.under + got.over, 1.0)
    assert got.over[1] > got.under[1]
    assert lot_states(odds(Results.of([250.0, 330.0, 150.0, 285.0], 9.0), Limits(220.0, 280.0)).p_true) == (
        LotState.MAKES_IT, LotState.OVER, LotState.UNDER, LotState.TOO_CLOSE,
    )  # fmt: skip


def simulated(prior_draws, x, u, kind, rng) -> tuple[np.ndarray, np.ndarray]:
    """True values weighted by how well they explain the result, as draws with weights."""
    y = prior_draws + u * rng.standard_normal(prior_draws.size)
    keep = {Kind.EXACT: np.abs(y - x) < 0.25, Kind.ABOVE: y > x, Kind.AT_OR_BELOW: y <= x}[kind]
    return prior_draws[keep], y[keep]


@pytest.mark.parametrize("kind", [Kind.EXACT, Kind.ABOVE, Kind.AT_OR_BELOW])
@pytest.mark.parametrize("prior", [NormalPrior(320.0, 30.0), LnPrior(24.0, 4.0)])
def test_stated_priors_against_rejection(prior, kind):
    rng = np.random.default_rng(11)
    n = 2_000_000
    if isinstance(prior, NormalPrior):
        draws = rng.normal(prior.mean_s, prior.sd_s, n)
    else:
        ln = rng.normal(prior.mean_ln, prior.sd_ln, n)
        draws = 50.0 + 6000.0 / ln[ln > 0]
    x, u = 296.0, 9.0
    got = odds(Results.of(x, u, kind.value), FLOOR, prior=prior, deciding=DecidingLab(8.0, bias_s=3.0))
    true, _ = simulated(draws, x, u, kind, rng)
    error = 4.0 * 0.5 / np.sqrt(true.size)
    assert got.p_true.p[0] == pytest.approx((true >= 300.0).mean(), abs=error + 5e-4)
    other = true + 3.0 + 8.0 * rng.standard_normal(true.size)
    assert got.p_other_lab is not None
    assert got.p_other_lab.p[0] == pytest.approx((other >= 300.0).mean(), abs=error + 5e-4)
    assert float(got.belief.mean_s[0]) == pytest.approx(
        true.mean(), abs=5.0 * true.std() / np.sqrt(true.size) + 0.02
    )


def test_a_retest_that_shares_the_sample_is_simulated():
    rng = np.random.default_rng(5)
    n, shared, own, x = 3_000_000, 6.0, np.sqrt(81.0 - 36.0), 297.0
    truth = rng.normal(310.0, 20.0, n)
    common = shared * rng.standard_normal(n)
    first = truth + common + own * rng.standard_normal(n)
    again = truth + common + own * rng.standard_normal(n)
    keep = np.abs(first - x) < 0.25
    got = odds(Results.of(x, 9.0), FLOOR, prior=NormalPrior(310.0, 20.0), retest=Retest(None, shared))
    error = 4.0 * 0.5 / np.sqrt(keep.sum())
    assert got.p_same_lab.p[0] == pytest.approx((again[keep] >= 300.0).mean(), abs=error)
    flat = odds(Results.of(x, 9.0), FLOOR, retest=Retest(None, shared)).p_same_lab.p[0]
    by_hand = odds(Results.of(x, np.sqrt(2.0) * own), FLOOR).p_true.p[0]
    assert flat == pytest.approx(by_hand, rel=1e-12)


def test_grid_and_closed_form_agree():
    x = np.linspace(200.0, 400.0, 41)
    prior = NormalPrior(310.0, 25.0)
    closed = odds(Results.of(x, 7.0), Limits(300.025, counts_from_s=300.0), prior=prior)
    values = np.linspace(150.0, 470.0, 6401)
    grid = SamplePrior(values, np.exp(-0.5 * ((values - 310.0) / 25.0) ** 2))
    # Points stand for cells of 0.05 s: the floor is laid between two of them.
    by_points = odds(Results.of(x, 7.0), Limits(300.025, counts_from_s=300.0), prior=grid)
    np.testing.assert_allclose(by_points.p_true.p, closed.p_true.p, atol=1e-5)
    np.testing.assert_allclose(by_points.p_same_lab.p, closed.p_same_lab.p, atol=1e-5)
    np.testing.assert_allclose(by_points.belief.sd_s, closed.belief.sd_s, rtol=1e-5)


def test_a_small_u_and_a_narrow_prior_do_not_fall_between_points():
    narrow = belief(Results.of(305.0, 20.0, Kind.ABOVE.value), NormalPrior(300.0, 0.2))
    assert isinstance(narrow, GridBelief)
    assert narrow.mean_s[0] == pytest.approx(300.0, abs=0.01)
    assert narrow.sd_s[0] == pytest.approx(0.2, rel=0.01)
    sharp = belief(Results.of(305.0, 0.05), LnPrior(24.0, 8.0))
    assert sharp.mean_s[0] == pytest.approx(305.0, abs=1e-3)
    assert sharp.sd_s[0] == pytest.approx(0.05, rel=1e-3)


@pytest.mark.parametrize(
    ("value", "kind", "limits", "says"),
    [
        (280.0, Kind.ABOVE, FLOOR, Says.NOT_EVALUATED),
        (400.0, Kind.ABOVE, FLOOR, Says.AT_LEAST),
        (62.0, Kind.AT_OR_BELOW, FLOOR, Says.AT_MOST),
        (310.0, Kind.AT_OR_BELOW, FLOOR, Says.NOT_EVALUATED),
        (400.0, Kind.ABOVE, Limits(220.0, 280.0), Says.AT_MOST),
        (250.0, Kind.ABOVE, Limits(220.0, 280.0), Says.NOT_EVALUATED),
        (62.0, Kind.AT_OR_BELOW, Limits(None, 280.0), Says.AT_LEAST),
    ],
)
def test_what_a_censored_result_says_under_a_flat_prior(value, kind, limits, says):
    got = odds(Results.of(value, 9.0, kind.value), limits).p_true
    assert got.says[0] == says.value
    assert np.isnan(got.p[0]) == (says is Says.NOT_EVALUATED)
    stated = odds(Results.of(value, 9.0, kind.value), limits, prior=NormalPrior(320.0, 40.0)).p_true
    assert stated.says[0] == Says.EXACT.value
    if says is Says.AT_LEAST:
        assert stated.p[0] >= got.p[0] - 1e-9
    if says is Says.AT_MOST:
        assert stated.p[0] <= got.p[0] + 1e-9


def test_states_of_bounds():
    got = odds(Results.of([400.0, 302.0, 280.0, 62.0], 9.0, [2, 2, 2, 1]), FLOOR).p_true
    assert lot_states(got) == (
        LotState.MAKES_IT, LotState.NOT_EVALUATED, LotState.NOT_EVALUATED, LotState.UNDER,
    )  # fmt: skip


def test_a_thin_sample_is_told():
    prior = SamplePrior(np.array([250.0, 310.0, 400.0]), np.ones(3))
    assert thin_prior(belief(Results.of(300.0, 9.0), prior))[0]
    assert not thin_prior(belief(Results.of(300.0, 9.0), FlatPrior()))[0]


def test_regression_to_the_mean_table():
    # Prior mean 320, observed 290, u 9 s: prior sd, results, k, prediction, sd (derived).
    for sd, n, k, prediction, left in [
        (30, 1, 0.9174, 292.5, 8.62), (30, 2, 0.9569, 291.3, 6.23),
        (15, 1, 0.7353, 297.9, 7.72), (15, 2, 0.8475, 294.6, 5.86),
    ]:  # fmt: skip
        got = regress(290.0, 9.0, 320.0, float(sd), n)
        assert float(got.k) == pytest.approx(k, abs=5e-5)
        assert float(got.prediction_s) == pytest.approx(prediction, abs=0.051)
        assert float(got.rise_s) == pytest.approx(float(got.prediction_s) - 290.0)
        assert float(got.sd_s) == pytest.approx(left, abs=5e-3)


def test_an_honest_retest_of_near_misses_rises_as_computed():
    rng = np.random.default_rng(2)
    truth = rng.normal(320.0, 30.0, 2_000_000)
    first, again = (truth + 9.0 * rng.standard_normal(truth.size) for _ in range(2))
    near = np.abs(first - 290.0) < 0.5
    rise = (again - first)[near]
    expected = float(regress(290.0, 9.0, 320.0, 30.0).rise_s)
    assert rise.mean() == pytest.approx(expected, abs=4 * rise.std() / np.sqrt(rise.size))


@pytest.mark.parametrize(
    ("make", "error"),
    [
        (Limits, NoAnswer),
        (lambda: Limits(300.0, 280.0), NoAnswer),
        (lambda: Results.of(310.0, 0.0), OutOfRange),
        (lambda: Results.of(np.nan, 9.0), OutOfRange),
        (lambda: odds(Results.of(310.0, 9.0), FLOOR, retest=Retest(None, 10.0)), OutOfRange),
        (lambda: Retest(-1.0), OutOfRange),
        (lambda: DecidingLab(-1.0), OutOfRange),
        (lambda: DecidingLab(9.0, bias_s=np.inf), OutOfRange),
        (lambda: NormalPrior(300.0, 0.0), OutOfRange),
        (lambda: LnPrior(-1.0, 1.0), OutOfRange),
        (lambda: SamplePrior(np.array([300.0]), np.zeros(1)), NoAnswer),
    ],
)
def test_what_makes_no_sense_is_refused(make, error):
    with pytest.raises(error):
        make()


def test_odds_of_nothing_known_of_the_other_lab():
    got = odds(Results.of(310.0, 9.0), FLOOR)
    assert isinstance(got, Odds)
    assert got.p_other_lab is None
