"""A failed check holds results back; what to look at; what is due; drift of material or bench."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import numpy as np
import pytest

from lodestarch.common.errors import LodestarchError, NoAnswer, OutOfRange
from lodestarch.control.bench_state import SUSPECTS, CheckReading, bench_state
from lodestarch.control.check_hold import hold_back
from lodestarch.control.material_drift import material_drift
from lodestarch.control.upkeep import CheckPlan, UpkeepEvent, UpkeepRule, check_due, mark_events, upkeep_due

DAY = 86_400.0


def codes(x):
    return [f.code for f in x.findings]


def test_results_between_the_last_good_check_and_the_next_one_are_held():
    hold = hold_back([6, 9, 12, 15], [True, True, False, True], [5, 7, 9, 10, 11.5, 12, 13, 15, 16])
    assert hold.held == (3, 4, 5, 6)  # not 9 (with the good check), not 15
    failure = hold.failures[0]
    assert (failure.check, failure.last_good, failure.next_good) == (2, 1, 3)
    assert hold.findings[0].values == {"results": 4, "released": 0}


def test_a_first_check_that_fails_holds_everything_before_it_and_says_so():
    hold = hold_back([10], [False], [1, 5, 11])
    assert hold.held == (0, 1, 2)
    assert set(codes(hold)) == {"hold-no-good-check-before", "hold-results"}


def test_failures_in_a_row_hold_each_result_once():
    hold = hold_back([6, 9, 12, 15], [True, False, False, True], [7, 10, 13])
    assert hold.held == (0, 1, 2)
    assert [f.held for f in hold.failures] == [(0, 1, 2), (0, 1, 2)]


def test_a_cause_clears_a_failure():
    times = [6, 9], [True, False], [7, 10]
    assert hold_back(*times).held == (0, 1)
    cleared = hold_back(*times, cause=[None, "wrong material taken"])
    assert cleared.held == ()
    assert cleared.findings == ()


def test_a_check_speaks_for_its_own_bath_only():
    hold = hold_back(
        [6, 6, 12, 12], [True, True, False, True], [8, 8, 11],
        check_scope=["b1", "b2", "b1", "b2"], result_scope=["b1", "b2", "b1"],
    )  # fmt: skip
    assert hold.held == (0, 2)


def test_what_was_released_and_what_can_be_run_again_are_named():
    hold = hold_back(
        [6, 12], [True, False], [7, 8, 9], released=[True, False, True], retained=[True, True, False]
    )
    assert hold.released == (0, 2)
    assert hold.rerun == (0, 1)
    assert hold.lost == (2,)
    assert hold.findings[0].values == {"results": 3, "released": 2}


def test_a_result_without_a_time_cannot_be_shown_to_be_good():
    hold = hold_back([6, 12], [True, False], [math.nan, 3.0])
    assert hold.held == (0,)
    assert "hold-time-missing" in codes(hold)
    assert hold_back([6], [True], [math.nan]).held == ()


def test_datetimes_serve_as_times_and_columns_must_match():
    start = datetime(2026, 8, 1, 6)  # noqa: DTZ001  # a lab's own clock
    at = [start + timedelta(hours=h) for h in (0, 3)]
    assert hold_back(at, [True, False], [start + timedelta(hours=1)]).held == (0,)
    with pytest.raises(LodestarchError):
        hold_back([1, 2], [True], [1])
    with pytest.raises(LodestarchError):
        hold_back([1], [True], [1], check_scope=["a", "b"])
    assert hold_back([], [], []).held == ()


def whole(z, *broken, name="W1"):
    return CheckReading(name, "whole", z, broken)


def meal(z, *broken, name="M1"):
    return CheckReading(name, "meal", z, broken)


@pytest.mark.parametrize(
    ("checks", "points_to"),
    [
        ([whole(3.2, "1-3s"), meal(2.9, "2-2s")], "bath"),
        ([whole(3.2, "1-3s"), meal(1.4)], "bath"),  # the meal leans to the same side
        ([whole(3.2, "1-3s"), meal(-0.2)], "mill"),
        ([whole(3.2, "1-3s"), meal(-3.2, "1-3s")], "random"),
        ([whole(2.3, "R-4s"), whole(2.2, "R-4s", name="W2")], "random"),
        ([whole(3.2, "1-3s"), whole(0.1, name="W2"), whole(0.3, name="W3"), meal(0.2)], "material"),
        ([meal(-3.4, "1-3s"), whole(0.1)], "material"),
        ([whole(3.2, "1-3s")], "bath"),
    ],
)
def test_checks_read_together_point_to_bath_mill_handling_or_material(checks, points_to):
    state = bench_state(checks)
    assert not state.run
    assert state.points_to == points_to
    assert state.suspects == SUSPECTS[points_to]
    assert len(state.suspects) == 3
    assert all(c.broken for c in state.because)


def test_the_bench_runs_when_no_rule_is_broken_and_not_without_a_check():
    assert bench_state([whole(1.9), meal(-1.2)]).run
    assert bench_state([]).suspects == ("check-sample-due",)


def test_upkeep_is_due_by_days_by_runs_and_when_never_done():
    rules = [
        UpkeepRule("mill-sieve", every_days=7.0),
        UpkeepRule("stirrers", every_runs=3),
        UpkeepRule("balance", every_days=30.0, every_runs=1000),
        UpkeepRule("moisture-meter", every_days=1.0),
    ]
    events = [UpkeepEvent("mill-sieve", 0.0), UpkeepEvent("stirrers", 2 * DAY), UpkeepEvent("balance", 0.0)]
    got = {d.item: d for d in upkeep_due(rules, events, 8 * DAY, [DAY, 3 * DAY, 4 * DAY, 5 * DAY, 9 * DAY])}
    assert got["mill-sieve"].due
    assert got["mill-sieve"].days_left == -1.0
    assert got["stirrers"].due
    assert got["stirrers"].runs_left == 0
    assert not got["balance"].due
    assert got["moisture-meter"].never_done
    future = upkeep_due(rules[:1], [UpkeepEvent("mill-sieve", 99 * DAY)], 8 * DAY)
    assert future[0].never_done
    with pytest.raises(OutOfRange):
        UpkeepRule("x", every_days=0.0)
    with pytest.raises(OutOfRange):
        UpkeepRule("x", every_runs=0)


def test_events_are_marked_between_the_points_of_a_chart():
    marks = mark_events(
        [1.0, 2.0, 3.0], [UpkeepEvent("sieve", 2.5), UpkeepEvent("bath", 2.0), UpkeepEvent("end", 9.0)]
    )
    assert [(i, e.item) for i, e in marks] == [(1, "bath"), (2, "sieve"), (3, "end")]


def test_check_samples_are_due_at_start_after_changes_every_n_runs_and_at_the_end():
    plan = CheckPlan(every_runs=3)
    clock = {"shift_began": 100.0, "now": 200.0}
    assert check_due(plan, **clock, check_at=[50.0], run_at=[]) == ("shift-start",)
    assert check_due(plan, **clock, check_at=[110.0], run_at=[120.0, 130.0]) == ()
    assert check_due(plan, **clock, check_at=[110.0], run_at=[120, 130, 140]) == ("every-n-runs",)
    sieve = [UpkeepEvent("mill-sieve", 150.0), UpkeepEvent("thermometer", 160.0, changes_results=False)]
    assert check_due(plan, **clock, check_at=[110.0], run_at=[], events=sieve) == ("after-change",)
    assert check_due(plan, **clock, check_at=[170.0], run_at=[], events=sieve) == ()
    assert check_due(plan, **clock, check_at=[110.0], run_at=[120.0], shift_ends=True) == ("shift-end",)


def simulate(rng, first_pct, second_pct, bench_pct, n=60, days=60):
    t = np.sort(rng.uniform(0, days, n))
    wobble = 0.5 * rng.standard_normal(n)  # what the bench does from day to day, to both alike
    a = 250.0 * np.exp((first_pct * t + bench_pct * t + wobble + 1.5 * rng.standard_normal(n)) / 100.0)
    b = 320.0 * np.exp((second_pct * t + bench_pct * t + wobble + 1.5 * rng.standard_normal(n)) / 100.0)
    return t * DAY, a, b


@pytest.mark.parametrize(
    ("drifts", "verdict"),
    [
        ((0.0, 0.0, 0.0), "steady"),
        ((0.1, 0.0, 0.0), "first-material"),
        ((0.0, 0.1, 0.0), "second-material"),
        ((0.0, 0.0, 0.1), "bench"),
        ((0.08, -0.08, 0.0), "materials-apart"),
    ],
)
def test_two_materials_tell_the_bench_from_a_material(drifts, verdict):
    got = material_drift(*simulate(np.random.default_rng(8), *drifts))
    assert got.verdict == verdict
    assert got.difference_pct_per_day == pytest.approx(drifts[0] - drifts[1], abs=4 * got.u_difference)


def test_drift_wants_four_occasions_and_skips_missing_ones():
    with pytest.raises(NoAnswer, match="drift-pairs-missing"):
        material_drift([0, DAY, 2 * DAY], [250, 251, 250], [300, 301, 299])
    t, a, b = simulate(np.random.default_rng(9), 0.0, 0.0, 0.0, n=6)
    a[1], b[2] = math.nan, -5.0
    got = material_drift(t, a, b)
    assert got.pairs == 4
    assert codes(got) == ["drift-pairs-few"]
    with pytest.raises(LodestarchError):
        material_drift(t, a, b[:-1])


def test_targets_move_levels_and_not_slopes():
    t, a, b = simulate(np.random.default_rng(10), 0.05, 0.0, 0.0)
    with_targets = material_drift(t, a, b, first_target_s=240.0, second_target_s=330.0)
    assert with_targets.first_pct_per_day == pytest.approx(material_drift(t, a, b).first_pct_per_day)
