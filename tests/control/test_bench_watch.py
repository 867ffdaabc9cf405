from __future__ import annotations

from datetime import datetime, timedelta

import polars as pl
import pytest

from lodestarch.control.bench_watch import CheckDue, CheckSeen, bath_watches, verdict_of
from lodestarch.control.check_charts import CHECK_VALUES, OWN_FROM, check_charts, drifts, promises
from lodestarch.control.upkeep_items import (
    SHIFT_ITEMS,
    UPKEEP_ITEMS,
    ShiftTick,
    shift_began,
    shift_lines,
    upkeep_item,
)

AT = datetime(2024, 8, 22, 9)  # noqa: DTZ001 - the bench has its own clock


def seen(sample, material, grain, bath, *, minutes=0, z=0.2, broken=(), cause=""):
    return CheckSeen(sample, material, grain, bath, AT + timedelta(minutes=minutes), z, broken, cause)


def frame(rows):
    base = {"bath": "A", "mill_id": None, "outcome": "good", "cause": None}
    return pl.DataFrame([{**base, **row} for row in rows], schema=CHECK_VALUES)


def values(material, seconds, *, step_h=24.0, start=AT):
    return [
        {"sample": f"{material}-{i}", "material": material, "seconds": float(s),
         "run_at": start + timedelta(hours=step_h * i)}
        for i, s in enumerate(seconds)
    ]  # fmt: skip


def test_a_material_right_in_the_other_bath_points_to_the_bath():
    off = seen("M-2", "M", "meal", "A", z=6.0, broken=("1-3s",))
    whole = seen("W-1", "W", "whole", "A", minutes=-5)
    alone = bath_watches([off, whole])
    assert [w.points_to for w in alone] == ["material"]
    beside = bath_watches([off, whole, seen("M-3", "M", "meal", "B", minutes=9)])
    assert [(w.bath, w.run, w.points_to) for w in beside] == [("A", False, "bath"), ("B", True, None)]
    assert beside[0].suspects[0] == "boil-and-level"
    assert beside[0].because == (off,)


def test_an_old_check_has_no_vote_and_a_cause_stops_nothing_more():
    off = seen("M-1", "M", "meal", "A", minutes=-90, z=5.0, broken=("1-3s",))
    assert bath_watches([off, seen("W-1", "W", "whole", "A")])[0].run
    assert not bath_watches([off])[0].run
    assert bath_watches([seen("M-1", "M", "meal", "A", z=5.0, broken=("1-3s",), cause="off the boil")])[0].run


@pytest.mark.parametrize(
    ("checks", "due", "materials", "verdict"),
    [
        ([], [], 0, "unwatched"),
        ([], [CheckDue("A", ("shift-start",), 0)], 1, "check-first"),
        ([seen("M-1", "M", "meal", "A")], [], 1, "run"),
        ([seen("M-1", "M", "meal", "A", z=4.0, broken=("1-3s",))], [CheckDue("B", (), 0)], 1, "stop"),
    ],
)  # fmt: skip
def test_the_verdict(checks, due, materials, verdict):
    assert verdict_of(bath_watches(checks), due, materials=materials) == verdict


def test_limits_are_the_entered_ones_until_there_are_enough_values_and_wide_while_few():
    seconds = [220.0, 223.0, 218.0, 221.0, 219.0, 222.0]
    few = check_charts(frame(values("M", seconds)), {"M": "meal"}, {"M": 220.0}, {"M": 4.0})[0]
    assert few.sd_from == "entered"
    assert few.chart.individuals.upper == pytest.approx(232.0)
    assert few.own.values == 6
    assert few.own.factor > 6.0
    many = check_charts(frame(values("M", seconds * 4)), {"M": "meal"}, {"M": 220.0}, {"M": 4.0})[0]
    assert (many.sd_from, many.own.values) == ("own", 24)
    assert 3.0 < many.own.factor < few.own.factor
    assert many.chart.individuals.upper == pytest.approx(many.own.high_s)
    assert OWN_FROM <= 24


