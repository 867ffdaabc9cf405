"""Crossed effects: likelihood, estimates, intervals, and what happens where data tell nothing."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.common.findings import Severity
from lodestarch.season.censored import fit_censored
from lodestarch.season.effects import compare_scales, fit_effects
from lodestarch.season.equations import equations
from lodestarch.season.ratings import rate
from lodestarch.season.reml import evaluate, fit_variances
from lodestarch.season.scale import Scale
from lodestarch.season.table import Factor, factor_of, table_of


def factor(name, codes, size):
    return Factor(name, np.asarray(codes, dtype=np.int64), tuple(f"{i:05d}" for i in range(size)))


def crossed(rng, n=400, sizes=(12, 25), sds=(30.0, 15.0), residual=20.0, mean=280.0):
    codes = [rng.integers(0, q, n) for q in sizes]
    y = mean + sum(rng.normal(0.0, s, q)[c] for s, q, c in zip(sds, sizes, codes, strict=True))
    y = y + rng.normal(0.0, residual, n)
    return y, [factor(f"f{i}", c, q) for i, (c, q) in enumerate(zip(codes, sizes, strict=True))]


def brute_deviance(y, factors, variances):
    """Restricted likelihood from the whole covariance matrix: the definition, term by term."""
    n = y.size
    v = variances[-1] * np.eye(n)
    for f, s in zip(factors, variances, strict=False):
        z = np.eye(f.size)[f.codes]
        v += s * z @ z.T
    x = np.ones((n, 1))
    inverse = np.linalg.inv(v)
    information = x.T @ inverse @ x
    beta = np.linalg.solve(information, x.T @ inverse @ y)
    r = y - x @ beta
    log_det = np.linalg.slogdet(v)[1] + np.linalg.slogdet(information)[1]
    return (n - 1) * np.log(2 * np.pi) + log_det + float((r @ inverse @ r).item())


def test_the_restricted_likelihood_is_that_of_the_whole_covariance_matrix():
    y, factors = crossed(np.random.default_rng(1), n=150, sizes=(6, 9, 4), sds=(30.0, 15.0, 5.0))
    y = y - y.mean()
    eq = equations([f.codes for f in factors], [f.size for f in factors], y)
    for variances in ([900.0, 225.0, 25.0, 400.0], [1.0, 2000.0, 1e-3, 90.0]):
        got = evaluate(eq, np.array(variances))
        assert brute_deviance(y, factors, variances) == pytest.approx(got.deviance, rel=1e-9)
        for k, v in enumerate(variances):
            up, down = np.array(variances), np.array(variances)
            up[k], down[k] = v * (1 + 1e-5), v * (1 - 1e-5)
            slope = (evaluate(eq, up).deviance - evaluate(eq, down).deviance) / (2e-5 * v)
            assert slope == pytest.approx(got.gradient[k], rel=1e-3, abs=1e-6)


def test_sparse_and_dense_counts_give_the_same_likelihood():
    rng = np.random.default_rng(2)
    n, q = 900, 700
    codes = [rng.integers(0, q, n), rng.integers(0, 40, n)]
    y = rng.normal(0.0, 1.0, n)
    thin = equations(codes, [q, 40], y)
    assert not isinstance(thin.block, np.ndarray)
    thick = equations(codes, [q, 40], y, large=1)
    at = np.array([0.4, 0.3, 0.8])
    a, b = evaluate(thin, at), evaluate(thick, at)
    assert a.deviance == pytest.approx(b.deviance, rel=1e-10)
    assert a.gradient == pytest.approx(b.gradient, rel=1e-7)
    assert a.curvature == pytest.approx(b.curvature, rel=1e-7)


def test_the_best_is_where_the_slope_is_nothing_whatever_is_eliminated():
    y, factors = crossed(np.random.default_rng(3))
    codes, sizes = [f.codes for f in factors], [f.size for f in factors]
    one, two = (fit_variances(equations(codes, sizes, y - y.mean(), large=k)) for k in (0, 1))
    assert one.variances == pytest.approx(two.variances, rel=1e-6)
    assert np.abs(one.gradient * one.variances).max() < 1e-3


def test_intervals_cover_the_truth_about_as_often_as_they_say():
    rng = np.random.default_rng(4)
    truth = np.array([30.0, 15.0, 20.0])
    shares = truth**2 / (truth**2).sum()
    runs, hits_sd, hits_share = 60, np.zeros(3), np.zeros(3)
    for _ in range(runs):
        y, factors = crossed(rng, n=240)
        e = fit_effects(table_of(y, factors, floor_s=None), probability=0.9)
        for k, x in enumerate(e.effects):
            low, high = x.sd_ends[0] or 0.0, x.sd_ends[1] or np.inf
            hits_sd[k] += low <= truth[k] <= high
            hits_share[k] += (x.share_ends[0] or 0.0) <= shares[k] <= (x.share_ends[1] or 1.0)
    # 60 draws of 90 %: below 47 or at 60 of 60 in one of six cells by chance less than once in a hundred
    assert (hits_sd >= 46).all(), hits_sd
    assert (hits_share >= 46).all(), hits_share
    assert hits_sd.sum() + hits_share.sum() < 6 * runs


def test_the_censored_fit_finds_the_truth_where_bounds_mislead_the_plain_one():
    rng = np.random.default_rng(5)
    ours, plain = [], []
    for _ in range(15):
        year = np.repeat(np.arange(20), 30)
        y = 200.0 + rng.normal(0.0, 80.0, 20)[year] + rng.normal(0.0, 40.0, year.size)
        low = y <= 150.0
        t = table_of(np.maximum(y, 150.0), [factor("year", year, 20)], kind=low.astype(int), floor_s=None)
        c = fit_censored(t)
        ours.append((c.mean, *c.sds))
        e = fit_effects(t, intervals=False)
        plain.append((e.mean, *(x.sd for x in e.effects)))
    ours, plain = np.array(ours), np.array(plain)
    error = ours.std(axis=0, ddof=1) / np.sqrt(15)
    assert np.abs(ours.mean(axis=0) - [200.0, 80.0, 40.0]) == pytest.approx([0.0] * 3, abs=3.2 * error.max())
    assert abs(ours[:, 2].mean() - 40.0) < 1.0
    assert plain[:, 0].mean() > 210.0
    assert plain[:, 2].mean() < 35.0


def test_without_bounds_the_censored_fit_is_the_plain_one():
    y, factors = crossed(np.random.default_rng(6))
    t = table_of(y, factors, floor_s=None)
    c, e = fit_censored(t), fit_effects(t, intervals=False)
    assert c.deviance == pytest.approx(e.deviance, abs=1e-5)
    assert c.sds == pytest.approx([x.sd for x in e.effects], rel=1e-3)


def test_stopped_readings_bound_from_above_and_turn_on_the_falling_scale():
    rng = np.random.default_rng(7)
    year = np.repeat(np.arange(12), 30)
    y = 350.0 + rng.normal(0.0, 40.0, 12)[year] + rng.normal(0.0, 30.0, year.size)
    kind = np.where(y > 400.0, 2, 0)
    t = table_of(np.minimum(y, 400.0), [factor("year", year, 12)], kind=kind)
    assert abs(fit_censored(t).mean - 350.0) < 3 * 40.0 / np.sqrt(12)
    assert fit_effects(t, intervals=False).mean < fit_censored(t).mean
    falling = fit_censored(t, Scale.LIQUEFACTION)
    naive = fit_effects(table_of(t.seconds_s, t.factors), Scale.LIQUEFACTION, intervals=False)
    assert falling.mean < naive.mean  # a stopped tube has a liquefaction number of at most that of its stop


def test_the_scale_on_which_the_data_were_made_suits_best():
    rng = np.random.default_rng(8)
    year = np.repeat(np.arange(15), 40)
    noise = rng.normal(0.0, 0.5, 15)[year] + rng.normal(0.0, 0.3, year.size)
    made = {
        Scale.LOG: np.exp(5.5 + 0.6 * noise),
        Scale.LIQUEFACTION: 50.0 + 6000.0 / (40.0 + 8.0 * noise),
        Scale.SECONDS: 300.0 + 60.0 * noise,
    }
    for scale, seconds in made.items():
        fits = compare_scales(table_of(seconds, [factor("year", year, 15)], floor_s=None))
        assert fits[0].scale is scale


def codes_of(e):
    return {f.code: f.severity for f in e.findings}


def test_one_variety_only_is_told_and_the_rest_is_answered():
    y, factors = crossed(np.random.default_rng(9))
    one = factor_of("variety", ["A"] * y.size)
    e = fit_effects(table_of(y, [one, *factors], floor_s=None), intervals=False)
    assert codes_of(e)["season-one-level"] is Severity.CHECK
    assert [x.name for x in e.effects] == ["f0", "f1", "residual"]


def test_one_year_only_with_nothing_else_has_no_answer():
    e = fit_effects(table_of([300.0, 310.0, 280.0, 260.0], [factor_of("year", ["2000"] * 4)]))
    assert e.mean is None
    assert {"season-one-level", "season-no-factor"} <= set(codes_of(e))


def test_all_at_the_floor_has_no_answer():
    e = fit_effects(table_of([62.0] * 40, [factor_of("year", ["a", "b"] * 20)]))
    assert e.mean is None
    assert codes_of(e)["season-all-bounds"] is Severity.STOP


def test_a_hundred_thousand_levels_of_one_plot_each_are_told_and_left_out():
    n = 100_000
    rng = np.random.default_rng(10)
    year = rng.integers(0, 8, n)
    y = 300.0 + rng.normal(0.0, 30.0, 8)[year] + rng.normal(0.0, 20.0, n)
    e = fit_effects(table_of(y, [factor("plot", np.arange(n), n), factor("year", year, 8)]), intervals=False)
    assert codes_of(e)["season-level-each-row"] is Severity.CHECK
    assert e.effects[-1].sd == pytest.approx(20.0, rel=0.02)
    alone = fit_effects(table_of(y, [factor("plot", np.arange(n), n)]), intervals=False)
    assert alone.mean is None
    assert codes_of(alone)["season-no-factor"] is Severity.STOP


def test_factors_that_say_the_same_and_levels_that_are_missing():
    y, factors = crossed(np.random.default_rng(11))
    twin = Factor("twin", factors[0].codes, factors[0].labels)
    holed = Factor("holed", np.where(np.arange(y.size) < 7, -1, factors[1].codes), factors[1].labels)
    e = fit_effects(table_of(y, [factors[0], twin, holed]), intervals=False)
    assert codes_of(e)["season-factors-alike"] is Severity.CHECK
    assert codes_of(e)["season-level-missing"] is Severity.CHECK
    assert e.table.n == y.size - 7


def test_results_fully_explained_have_no_shares():
    label = [a for a in "abcdef" for _ in range(3)]
    y = [200.0 + 10 * "abcdef".index(a) for a in label]
    e = fit_effects(table_of(y, [factor_of("x", label)]))
    assert e.mean is None
    assert "season-no-residual" in codes_of(e)


def test_changing_the_order_of_rows_and_the_names_of_levels_changes_nothing():
    y, factors = crossed(np.random.default_rng(12))
    order = np.random.default_rng(0).permutation(y.size)
    a = fit_effects(table_of(y, factors, floor_s=None))
    b = fit_effects(table_of(y, factors, floor_s=None).at(order))
    assert [x.sd for x in a.effects] == pytest.approx([x.sd for x in b.effects], rel=1e-6)
    assert a.effects[0].share_ends == pytest.approx(b.effects[0].share_ends, rel=1e-2)


def test_ratings_shrink_count_their_trials_and_never_rate_one():
    rng = np.random.default_rng(13)
    y, factors = crossed(rng, n=130, sizes=(12, 25, 5), sds=(15.0, 25.0, 25.0), residual=40.0)
    lone = factors[0].codes.copy()
    lone[:3] = 12  # a thirteenth variety, met at one place in one year
    place, year = factors[1].codes.copy(), factors[2].codes.copy()
    place[:3], year[:3] = 0, 0
    fs = [factor("variety", lone, 13), factor("origin", place, 25), factor("year", year, 5)]
    e = fit_effects(table_of(y, fs, floor_s=None), intervals=False)
    r = rate(e, "variety", limit_s=280.0, year="year")
    last = r.lines[-1]
    assert (last.level, last.rated, last.results, last.trials) == ("00012", False, 3, 1)
    assert last.estimate_s is last.below is last.reliability is None
    assert [f.code for f in r.findings] == ["season-rating-one-trial"]
    rated = r.lines[:-1]
    estimates = [x.estimate_s for x in rated]
    assert estimates == sorted(estimates, reverse=True)
    plain = np.array([x.mean_s for x in rated])
    assert np.std(estimates) < np.std(plain)
    assert all(0.0 < x.reliability < 1.0 and x.low_s < x.estimate_s < x.high_s for x in rated)
    assert [x.below for x in rated] == sorted(x.below for x in rated)
    assert all(2 <= x.seasons <= 5 and x.trials <= x.results for x in rated)


def test_estimates_and_their_errors_are_those_of_the_whole_covariance_matrix():
    y, factors = crossed(np.random.default_rng(14), n=120, sizes=(6, 9))
    e = fit_effects(table_of(y, factors, floor_s=None), intervals=False)
    v = [x.variance for x in e.effects]
    z = [np.eye(f.size)[f.codes] for f in factors]
    whole = v[-1] * np.eye(y.size) + sum(s * m @ m.T for s, m in zip(v, z, strict=False))
    inverse = np.linalg.inv(whole)
    x = np.ones((y.size, 1))
    p = inverse - inverse @ x @ np.linalg.solve(x.T @ inverse @ x, x.T @ inverse)
    for k in (0, 1):
        assert v[k] * z[k].T @ p @ y == pytest.approx(e.solution(k), rel=1e-5, abs=1e-6)
        left = v[k] * np.eye(factors[k].size) - v[k] ** 2 * z[k].T @ p @ z[k]
        lines = {r.level: r for r in rate(e, f"f{k}", limit_s=250.0).lines}
        u = [lines[label].u_effect for label in factors[k].labels]
        assert np.sqrt(np.diagonal(left)) == pytest.approx(u, rel=1e-5)


def test_a_next_result_falls_below_the_limit_as_often_as_a_rating_says():
    rng = np.random.default_rng(15)
    said, met = [], []
    for _ in range(60):
        effect = rng.normal(0.0, 25.0, 10)
        v, p = np.repeat(np.arange(10), 12), rng.integers(0, 15, 120)
        y = 280.0 + effect[v] + rng.normal(0.0, 20.0, 15)[p] + rng.normal(0.0, 25.0, 120)
        fs = [factor("v", v, 10), factor("p", p, 15)]
        r = rate(fit_effects(table_of(y, fs, floor_s=None), intervals=False), "v", limit_s=270.0)
        for line in r.lines:
            nxt = 280.0 + effect[int(line.level)] + rng.normal(0.0, np.hypot(20.0, 25.0))
            said.append(line.below)
            met.append(nxt < 270.0)
    said, met = np.array(said), np.array(met)
    for part in np.array_split(np.argsort(said), 4):
        # 150 outcomes a part: one standard error is at most 4 points
        assert met[part].mean() == pytest.approx(said[part].mean(), abs=0.12)
