"""Whole tables: profiles, pressures, order, and what must hold for every finding and result."""

from __future__ import annotations

import math

import polars as pl

from bench_day import readings
from lodestarch.common.findings import Severity
from lodestarch.method.judge_checks import CODES
from lodestarch.method.judging import judge
from lodestarch.method.profile import revise
from lodestarch.method.reading import State
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profiles
from lodestarch.method.table import JUDGED, READINGS, RESULTS, empty
from method.support import MEAL, codes, day, row, states, tubes

# --- profiles -----------------------------------------------------------------------------------------------

ALL = {p.profile_id: p for p in shipped_profiles()} | {p.name: p for p in shipped_profiles()}


def test_a_sample_is_judged_under_the_profile_its_rows_name():
    judged = day(
        *tubes("287", "290"),
        *tubes("300", "301", sample="B", profile="rye-9g", moisture_pct=15.0, mass_g=9.0),
        profiles=ALL,
    )
    assert [(r["sample"], r["profile"]) for r in judged.results.iter_rows(named=True)] == [
        ("A", "meal-14@1"),
        ("B", "rye-9g@1"),
    ]
    assert codes(judged) == []


def test_one_sample_under_two_profiles_is_not_judged():
    judged = day(
        {"sample": "A", "seconds": "287", "position": "1", "profile": "meal-14"},
        {"sample": "A", "seconds": "290", "position": "2", "profile": "meal-15"},
        *tubes("300", "301", sample="B"),
        profiles=ALL,
    )
    r = row(judged)
    assert (r["status"], r["seconds"], r["tubes"], r["run_again"]) == ("held", None, 0, 2)
    assert r["comparable_key"] == "not comparable"
    assert codes(judged) == ["profiles-mixed"]
    assert judged.findings[0].values == {"profiles": "meal-14, meal-15"}
    assert states(judged)[:2] == [(State.RUN_AGAIN, "profiles-mixed")] * 2
    assert row(judged, "B")["status"] == "preliminary"


def test_id_and_id_with_version_are_one_profile():
    judged = day(
        {"sample": "A", "seconds": "287", "position": "1", "profile": "meal-14"},
        {"sample": "A", "seconds": "290", "position": "2", "profile": "meal-14@1"},
        {"sample": "A", "seconds": "291", "position": "3", "profile": None},
        profiles=ALL,
    )
    assert (row(judged)["status"], row(judged)["tubes"]) == ("preliminary", 3)


def test_two_versions_of_one_profile_do_not_mix():
    newer = revise(MEAL, {})
    judged = day(
        {"sample": "A", "seconds": "287", "position": "1", "profile": "meal-14@1"},
        {"sample": "A", "seconds": "290", "position": "2", "profile": "meal-14@2"},
        profiles=ALL | {newer.name: newer},
    )
    assert codes(judged) == ["profiles-mixed"]


def test_an_unknown_profile_is_not_judged_and_its_set_aside_tube_stays_so():
    judged = day(
        {"sample": "A", "seconds": "287", "position": "1", "profile": "meal-13"},
        {"sample": "A", "seconds": "390", "position": "2", "profile": "meal-13", "set_aside_cause": "leak"},
    )
    assert codes(judged) == ["profile-unknown"]
    assert judged.findings[0].values == {"profiles": "meal-13"}
    assert states(judged) == [(State.RUN_AGAIN, "profile-unknown"), (State.SET_ASIDE, "leak")]
    assert (row(judged)["status"], row(judged)["run_again"], row(judged)["set_aside"]) == ("held", 1, 1)


# --- pressure -----------------------------------------------------------------------------------------------


def test_no_pressure_at_all_is_one_note():
    judged = day(*tubes("287", "290"))
    assert [(f.code, f.severity) for f in judged.findings] == [("pressure-not-stated", Severity.NOTE)]


def test_tubes_of_one_run_have_one_pressure():
    judged = day(
        {"sample": "A", "seconds": "287", "position": "1", "pressure_hpa": 951.0},
        {"sample": "A", "seconds": "290", "position": "2", "pressure_hpa": 915.0},
    )
    (finding,) = [f for f in judged.findings if f.code == "pressure-spread-in-run"]
    assert finding.values == {"low_hpa": 915.0, "high_hpa": 951.0}
    assert row(judged)["pressure_hpa"] == 933.0


