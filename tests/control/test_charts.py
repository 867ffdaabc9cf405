"""Charts, runs rules and run lengths: against simulation, and awkward data."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from lodestarch.common.errors import LodestarchError, NoAnswer, OutOfRange, UnknownName
from lodestarch.control.chart_constants import chart_constants, range_factor
from lodestarch.control.charts import Baseline, baseline_of, individuals, widened_factor
from lodestarch.control.memory_charts import cusum, ewma
from lodestarch.control.run_length import arl_cusum, arl_ewma, arl_rules, arl_shewhart
from lodestarch.control.runs_rules import RULES, runs_rules
from lodestarch.control.times import as_seconds


def test_widened_limits_keep_the_false_alarm_rate_with_few_values():
    """The 19th value against limits from 18: a new value lies outside in 0.27 %, not in 1 % as with 3 SD."""
    rng = np.random.default_rng(1)
    outside = plain = 0
    n, labs = 18, 60_000
    base = rng.standard_normal((labs, n))
    new = rng.standard_normal(labs)
    sd = np.abs(np.diff(base, axis=1)).mean(axis=1) / 1.128
    centre = base.mean(axis=1)
    factor = individuals(base[0]).factor
    outside = (np.abs(new - centre) > factor * sd).mean()
    plain = (np.abs(new - centre) > 3.0 * sd).mean()
    assert factor > 3.5
    assert 0.0014 < outside < 0.0034
    assert plain > 0.0075


def test_limits_narrow_to_three_sigma_as_the_baseline_grows():
    rng = np.random.default_rng(2)
    x = 300.0 + 5.0 * rng.standard_normal(2000)
    factors = [individuals(x[:n]).factor for n in (5, 10, 20, 50, 2000)]
    assert factors == sorted(factors, reverse=True)
    assert factors[-1] == pytest.approx(3.0, abs=0.02)
    assert widened_factor(Baseline(300.0, 5.0, None, math.inf, "given", centre_given=True)) == 3.0


def test_a_known_target_and_sd_are_used_as_given():
    chart = individuals([300.0, 304.0, 320.0], target=300.0, sd=5.0)
    assert chart.factor == 3.0
    assert chart.beyond == (2,)
    assert chart.z == pytest.approx((0.0, 0.8, 4.0))
    assert not chart.in_control


def test_the_baseline_sets_limits_for_what_follows():
    rng = np.random.default_rng(3)
    x = np.concatenate([300.0 + 4.0 * rng.standard_normal(25), [340.0]])
    chart = individuals(x, baseline=25)
    assert 25 in chart.beyond
    assert 25 in chart.range_beyond
    by_sd = baseline_of(x[:25], by="standard-deviation")
    assert by_sd.sd == pytest.approx(x[:25].std(ddof=1))
    assert by_sd.dof == 24.0


@pytest.mark.parametrize(
    "ask", [lambda: individuals([]), lambda: individuals([300.0]), lambda: individuals([math.nan] * 3)]
)
def test_too_few_values_have_no_chart(ask):
    with pytest.raises(NoAnswer, match="chart-values-few"):
        ask()


def test_equal_missing_and_negative_values():
    with pytest.raises(NoAnswer, match="chart-all-equal"):
        individuals([300.0] * 8)
    chart = individuals([300.0, math.nan, 304.0, -2.0, 301.0])
    assert [f.code for f in chart.findings] == [
        "chart-value-missing", "chart-value-negative", "chart-baseline-short",
    ]  # fmt: skip
    assert chart.findings[0].where.row == 2
    assert all(math.isfinite(v) for v in (*chart.z, chart.upper, chart.lower_widened))
    for call in (
        lambda: individuals([1.0, 2.0], baseline=1),
        lambda: baseline_of([1.0, 2.0], sd=0.0),
        lambda: ewma([1.0], centre=0.0, sd=1.0, weight=0.0),
        lambda: ewma([1.0], centre=0.0, sd=0.0),
        lambda: cusum([1.0], target=0.0),
        lambda: cusum([1.0], target=0.0, allowance=1.0, limit=0.0),
        lambda: cusum([1.0], target=0.0, sd=-1.0),
        lambda: chart_constants(1),
        lambda: range_factor(1),
        lambda: range_factor(3, 1.0),
    ):
        with pytest.raises(OutOfRange):
            call()


def test_ewma_and_cusum_agree_with_their_recursions():
    rng = np.random.default_rng(4)
    x = 300.0 + 5.0 * rng.standard_normal(60)
    e, hi, lo, es, his, los = 300.0, 0.0, 0.0, [], [], []
    for v in x:
        e = 0.2 * v + 0.8 * e
        hi, lo = max(0.0, hi + v - 302.5), max(0.0, lo + 297.5 - v)
        es.append(e), his.append(hi), los.append(lo)
    assert ewma(x, centre=300.0, sd=5.0).ewma == pytest.approx(es)
    chart = cusum(x, target=300.0, sd=5.0)
    assert chart.high == pytest.approx(his, abs=1e-9)
    assert chart.low == pytest.approx(los, abs=1e-9)
    assert (chart.allowance, chart.limit) == (2.5, 25.0)


def test_exact_ewma_limits_start_narrow_and_reach_the_asymptotic_ones():
    chart = ewma(np.full(100, 300.0), centre=300.0, sd=5.0, weight=0.2, exact=True)
    assert chart.upper_at[0] == pytest.approx(300.0 + 3.0 * 5.0 * 0.2)
    assert chart.upper_at[-1] == pytest.approx(chart.upper)
    assert ewma([], centre=300.0, sd=5.0).ewma == ()


def test_cusum_says_where_a_shift_is_likely_to_have_begun():
    x = [300.0] * 10 + [310.0] * 10
    chart = cusum(x, target=300.0, sd=5.0)
    assert chart.began == 10
    assert chart.beyond[0] == 13
    down = cusum([600.0 - v for v in x], target=300.0, sd=5.0)
    assert down.began == 10


@pytest.mark.parametrize(
    ("z", "expected"),
    [
        ([0.0, 3.1], [("1-3s", 1)]),
        ([2.1, 2.2], [("2-2s", 1)]),
        ([2.1, -2.2], []),
        ([1.1, 1.2, 1.3, 1.4], [("4-1s", 3)]),
        ([1.1, 1.2, -1.3, 1.4], []),
        ([0.1] * 10, [("10-x", 9)]),
        ([0.1] * 11, [("10-x", 9), ("10-x", 10)]),
        ([0.1] * 9 + [-0.1], []),
        ([], []),
    ],
)
def test_runs_rules_one_by_one(z, expected):
    assert [(s.rule, s.at) for s in runs_rules(z)] == expected


def test_r_4s_looks_within_a_run_only():
    z = [2.3, -2.4]
    assert [s.rule for s in runs_rules(z, run=[1, 1])] == ["R-4s"]
    assert runs_rules(z, run=[1, 2]) == ()
    assert runs_rules(z, run=[1, 1])[0].places == (0, 1)


def test_two_materials_are_looked_at_together_and_each_by_itself():
    run = [1, 1, 2, 2]
    control = ["low", "high"] * 2
    within = runs_rules([2.3, 0.1, 2.4, 0.0], run=run, control=control)
    assert [(s.rule, s.places) for s in within] == [("2-2s", (0, 2))]
    across = runs_rules([0.1, 2.3, 2.4, 0.0], run=run, control=control)
    assert [(s.rule, s.places) for s in across] == [("2-2s", (1, 2))]
    assert runs_rules([2.3, 0.1, 2.4, 0.0], run=run) == ()


def test_a_warning_rule_and_other_lengths_on_request():
    assert [s.rule for s in runs_rules([2.5], rules=["1-2s"])] == ["1-2s"]
    assert [s.at for s in runs_rules([0.5] * 8, same_side=8)] == [7]
    with pytest.raises(UnknownName):
        runs_rules([1.0], rules=["5-5s"])  # type: ignore[list-item]
    with pytest.raises(LodestarchError):
        runs_rules([math.nan])
    with pytest.raises(OutOfRange):
        runs_rules([1.0], same_side=1)


def simulated_arl(rng, first_signal, series, length):
    runs = np.array([first_signal(x) for x in rng.standard_normal((series, length))])
    assert np.all(runs > 0)  # every series is long enough
    return runs.mean(), runs.std() / math.sqrt(series)


@pytest.mark.parametrize("shift", [1.0, 2.0])
def test_run_lengths_of_the_rules_agree_with_simulation(shift):
    rng = np.random.default_rng(5)

    def first(x):
        found = runs_rules(x + shift)
        return found[0].at + 1 if found else 0

    mean, error = simulated_arl(rng, first, 600, 120)
    assert arl_rules(shift) == pytest.approx(mean, abs=4 * error)


def test_run_lengths_of_two_controls_a_run_agree_with_simulation():
    rng = np.random.default_rng(6)
    run = np.repeat(np.arange(150), 2)

    def first(x):
        found = runs_rules(x + 1.0, run=run)
        return found[0].at // 2 + 1 if found else 0

    mean, error = simulated_arl(rng, first, 600, 300)
    assert arl_rules(1.0, controls=2) == pytest.approx(mean, abs=4 * error)


@pytest.mark.parametrize("shift", [0.5, 1.0])
def test_run_lengths_of_cusum_and_ewma_agree_with_simulation(shift):
    rng = np.random.default_rng(7)

    def by_cusum(x):
        found = cusum(x + shift, target=0.0, sd=1.0, limit=4.0).beyond
        return found[0] + 1 if found else 0

    def by_ewma(x):
        found = ewma(x + shift, centre=0.0, sd=1.0, width=2.962).beyond
        return found[0] + 1 if found else 0

    mean, error = simulated_arl(rng, by_cusum, 800, 500)
    assert arl_cusum(shift, limit=4.0) == pytest.approx(mean, abs=4 * error)
    mean, error = simulated_arl(rng, by_ewma, 800, 500)
    assert arl_ewma(shift, width=2.962) == pytest.approx(mean, abs=4 * error)


def test_more_rules_signal_sooner_and_a_shift_sooner_still():
    alone, all_rules = arl_rules(rules=["1-3s"]), arl_rules()
    assert alone == pytest.approx(arl_shewhart())
    assert all_rules < arl_rules(rules=["1-3s", "2-2s"]) < alone
    assert arl_rules(1.0) < all_rules
    assert arl_rules(rules=RULES, same_side=8) < arl_rules(rules=RULES, same_side=12)
    assert arl_rules(rules=["1-2s"]) == pytest.approx(1.0 / 0.0455, rel=1e-3)
    for call in (
        lambda: arl_shewhart(width=0.0),
        lambda: arl_cusum(allowance=-1.0),
        lambda: arl_cusum(limit=0.0),
        lambda: arl_ewma(weight=0.0),
        lambda: arl_ewma(width=0.0),
        lambda: arl_rules(controls=0),
        lambda: arl_rules(same_side=1),
    ):
        with pytest.raises(OutOfRange):
            call()
    with pytest.raises(UnknownName):
        arl_rules(rules=["3-3s"])  # type: ignore[list-item]


def test_times_are_seconds_whatever_they_came_as():
    start = datetime(2026, 8, 1, 6)  # noqa: DTZ001  # a lab's own clock
    times = [start + timedelta(minutes=m) for m in (0, 30)]
    a = as_seconds(times)
    b = as_seconds(np.array(times, dtype="datetime64[s]"))
    assert np.diff(a) == pytest.approx([1800.0])
    assert a == pytest.approx(b)
    assert as_seconds([1.0, 2.0]) == pytest.approx([1.0, 2.0])
    assert np.isnan(as_seconds(np.array(["NaT"], dtype="datetime64[s]")))[0]
    with pytest.raises(LodestarchError):
        as_seconds([datetime(2026, 8, 1, tzinfo=UTC)])
