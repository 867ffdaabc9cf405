"""What must hold for any pairs, budgets, components, charts and ring tests."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from lodestarch.control.charts import individuals
from lodestarch.control.check_hold import hold_back
from lodestarch.control.duplicates import read_duplicates
from lodestarch.control.memory_charts import cusum, ewma
from lodestarch.control.ring_report import ring_test
from lodestarch.control.robust import algorithm_a
from lodestarch.control.runs_rules import runs_rules
from lodestarch.control.structural_lines import passing_bablok
from lodestarch.precision.components import fit_components
from lodestarch.precision.gum import combine
from lodestarch.precision.sampling_plan import Costs, SpreadOf, cheapest_plan
from lodestarch.precision.scatter_fit import fit_scatter

QUICK = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
MANY = settings(max_examples=100, deadline=None)

seconds = st.floats(60.0, 900.0)
anything = st.one_of(st.floats(allow_nan=True, allow_infinity=True), seconds)
kinds = st.integers(0, 2)


def all_finite(values):
    return all(v is None or math.isfinite(v) for v in values)


@QUICK
@given(st.lists(st.tuples(anything, anything, kinds, kinds), max_size=40))
def test_any_pairs_at_all_give_numbers_and_never_nan(rows):
    a, b, ka, kb = (list(c) for c in zip(*rows, strict=True)) if rows else ([], [], [], [])
    report = read_duplicates(a, b, first_kind=ka, second_kind=kb)
    for level in report.levels:
        line = level.sd
        assert all_finite([line.sd_s, line.low_s, line.high_s, line.dof, level.limit_s, level.limit_pct])
        assert 0.0 < line.low_s < line.sd_s < line.high_s
    assert 0.0 <= report.scatter.prior_weight <= 1.0
    assert 0.0 <= report.scatter.gross_share <= 1.0
    assert sum(c.weight for c in report.scatter.choices) == pytest.approx(1.0)


@QUICK
@given(st.lists(st.tuples(seconds, seconds), min_size=2, max_size=30), st.randoms(use_true_random=False))
def test_neither_the_order_of_pairs_nor_of_tubes_changes_a_fit(rows, random):
    turned = [row if random.random() < 0.5 else row[::-1] for row in rows]
    random.shuffle(turned)
    one, other = (fit_scatter(*zip(*r, strict=True)) for r in (rows, turned))
    at = np.array([150.0, 300.0, 400.0])
    assert other.sd_s(at) == pytest.approx(one.sd_s(at), rel=1e-5)


GAPS = st.tuples(st.floats(250.0, 350.0), st.floats(0.02, 0.08), st.sampled_from([-1.0, 1.0]))


@QUICK
@given(st.lists(GAPS, min_size=8, max_size=40), st.floats(1.2, 2.5))
def test_wider_gaps_never_make_a_smaller_sd(rows, factor):
    """Where the pairs lie, and for gaps of one order.

    A gap that stands out alone may turn from spread into a gross error as it widens, and far from the data
    another law may take over; both may lower the SD, rightly.
    """
    level, size, sign = (np.array(c) for c in zip(*rows, strict=True))
    gap = size * sign
    narrow = fit_scatter(level * (1 - gap / 2), level * (1 + gap / 2))
    wide = fit_scatter(level * (1 - factor * gap / 2), level * (1 + factor * gap / 2))
    assert wide.sd_s(300.0) >= narrow.sd_s(300.0) * 0.999


@MANY
@given(st.lists(st.tuples(st.floats(0.0, 50.0), st.floats(0.5, 1e6)), min_size=1, max_size=12))
def test_combined_dof_lie_between_the_least_and_the_sum(rows):
    u, dof = zip(*rows, strict=True)
    total = combine(u, dof)
    assert float(total.u) == pytest.approx(math.sqrt(sum(x * x for x in u)), abs=1e-12)
    assume(max(u) > 1e-6)
    assert min(dof) * (1 - 1e-9) <= float(total.dof) <= sum(dof) * (1 + 1e-9)
    assert float(total.share.sum()) == pytest.approx(1.0)


@QUICK
@given(
    st.lists(st.tuples(st.integers(0, 5), st.integers(0, 2), st.floats(200.0, 400.0)), max_size=40),
    st.floats(0.1, 20.0),
)
def test_components_stretch_with_the_data_and_never_turn_negative(rows, factor):
    p, g, y = (np.array(c) for c in zip(*rows, strict=True)) if rows else (np.array([]),) * 3
    one = fit_components(y, [p, g], ["probe", "grind"])
    for c in one.components:
        assert all_finite([c.variance, c.sd, c.low_sd, c.high_sd, c.dof])
        assert c.variance >= 0.0
        assert (
            c.low_sd is None or c.high_sd is None or c.low_sd <= c.sd * (1 + 1e-6) <= c.high_sd * (1 + 2e-6)
        )
    if one.components:
        assert sum(c.share for c in one.components) == pytest.approx(1.0)
        other = fit_components(factor * np.asarray(y) - 7.0, [p, g], ["probe", "grind"])
        assert other.mean == pytest.approx(factor * one.mean - 7.0, rel=1e-4, abs=1e-3)
        total = sum(c.variance for c in one.components)
        stretched = sum(c.variance for c in other.components)
        assert stretched == pytest.approx(factor**2 * total, rel=1e-3)


@MANY
@given(st.lists(anything, max_size=30))
def test_any_column_charts_to_numbers_or_to_an_answer_that_says_why_not(values):
    from lodestarch.common.errors import NoAnswer

    usable = [v for v in values if math.isfinite(v) and abs(v) < 1e9]
    try:
        chart = individuals(usable)
    except NoAnswer:
        assert len(set(usable)) < 2 or float(np.abs(np.diff(usable)).max()) < 1e-9 * max(map(abs, usable))
        return
    assert all_finite([chart.upper, chart.lower_widened, chart.factor, *chart.z])
    assert chart.lower_widened <= chart.lower < chart.upper <= chart.upper_widened
    assert all_finite(ewma(usable, centre=chart.baseline.centre, sd=chart.baseline.sd).ewma)
    assert all(s >= 0.0 for s in cusum(usable, target=0.0, sd=1.0).high)


@MANY
@given(st.lists(st.floats(-4.0, 4.0), max_size=60))
def test_runs_rules_turned_upside_down_signal_at_the_same_places(z):
    up, down = runs_rules(z), runs_rules([-v for v in z])
    assert [(s.rule, s.places, s.side) for s in up] == [(s.rule, s.places, -s.side) for s in down]


@MANY
@given(
    st.lists(st.tuples(st.integers(0, 50), st.booleans()), max_size=12),
    st.lists(st.integers(0, 50), max_size=25),
)
def test_one_more_good_check_never_holds_more_and_one_more_failure_never_less(checks, results):
    at, ok = ([c[0] for c in checks], [c[1] for c in checks])
    held = set(hold_back(at, ok, results).held)
    assert set(hold_back([*at, 25], [*ok, True], results).held) <= held
    assert set(hold_back([*at, 25], [*ok, False], results).held) >= held
    if all(ok):
        assert held == set()


@MANY
@given(
    st.lists(st.tuples(st.sampled_from("abcdefgh"), anything), max_size=30),
)
def test_any_ring_test_gives_numbers_and_never_nan(rows):
    usable = [(b, v if abs(v) < 1e9 or not math.isfinite(v) else 300.0) for b, v in rows]
    lab, value = zip(*usable, strict=True) if usable else ((), ())
    for report in ring_test(list(lab), list(value)).materials:
        assert all_finite([report.assigned, report.u_assigned, report.sigma_pt])
        for s in report.scores:
            assert math.isfinite(s.mean)
            assert s.score is None or all_finite([s.score.z, s.score.z_prime])
        if report.precision is not None and report.precision.s_r is not None:
            assert report.precision.s_R >= report.precision.s_r * (1 - 1e-12)


@MANY
@given(st.lists(st.floats(100.0, 500.0), min_size=5, max_size=40))
def test_algorithm_a_stays_within_its_data(values):
    from lodestarch.common.errors import NoAnswer

    try:
        got = algorithm_a(values)
    except NoAnswer:
        assert len(set(values)) == 1
        return
    assert min(values) - 1e-9 <= got.location <= max(values) + 1e-9
    assert got.scale > 0.0 or got.collapsed or len(set(values)) > 1


@QUICK
@given(
    st.lists(st.tuples(st.floats(100.0, 500.0), st.floats(-20.0, 20.0)), min_size=6, max_size=25),
    st.floats(-30, 30),
)
def test_passing_bablok_moves_with_its_columns(rows, shift):
    from lodestarch.common.errors import NoAnswer

    x = np.array([r[0] for r in rows])
    y = x + np.array([r[1] for r in rows])
    try:
        one, other = passing_bablok(x, y), passing_bablok(x, y + shift)
    except NoAnswer:
        return
    assert other.slope == pytest.approx(one.slope, rel=1e-6, abs=1e-6)
    assert other.intercept == pytest.approx(one.intercept + shift, rel=1e-5, abs=1e-4)


@QUICK
@given(st.floats(0.0, 20.0), st.floats(0.0, 10.0), st.floats(0.5, 12.0), st.floats(1.0, 15.0))
def test_a_lower_target_never_costs_less(probe, grind, tube, target):
    spread, costs = SpreadOf(probe, grind, tube), Costs(1.0, 5.0, 4.0)
    loose, tight = (cheapest_plan(spread, costs, t) for t in (target, 0.7 * target))
    assert tight.best.cost >= loose.best.cost - 1e-9 or not tight.reached
    if loose.reached:
        assert loose.best.u_s <= target * (1 + 1e-9)