def test_a_reduced_pressure_is_told_for_each_run_and_the_question_which_once_a_day():
    rows = [
        *tubes("287", "290", pressure_hpa=1012.0),
        *tubes("300", "301", sample="B", run="2", pressure_hpa=1012.0),
    ]
    high = day(*rows, elevation_m=520.0)
    assert codes(high) == ["pressure-looks-reduced"] * 2
    assert [f.where.run for f in high.findings if f.code == "pressure-looks-reduced"] == ["1", "2"]
    low = day(*rows, elevation_m=150.0)
    assert codes(low) == ["pressure-which"]
    assert codes(day(*rows, elevation_m=150.0, pressure_is_station=True)) == []
    pressures = {"1": 1000.0, "2": 880.0, "3": 1004.0}
    several = [
        t for run, p in pressures.items() for t in tubes("287", "290", sample=run, run=run, pressure_hpa=p)
    ]
    assert codes(day(*several, elevation_m=150.0)) == ["pressure-which", "pressure-elevation-disagree"]


# --- the table as a whole -----------------------------------------------------------------------------------


def test_an_empty_table():
    judged = judge(empty(READINGS), {}, MEAL, DEFAULT_SCATTER)
    assert (judged.readings.schema, judged.results.schema) == (pl.Schema(JUDGED), pl.Schema(RESULTS))
    assert (judged.readings.height, judged.results.height, judged.findings) == (0, 0, ())


def test_rows_come_back_in_the_order_given_with_the_columns_of_the_schema():
    rows = [
        *tubes("287", sample="B"),
        *tubes("300", "301"),
        *tubes("290", sample="B", run="2"),
        {"sample": "C", "seconds": "300", "profile": "meal-13"},
        *tubes("400", sample="D", profile="meal-15", moisture_pct=15.0),
    ]
    given = readings(rows).sample(fraction=1.0, shuffle=True, seed=4)
    judged = judge(given, ALL, MEAL, DEFAULT_SCATTER)
    assert judged.readings.schema == pl.Schema(JUDGED)
    assert judged.results.schema == pl.Schema(RESULTS)
    assert judged.readings.drop("state", "state_code", "portion_g", "profile").equals(given.drop("profile"))
    assert sorted(judged.results["sample"]) == ["A", "B", "C", "D"]
    assert judged.results["first_row"].is_sorted()


def test_no_nan_reaches_a_result_or_a_finding():
    rows = [
        *tubes("287", "290"),
        *tubes("62", sample="B"),
        *tubes(">400", "390", sample="C"),
        *tubes("28", sample="D"),
        *tubes("300", "400", sample="E", moisture_pct=None),
        *tubes("250", "260", sample="F", set_aside_cause="leak"),
        *tubes("300", sample="G", mass_g=None),
        *tubes("100", "300", "310", sample="H"),
        *tubes("280", "281", sample="I", moisture_pct=18.0),
    ]
    judged = day(*rows)
    for frame in (judged.results, judged.readings):
        for name, kind in frame.schema.items():
            if kind == pl.Float64():
                assert not frame[name].is_nan().any(), name
                assert not frame[name].is_infinite().any(), name
    for finding in judged.findings:
        for key, value in finding.values.items():
            assert not (isinstance(value, float) and not math.isfinite(value)), (finding.code, key)


def test_every_finding_carries_the_values_that_its_code_lists():
    rows = [
        *tubes("250", "300"),
        *tubes("28", "280", sample="B"),
        *tubes("62", "61", sample="C"),
        *tubes("300", sample="D"),
        *tubes("300", "301", sample="E", moisture_pct=10.0),
        *tubes("300", "301", sample="F", moisture_pct=10.0, mass_g=6.0),
        *tubes("300", "301", sample="G", profile="meal-13"),
        *tubes("250", "300", "301", sample="H"),
        *tubes("300", "301", sample="I", moisture_pct=20.0),
        *tubes("300", "301", sample="J", moisture_pct=6.0),
        *tubes(">400", ">400", sample="K", set_aside_cause="leak"),
        *tubes(">400", ">400", sample="L"),
        {"sample": "M", "seconds": "300"},
        *tubes("300", "301", sample="N", moisture_pct=None),
    ]
    met = {f.code: f for f in day(*rows).findings}
    assert len(met) >= 16
    for code, finding in met.items():
        assert set(CODES[code]) <= set(finding.values), code


def test_every_stop_on_a_sample_leaves_it_without_a_result_to_give_out():
    """What may not be used before it is settled is held, or has no reading; nothing in between."""
    rows = [
        *tubes("250", "300"),
        *tubes("28", "280", sample="B"),
        *tubes("300", "301", sample="C", profile="meal-13"),
        *tubes("300", "301", sample="D", moisture_pct=10.0, mass_g=6.0),
        {"sample": "E", "seconds": "300", "position": "1", "corrected_by_instrument": True},
        {"sample": "E", "seconds": "301", "position": "2", "corrected_by_instrument": False},
    ]
    judged = day(*rows)
    stopped = {f.where.sample for f in judged.findings if f.severity is Severity.STOP}
    assert stopped == {"A", "B", "C", "D", "E"}
    for sample in stopped:
        assert row(judged, sample)["status"] in {"held", "none"}
