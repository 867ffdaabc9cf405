"""Samples judged: the pair, one tube, set aside, impossible, floor and stopped."""

from __future__ import annotations

import math

import polars as pl
import pytest

from bench_day import readings
from lodestarch.common.findings import Severity
from lodestarch.method.judging import judge
from lodestarch.method.reading import CAUSES, State
from lodestarch.method.scatter import DEFAULT_SCATTER
from method.support import MEAL, codes, day, own, row, states, tubes

# --- the pair -----------------------------------------------------------------------------------------------


def test_a_good_pair_stands_and_has_nothing_to_look_at():
    judged = day(*tubes("287", "290"))
    r = row(judged)
    assert (r["status"], r["seconds"], r["mean_s"], r["how"], r["tubes"]) == (
        "preliminary",
        289.0,
        288.5,
        "mean",
        2,
    )
    assert (r["agreement"], r["spread_s"], r["limit_s"]) == ("agrees", 3.0, pytest.approx(28.85))
    assert r["u_s"] == pytest.approx(0.02 * 288.5 / math.sqrt(2.0))
    assert r["ln"] == r["ln_low"] == r["ln_high"] == pytest.approx(6000.0 / 238.5)
    assert (r["estimate_s"], r["estimate_u_s"]) == (r["mean_s"], r["u_s"])
    assert r["profile"] == "meal-14@1"
    assert r["comparable_key"] == MEAL.comparable_key
    assert (r["set_aside"], r["run_again"], r["tubes_stated"]) == (0, 0, True)
    assert states(judged) == [(State.STANDS, None)] * 2
    assert codes(judged) == []


def test_a_pair_that_disagrees_is_held_and_both_tubes_are_run_again():
    judged = day(*tubes("250", "300"))
    r = row(judged)
    assert (r["status"], r["agreement"], r["u_s"], r["estimate_u_s"], r["run_again"]) == (
        "held",
        "disagrees",
        None,
        None,
        2,
    )
    assert (r["estimate_s"], r["estimate_u_s"]) == (None, None)
    assert states(judged) == [(State.RUN_AGAIN, "pair-disagrees")] * 2
    (finding,) = [f for f in judged.findings if f.code == "pair-disagrees"]
    assert finding.severity is Severity.STOP
    assert finding.values == {
        "readings": "250, 300",
        "spread_s": 50.0,
        "limit_s": pytest.approx(27.5),
        "next": "fresh-pair",
    }
    assert finding.where.sample == "A"
    assert finding.where.row == 2


@pytest.mark.parametrize("next_", ["fresh-pair", "third-tube"])
def test_what_to_run_next_is_the_profiles_rule(next_):
    judged = day(*tubes("250", "300"), profile=own("meal-14", on_disagreement=next_))
    assert [f.values["next"] for f in judged.findings if f.code == "pair-disagrees"] == [next_]


def test_a_fresh_pair_makes_a_result_of_all_four():
    judged = day(*tubes("250", "300"), *tubes("288", "290", run="2"))
    r = row(judged)
    assert (r["status"], r["how"], r["tubes"], r["seconds"]) == ("preliminary", "median", 4, 289.0)
    assert states(judged) == [(State.STANDS, None)] * 4
    assert codes(judged) == ["still-disagrees"]
    (finding,) = [f for f in judged.findings if f.code == "still-disagrees"]
    assert finding.values["readings"] == "250, 300, 288, 290"
    assert finding.values["median_s"] == 289.0
    assert r["u_s"] > 0.02 * 289.0 / 2.0, "a sample that disagreed is not as sure as one that agreed"


def test_a_single_third_tube_under_a_fresh_pair_profile_is_told():
    assert codes(day(*tubes("270", "300"), *tubes("290", run="2"))) == ["third-tube-not-profile"]
    third = own("meal-14", on_disagreement="third-tube")
    assert codes(day(*tubes("270", "300"), *tubes("290", run="2"), profile=third)) == []
    # A fresh pair of which one was set aside is no third tube.
    aside = {"sample": "A", "seconds": "390", "run": "2", "position": "2", "set_aside_cause": "leak"}
    assert codes(day(*tubes("270", "300"), *tubes("290", run="2"), aside)) == ["set-aside"]


