"""Nested variance components: against analysis of variance, a dense oracle, statsmodels, and awkward data."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from lodestarch.common.errors import LodestarchError
from lodestarch.precision.components import fit_components
from lodestarch.precision.nesting import nest
from lodestarch.precision.reml import fit_reml, reml_deviance


def unbalanced(rng, probes=12, sd=(5.0, 3.0, 6.0)):
    rows = []
    for p in range(probes):
        a = sd[0] * rng.standard_normal()
        for g in range(rng.integers(1, 4)):
            b = sd[1] * rng.standard_normal()
            rows += [(p, g, 300.0 + a + b + sd[2] * rng.standard_normal()) for _ in range(rng.integers(1, 4))]
    p, g, y = (np.array(c) for c in zip(*rows, strict=True))
    return p.astype(int), g.astype(int), y


def dense_deviance(p, g, y, variances):
    probe = (p[:, None] == p).astype(float)
    grind = probe * (g[:, None] == g)
    v = variances[0] * probe + variances[1] * grind + variances[2] * np.eye(y.size)
    inverse = np.linalg.inv(v)
    one = np.ones(y.size)
    info = one @ inverse @ one
    mean = (one @ inverse @ y) / info
    r = y - mean
    log_det = np.linalg.slogdet(v)[1]
    return log_det + math.log(info) + r @ inverse @ r + (y.size - 1) * math.log(2 * math.pi)


def test_one_sweep_is_the_dense_restricted_likelihood_with_its_gradient():
    rng = np.random.default_rng(1)
    p, g, y = unbalanced(rng)
    tree = nest(y, [p, g], ["probe", "grind"])
    for v in ([20.0, 5.0, 30.0], [0.0, 0.0, 10.0], [1e-3, 400.0, 2.0]):
        value, gradient = reml_deviance(tree, np.array(v))
        assert value == pytest.approx(dense_deviance(p, g, y, v), rel=1e-10)
        for i in range(3):
            h = 1e-4 * max(v[i], 1.0)
            up, down = (np.array(v) + s * h * np.eye(3)[i] for s in (1.0, -1.0))
            if v[i] > 0.0:
                slope = (dense_deviance(p, g, y, up) - dense_deviance(p, g, y, down)) / (2 * h)
                assert gradient[i] == pytest.approx(slope, rel=1e-4, abs=1e-5)


def test_unbalanced_nested_estimates_agree_with_statsmodels():
    p, g, y = unbalanced(np.random.default_rng(0))
    frame = pd.DataFrame({"y": y, "p": p, "g": [f"{a}-{b}" for a, b in zip(p, g, strict=True)]})
    model = smf.mixedlm("y ~ 1", frame, groups="p", vc_formula={"g": "0 + C(g)"}, re_formula="1")
    oracle = model.fit(reml=True, method=["lbfgs"])
    got = fit_components(y, [p, g], ["probe", "grind"])
    probe, grind, residual = (c.variance for c in got.components)
    assert probe == pytest.approx(float(oracle.cov_re.iloc[0, 0]), rel=1e-3)
    assert grind == pytest.approx(float(oracle.vcomp[0]), rel=1e-3)
    assert residual == pytest.approx(float(oracle.scale), rel=1e-4)
    assert got.deviance <= -2 * oracle.llf + 1e-7
    assert got.mean == pytest.approx(float(oracle.params["Intercept"]), rel=1e-6)


def test_balanced_three_level_estimates_are_those_of_analysis_of_variance():
    rng = np.random.default_rng(5)
    a, b, n = 8, 3, 2
    top, mid = 6.0 * rng.standard_normal((a, 1, 1)), 4.0 * rng.standard_normal((a, b, 1))
    y = 300.0 + top + mid + 5.0 * rng.standard_normal((a, b, n))
    within = ((y - y.mean(2, keepdims=True)) ** 2).sum() / (a * b * (n - 1))
    middle = n * ((y.mean(2) - y.mean((1, 2))[:, None]) ** 2).sum() / (a * (b - 1))
    upper = b * n * ((y.mean((1, 2)) - y.mean()) ** 2).sum() / (a - 1)
    expected = ((upper - middle) / (b * n), (middle - within) / n, within)
    assert min(expected) > 0.0
    i, j, _ = np.indices(y.shape)
    got = fit_components(y.ravel(), [i.ravel(), j.ravel()], ["probe", "grind"])
    assert [c.variance for c in got.components] == pytest.approx(expected, rel=1e-6)
    assert sum(c.share for c in got.components) == pytest.approx(1.0)


def test_residual_interval_is_near_the_chi_square_one_and_zero_is_inside_when_it_should_be():
    rng = np.random.default_rng(6)
    batch = np.repeat(np.arange(40), 5)
    y = 300.0 + 4.0 * rng.standard_normal(200)
    got = fit_components(y, [batch], ["batch"])
    between, residual = got.components
    assert between.low_sd == 0.0
    assert between.high_sd is not None
    assert between.high_sd < 3.0
    assert (residual.low_sd, residual.high_sd) == pytest.approx(
        (residual.sd * 0.906, residual.sd * 1.113), rel=0.015
    )
    assert residual.dof == pytest.approx(180.0, rel=0.15)


def test_a_component_at_zero_says_so():
    y = np.array([10.0, 14.0, 10.1, 13.9, 10.2, 14.1, 9.9, 14.0])  # means agree better than values
    got = fit_components(y, [np.repeat(np.arange(4), 2)], ["batch"])
    assert got.components[0].variance == 0.0
    assert got.components[0].dof is None
    assert {f.code for f in got.findings} == {"component-at-zero", "component-nodes-few"}


@pytest.mark.parametrize(
    ("values", "factor", "code"),
    [
        ([300.0, 301.0], ["a", "b"], "component-values-few"),
        ([300.0] * 6, ["a", "a", "b", "b", "c", "c"], "component-values-equal"),
        ([300.0, 310.0, 290.0], ["a", "b", "c"], "component-not-separable"),
        ([math.nan] * 4, ["a", "a", "b", "b"], "component-values-few"),
        ([300.0, 300.0, 310.0, 310.0, 290.0, 290.0], list("aabbcc"), "component-no-residual"),
    ],
)
def test_awkward_data_give_findings(values, factor, code):
    got = fit_components(values, [factor], ["lab"])
    assert code in [f.code for f in got.findings]
    assert got.components == ()
    assert got.mean is None


def test_one_node_gives_a_residual_and_says_that_the_factor_is_hardly_known():
    got = fit_components([300.0, 304.0, 298.0, 305.0], [["a"] * 4], ["lab"])
    assert got.components[0].nodes == 1
    assert "component-nodes-few" in [f.code for f in got.findings]
    assert math.isfinite(got.components[1].sd)


def test_missing_values_are_named_and_left_out():
    y = [300.0, math.nan, 304.0, 310.0, 311.0, 290.0]
    got = fit_components(y, [["a", "a", "a", "b", "b", "b"]], ["lab"])
    assert got.n == 5
    assert got.findings[0].code == "component-value-missing"
    assert got.findings[0].where.row == 2


def test_labels_count_within_their_outer_factor():
    y = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 9.0]
    same = fit_reml(nest(y, [[1, 1, 1, 1, 2, 2, 2, 2], [1, 1, 2, 2, 1, 1, 2, 2]]))
    distinct = fit_reml(nest(y, [[1, 1, 1, 1, 2, 2, 2, 2], list("aabbccdd")]))
    assert same.variances == pytest.approx(distinct.variances)


def test_columns_of_different_length_are_a_programming_error():
    with pytest.raises(LodestarchError):
        nest([1.0, 2.0], [["a"]])
    with pytest.raises(LodestarchError):
        nest([1.0, 2.0], [])


def test_intervals_of_a_between_component_cover_near_their_content():
    """120 simulated labs, 8 batches of 3: profile intervals are a little short, not badly so."""
    rng = np.random.default_rng(7)
    batch = np.repeat(np.arange(8), 3)
    hits = 0
    for _ in range(120):
        y = 300.0 + 6.0 * rng.standard_normal(8)[batch] + 4.0 * rng.standard_normal(24)
        c = fit_components(y, [batch], ["batch"]).components[0]
        hits += c.low_sd <= 6.0 <= (c.high_sd or math.inf)
    assert 104 <= hits <= 120
