"""Plans of probes, grinds and tubes; few hot kernels or many."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.precision.kernels import (
    check_spread,
    effective_number,
    fundamental_cv,
    hot_kernels,
    kernel_cv,
    one_hot_kernel_fn,
)
from lodestarch.precision.sampling_plan import Costs, SpreadOf, cheapest_plan


@pytest.mark.parametrize("target", [3.0, 5.0, 8.0])
def test_the_cheapest_plan_is_the_cheapest_of_all_that_reach_the_target(target):
    spread, costs = SpreadOf(7.0, 3.0, 6.0, 1.0), Costs(1.0, 6.0, 4.0)
    answer = cheapest_plan(spread, costs, target)
    reach = []
    for p, g, t in itertools.product(range(1, 21), range(1, 7), range(1, 5)):
        u = math.sqrt(49.0 / p + 9.0 / g + 36.0 / (g * t) + 1.0)
        if u <= target * (1 + 1e-12):
            reach.append(p + 6.0 * g + 4.0 * g * t)
    assert answer.reached
    assert answer.best.cost == pytest.approx(min(reach))
    assert answer.best.u_s <= target * (1 + 1e-9)
    pairs = list(itertools.pairwise(answer.frontier))
    assert all(a.cost <= b.cost and a.u_s > b.u_s for a, b in pairs)


def test_a_target_below_what_no_repeat_averages_out_is_said_to_be_out_of_reach():
    answer = cheapest_plan(SpreadOf(7.0, 3.0, 6.0, 5.0), Costs(1.0, 1.0, 1.0), 4.0)
    assert not answer.reached
    assert answer.least_u_s > 5.0
    assert [f.code for f in answer.findings] == ["plan-target-out-of-reach"]


def test_impossible_spreads_costs_and_targets_are_refused():
    with pytest.raises(OutOfRange):
        SpreadOf(-1.0, 0.0, 0.0)
    with pytest.raises(OutOfRange):
        Costs(1.0, math.nan, 1.0)
    with pytest.raises(OutOfRange):
        cheapest_plan(SpreadOf(1.0, 1.0, 1.0), Costs(1.0, 1.0, 1.0), 0.0)


@pytest.mark.parametrize(
    ("base", "n", "expected"),
    [
        (350.0, 200, (337.1, 250.7, 100.0, 61.5)),
        (350.0, 7500, (349.6, 346.1, 314.7, 230.0)),
        (400.0, 7500, (399.6, 395.4, 358.9, 260.0)),
    ],
)
def test_one_hot_kernel_derived_table(base, n, expected):
    got = [one_hot_kernel_fn(base, n, r) for r in (10.0, 100.0, 1000.0, 5000.0)]
    assert got == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    ("ratio", "number", "expected"),
    [
        (100.0, 3.0, (0.226, 386.7, 386.8, 7.3)),
        (100.0, 30.0, (0.226, 300.7, 301.4, 13.0)),
        (1000.0, 1.0, (2.283, 358.9, 362.8, 33.9)),
        (1000.0, 10.0, (2.283, 200.1, 205.2, 29.2)),
    ],
)
def test_poisson_hot_kernels_derived_table(ratio, number, expected):
    h = hot_kernels(400.0, number, 7500, ratio)
    assert (h.ln_per_kernel, h.fn_at_mean_s, h.mean_fn_s, h.sd_fn_s) == pytest.approx(expected, abs=0.06)
    assert h.p_none == pytest.approx(math.exp(-number))


def test_effective_numbers_derived():
    got = [effective_number(400.0, 300.0, math.sqrt(v)) for v in (50.0, 24.0, 10.0)]
    assert got == pytest.approx([102, 213, 510], abs=1.0)
    got = [effective_number(450.0, 300.0, math.sqrt(v)) for v in (50.0, 24.0, 10.0)]
    assert got == pytest.approx([176, 366, 879], abs=1.0)


def test_fundamental_error_of_drawn_kernels():
    rng = np.random.default_rng(1)
    share, ratio, n = 0.02, 50.0, 500
    hot = rng.binomial(n, share, 40_000)
    means = (hot * ratio + (n - hot)) / n
    simulated = means.std() / means.mean()
    assert fundamental_cv(kernel_cv(share, ratio), n) == pytest.approx(simulated, rel=0.02)
    assert fundamental_cv(1.0, 100, 100) == 0.0


def test_spread_of_few_hot_kernels_is_seen_and_its_number_comes_back():
    rng = np.random.default_rng(2)
    counts = rng.poisson(4.0, 40)
    ln = 6000.0 / 350.0 * (1.0 + counts * 999.0 / 7500.0)
    x = 50.0 + 6000.0 / ln + 3.0 * rng.standard_normal(40)
    got = check_spread(x, 3.0, sound_fn_s=400.0)
    assert got.verdict == "more-than-expected"
    assert got.many == pytest.approx(4.0, rel=0.6)


def test_spread_as_the_bench_explains_it_is_called_so_and_two_subsamples_cannot_tell():
    rng = np.random.default_rng(3)
    assert check_spread(300.0 + 5.0 * rng.standard_normal(30), 5.0).verdict == "as-expected"
    two = check_spread([300.0, 307.0], 5.0)
    assert two.verdict == "cannot-tell"
    assert [f.code for f in two.findings] == ["spread-subsamples-few"]
    with pytest.raises(NoAnswer, match="spread-subsamples-missing"):
        check_spread([300.0, math.nan], 5.0)
    assert check_spread([300.0, 300.0, 300.0], 5.0).ratio == 0.0


def test_arguments_out_of_range_are_refused():
    for call in (
        lambda: one_hot_kernel_fn(300.0, 0.5, 10.0),
        lambda: one_hot_kernel_fn(300.0, 100, 0.5),
        lambda: hot_kernels(300.0, -1.0, 100, 10.0),
        lambda: effective_number(300.0, 310.0, 5.0),
        lambda: effective_number(300.0, 290.0, 0.0),
        lambda: kernel_cv(1.5, 10.0),
        lambda: fundamental_cv(1.0, 10, 5),
        lambda: check_spread([300.0, 310.0], 0.0),
    ):
        with pytest.raises(OutOfRange):
            call()