def test_fresh_pair_alone_goes_by_the_order_in_which_runs_appear():
    alone = own("meal-14", disagreement_rule="fresh-pair-alone")
    judged = day(*tubes("250", "300", run="b"), *tubes("288", "290", run="a"), profile=alone)
    assert (row(judged)["seconds"], row(judged)["tubes"]) == (289.0, 2)


# --- one tube -----------------------------------------------------------------------------------------------


def test_one_tube_is_a_screen():
    judged = day(*tubes("287"))
    r = row(judged)
    assert (r["status"], r["how"], r["tubes_stated"]) == ("screen", "single", True)
    assert r["u_s"] == pytest.approx(5.74)
    assert codes(judged) == ["one-tube"]


def test_one_row_without_a_position_does_not_say_how_many_tubes_stand_behind_it():
    judged = day({"sample": "A", "seconds": "287"}, {"sample": "B", "seconds": "301"})
    assert [r["tubes_stated"] for r in judged.results.iter_rows(named=True)] == [False, False]
    assert row(judged)["u_s"] is None
    assert row(judged)["estimate_u_s"] is None
    (finding,) = [f for f in judged.findings if f.code == "tubes-not-stated"]
    assert (finding.values["samples"], finding.severity) == (2, Severity.NOTE)
    assert "one-tube" not in codes(judged)


def test_two_rows_without_positions_are_two_tubes():
    r = row(day({"sample": "A", "seconds": "287"}, {"sample": "A", "seconds": "290"}))
    assert (r["tubes"], r["tubes_stated"], r["status"]) == (2, True, "preliminary")


# --- set aside ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("cause", CAUSES)
def test_a_reading_set_aside_with_a_cause_does_not_count_and_is_kept(cause):
    judged = day(
        *tubes("287", "290"), {"sample": "A", "seconds": "390", "position": "3", "set_aside_cause": cause}
    )
    r = row(judged)
    assert (r["status"], r["seconds"], r["tubes"], r["set_aside"], r["run_again"]) == (
        "preliminary",
        289.0,
        2,
        1,
        0,
    )
    assert states(judged)[2] == (State.SET_ASIDE, cause)
    (finding,) = [f for f in judged.findings if f.code == "set-aside"]
    assert finding.values == {"seconds": 390.0, "cause": cause}
    assert finding.where.position == "3"


def test_a_finding_on_the_pair_lists_the_readings_that_count():
    aside = {"sample": "A", "seconds": "390", "position": "3", "set_aside_cause": "leak"}
    judged = day(*tubes("250", "300"), aside, *tubes("28", run="2"))
    (finding,) = [f for f in judged.findings if f.code == "pair-disagrees"]
    assert finding.values["readings"] == "250, 300"


def test_a_pair_of_which_one_is_set_aside_is_held_and_is_no_screen():
    judged = day(
        {"sample": "A", "seconds": "287", "position": "1"},
        {"sample": "A", "seconds": "360", "position": "2", "set_aside_cause": "leak"},
    )
    assert (row(judged)["status"], row(judged)["tubes"]) == ("held", 1)
    assert codes(judged) == ["set-aside", "pair-incomplete"]


def test_all_set_aside_leaves_no_result():
    judged = day(*tubes("287", "360", set_aside_cause="boil-stopped"))
    r = row(judged)
    assert (r["status"], r["tubes"], r["how"], r["seconds"], r["ln"]) == ("none", 0, "none", None, None)
    assert "no-standing-reading" in codes(judged)


def test_an_impossible_reading_that_was_set_aside_is_settled():
    judged = day(
        {"sample": "A", "seconds": "2870", "position": "1", "set_aside_cause": "other"}, *tubes("287", "290")
    )
    assert codes(judged) == ["set-aside"]
    assert row(judged)["status"] == "preliminary"