def test_a_failed_value_never_widens_the_limits_that_it_is_judged_by():
    rows = values("M", [220.0, 223.0, 218.0, 221.0])
    bad = {**values("M", [0, 0, 0, 0, 300.0])[4], "outcome": "off"}
    without, with_it = (
        check_charts(frame(r), {"M": "meal"}, {"M": 220.0}, {"M": None})[0] for r in (rows, [*rows, bad])
    )
    assert with_it.own == without.own
    assert with_it.sd_from == "own"


@pytest.mark.parametrize("seconds", [[220.0], [220.0, 220.0, 220.0]])
def test_one_value_or_equal_ones_without_a_spread_are_a_finding_and_no_chart(seconds):
    chart = check_charts(frame(values("M", seconds)), {"M": "meal"}, {"M": 220.0}, {"M": None})[0]
    assert (chart.sd_from, chart.own, chart.range_limit_s) == ("none", None, None)
    assert {f.code for f in chart.findings} & {"chart-values-few", "chart-all-equal"}


def test_upkeep_stands_before_the_first_value_after_it_and_not_before_the_chart():
    events = [(AT + timedelta(hours=30), "mill-sieve", "M1"), (AT - timedelta(days=3), "tubes", "")]
    chart = check_charts(
        frame(values("M", [220, 221, 223])), {"M": "meal"}, {"M": 220.0}, {"M": 4.0}, events
    )[0]
    assert [(m.place, m.item, m.where) for m in chart.marks] == [(2, "mill-sieve", "M1")]


def test_a_material_that_rises_beside_a_steady_one_is_told_from_the_bench():
    days = range(12)
    wobble = [0.6, -0.4, 0.2, -0.7, 0.5, -0.1, 0.3, -0.5, 0.7, -0.3, 0.1, -0.4]
    stale = values("OLD", [300.0 + 2.5 * d + wobble[d] for d in days])
    fresh = values("NEW", [220.0 + wobble[-1 - d] for d in days], start=AT + timedelta(minutes=9))
    found = drifts(frame([*stale, *fresh]), {"OLD": 300.0, "NEW": 220.0})
    assert [(d.occasions, d.drift.verdict) for d in found] == [(12, "first-material")]
    both = values("NEW", [220.0 * (1 + 2.5 * d / 300.0) + wobble[-1 - d] for d in days], start=AT)
    assert drifts(frame([*stale, *both]), {"OLD": 300.0, "NEW": 220.0})[0].drift.verdict == "bench"
    apart = values("NEW", [220.0] * 12, start=AT + timedelta(hours=6))
    assert drifts(frame([*stale, *apart]), {"OLD": 300.0, "NEW": 220.0})[0].drift is None


def test_the_charts_say_what_they_promise():
    for promise in promises():
        assert promise.in_control > 10 * promise.shift_1_sd / 3 > promise.shift_2_sd > 1.0


def test_a_shift_begins_at_the_last_start_and_the_latest_tick_counts():
    assert shift_began(AT) == AT.replace(hour=6)
    early = ShiftTick("bath-boil", AT.replace(hour=5), "Ann", held=True)
    wrong = ShiftTick("mill-and-sieve", AT.replace(hour=6, minute=10), "Ann", held=False, note="torn")
    mended = ShiftTick("mill-and-sieve", AT.replace(hour=6, minute=40), "Ann", held=True)
    lines = {line.item.item: line.tick for line in shift_lines((early, mended, wrong), shift_began(AT))}
    assert lines["bath-boil"] is None
    assert lines["mill-and-sieve"] == mended
    assert len(lines) == len(SHIFT_ITEMS)


def test_every_item_of_upkeep_has_its_interval_with_provenance():
    assert len({i.item for i in UPKEEP_ITEMS}) == len(UPKEEP_ITEMS)
    assert all(i.every_days > 0 and i.provenance.value == "common practice" for i in UPKEEP_ITEMS)
    assert upkeep_item("none") is None