# --- impossible readings ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "code", "partner_s"),
    [
        (2870.0, "reading-tenfold", 288.5),
        (28.7, "reading-tenfold", 288.5),
        (6000.0, "reading-too-long", 288.5),
        (59.0, "reading-below-stirring", 288.5),
        (0.0, "reading-below-stirring", 288.5),
        (-287.0, "reading-negative", 288.5),
    ],
)
def test_an_impossible_reading_is_run_again_and_named(typed, code, partner_s):
    frame = readings(tubes("287", "290", "100"))
    seconds = pl.when(pl.col("position") == "3").then(typed).otherwise(pl.col("seconds"))
    judged = judge(frame.with_columns(seconds.alias("seconds")), {}, MEAL, DEFAULT_SCATTER)
    assert states(judged)[2] == (State.RUN_AGAIN, code)
    (finding,) = [f for f in judged.findings if f.code == code]
    assert finding.severity is Severity.STOP
    assert (finding.where.field, finding.where.position, finding.where.row) == ("seconds", "3", 4)
    assert (finding.values["seconds"], finding.values["partner_s"]) == (typed, partner_s)
    # Two tubes count and agree: the slip does not take the sample down, nor enter it.
    assert (row(judged)["status"], row(judged)["seconds"], row(judged)["run_again"]) == (
        "preliminary",
        289.0,
        1,
    )


def test_a_pair_with_one_impossible_tube_is_held():
    judged = day(*tubes("287", "2870"))
    assert (row(judged)["status"], row(judged)["tubes"], row(judged)["run_again"]) == ("held", 1, 1)
    assert codes(judged) == ["reading-tenfold"]


def test_a_lone_impossible_reading_has_no_partner_and_no_result():
    judged = day(*tubes("28.7"))
    assert codes(judged) == ["reading-below-stirring"]
    assert judged.findings[0].values["partner_s"] is None
    assert row(judged)["status"] == "none"


def test_a_missing_number_is_no_reading_and_never_nan():
    frame = readings(tubes("287", "290")).with_columns(
        pl.when(pl.col("position") == "2").then(None).otherwise(pl.col("seconds")).alias("seconds")
    )
    judged = judge(frame, {}, MEAL, DEFAULT_SCATTER)
    assert row(judged)["tubes"] == 1
    assert [f.values["seconds"] for f in judged.findings if f.code == "reading-negative"] == [None]


# --- floor and stopped --------------------------------------------------------------------------------------


def test_a_floor_is_never_a_value():
    judged = day(*tubes("<=62", "61"))
    r = row(judged)
    assert (r["kind"], r["seconds"], r["u_s"], r["ln"]) == (1, 62.0, None, None)
    assert (r["ln_low"], r["ln_high"]) == (500.0, None)
    assert (r["estimate_s"], r["estimate_u_s"]) == (None, None)
    assert codes(judged) == ["at-floor"]


def test_a_stopped_pair_lies_above():
    judged = day(*tubes(">400", ">400"))
    r = row(judged)
    assert (r["kind"], r["seconds"], r["u_s"], r["ln"]) == (2, 400.0, None, None)
    assert (r["ln_low"], r["ln_high"]) == (0.0, pytest.approx(6000.0 / 350.0))
    assert codes(judged) == ["stopped-early"]


def test_an_estimate_stands_beside_a_mixed_pair_and_is_not_the_result():
    r = row(day(*tubes("390", ">401")))
    assert (r["kind"], r["seconds"]) == (2, 395.0)
    assert 395.0 < r["estimate_s"] < 410.0
    assert 5.0 < r["estimate_u_s"] < 8.0


def test_readings_that_do_not_point_to_one_level_have_no_estimate():
    r = row(day(*tubes("62", "300")))
    assert (r["status"], r["estimate_s"], r["estimate_u_s"]) == ("held", None, None)


def test_an_estimate_rests_on_the_readings_that_count():
    alone = own("meal-14", disagreement_rule="fresh-pair-alone")
    fresh = day(*tubes("390", ">401"), profile=alone)
    after = day(*tubes("100", "300"), *tubes("390", ">401", run="2"), profile=alone)
    assert row(after)["estimate_s"] == pytest.approx(row(fresh)["estimate_s"])
