from __future__ import annotations

import time

import numpy as np
import polars as pl
import pytest

from bench_day import PROFILE, judged, minute, samples
from lodestarch.common.findings import Severity
from lodestarch.control.bench_pairs import constants_by_sample, tube_pairs
from lodestarch.control.bench_rules import (
    CheckMaterial,
    bench_findings,
    check_samples,
    ground_mass,
    moisture_rules,
    times,
    with_times,
)
from lodestarch.control.codes_bench import CODES
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profile
from lodestarch.method.table import JUDGED, RESULTS, SAMPLES, conform, empty


def pair(sample, a, b, **more):
    return [{"sample": sample, "seconds": s, **more} for s in (a, b)]


def day(rows, profile="meal-14"):
    out = judged(rows, profile)
    return out.readings, out.results, constants_by_sample(out.results, [shipped_profile(profile)])


def test_ground_mass_under_the_least_is_found_at_its_row_and_the_least_itself_is_enough():
    _, _, constants = day(pair("a", 300, 304) + pair("b", 300, 304) + pair("c", 300, 304))
    sheet = samples(
        [{"sample": "a", "ground_mass_g": 299.0}, {"sample": "b", "ground_mass_g": 300.0}, {"sample": "c"}]
    )
    (found,) = ground_mass(sheet, constants, source="samples.csv")
    assert (found.code, found.where.row, found.where.sample) == ("ground-mass-low", 2, "a")
    assert found.where.source == "samples.csv"
    assert found.values == {"ground_mass_g": 299.0, "least_ground_mass_g": 300.0}


def test_moisture_on_grain_counts_where_the_portion_uses_it_and_not_as_is():
    sheet = samples([{"sample": "a", "moisture_on": "grain"}, {"sample": "b", "moisture_on": "meal"}])
    readings, _, constants = day(pair("a", 300, 304) + pair("b", 300, 304))
    (found,) = moisture_rules(with_times(readings, sheet, constants))
    assert (found.code, found.where.sample, found.where.field) == ("moisture-on-grain", "a", "moisture_on")
    readings, _, constants = day(pair("a", 300, 304) + pair("b", 300, 304), "as-is")
    assert moisture_rules(with_times(readings, sheet, constants)) == ()


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (
            {"moisture_on": "meal", "moisture_at": minute(-70), "ground_at": minute(-60)},
            "moisture-before-grinding",
        ),
        ({"moisture_on": "grain", "moisture_at": minute(-70), "ground_at": minute(-60)}, "moisture-on-grain"),
        ({"moisture_on": "meal", "moisture_at": minute(-25 * 60), "ground_at": None}, "moisture-old"),
    ],
)
def test_moisture_taken_at_another_time_than_the_meal(row, code):
    readings, _, constants = day(pair("a", 300, 304, run_at=minute(0)))
    (found,) = moisture_rules(with_times(readings, samples([{"sample": "a", **row}]), constants))
    assert found.code == code
    assert all(v is not None for k, v in found.values.items() if k != "moisture_method")


def test_meal_that_waited_and_a_run_before_its_grinding():
    readings, _, constants = day(
        pair("late", 300, 304, run_at=minute(0)) + pair("early", 300, 304, run_at=minute(0))
        + pair("fine", 300, 304, run_at=minute(0)) + pair("dated", 300, 304, run_at=minute(0))
    )  # fmt: skip
    midnight = minute(0).replace(hour=0)
    sheet = samples(
        [
            {"sample": "late", "ground_at": minute(-24 * 60 - 30)},
            {"sample": "early", "ground_at": minute(5)},
            {"sample": "fine", "ground_at": minute(-24 * 60)},
            {"sample": "dated", "ground_at": midnight.replace(day=1)},  # a date alone says nothing of hours
        ]
    )
    late, early = times(with_times(readings, sheet, constants))
    assert (late.code, late.where.sample) == ("ground-long-before", "late")
    assert late.values["delay_h"] == pytest.approx(24.5)
    assert late.values["longest_h"] == 24.0
    assert (early.code, early.where.sample) == ("run-before-grinding", "early")


def test_check_sample_is_off_outside_three_u_and_not_on_the_edge():
    rows = (
        pair("in", 321, 321)
        + pair("out", 322, 322)
        + pair("floor", "62", "62")
        + pair("stopped", ">350", ">350")
    )
    out = judged(rows + pair("unknown", 300, 300))
    sheet = samples(
        [{"sample": s, "kind": "check", "material": "CW-3"} for s in ("in", "out", "floor", "stopped")]
        + [{"sample": "unknown", "kind": "check", "material": "other"}]
    )
    found = check_samples(out.results, sheet, [CheckMaterial("cw-3", "check wheat", 300.0, 7.0)])
    assert [(f.code, f.where.sample) for f in found] == [
        ("check-sample-off", "out"),
        ("check-sample-off", "floor"),
        ("check-sample-off", "stopped"),
        ("check-sample-no-target", "unknown"),
    ]
    assert found[0].values["high_s"] == 321.0
    assert found[-1].severity is Severity.NOTE


def test_a_stopped_check_that_may_still_lie_in_its_band_is_not_accused():
    out = judged(pair("stopped", ">250", ">250"))
    sheet = samples([{"sample": "stopped", "kind": "check", "material": "CW-3"}])
    assert check_samples(out.results, sheet, [CheckMaterial("CW-3", "check wheat", 300.0, 7.0)]) == ()


def test_pairs_leave_out_what_cannot_be_held_against_each_other():
    rows = (
        pair("fine", 300, 310)
        + pair("tenfold", 291, 2910)
        + [{"sample": "aside", "seconds": 300}, {"sample": "aside", "seconds": 90, "set_aside_cause": "leak"}]
        + pair("stopped", 390, ">400")
        + [{"sample": "alone", "seconds": 300}]
        + pair("floor", 62, 150)
    )
    out = judged(rows)
    pairs = tube_pairs(out.readings, constants_by_sample(out.results, [PROFILE]))
    assert pairs["sample"].to_list() == ["fine", "floor"]
    assert pairs.row(1, named=True)["kind_1"] == 1  # 62 under a floor of 62 is "at or below"


def test_readings_of_an_earlier_sheet_are_left_to_that_sheet():
    out = judged(pair("a", 300, 180, run="1") + pair("b", 305, 178, run="1"))
    earlier = out.readings.with_columns(pl.lit(None, pl.Int64).alias("row"))
    assert tube_pairs(earlier, constants_by_sample(out.results, [PROFILE])).is_empty()
    assert bench_findings(
        earlier, out.results, empty(SAMPLES), profiles=[PROFILE], scatter=DEFAULT_SCATTER
    ) == ()  # fmt: skip


def test_every_code_has_its_keys_and_a_day_without_samples_runs():
    rows = pair("a", 300, 304) + pair("b", 62, 62)
    out = judged(rows)
    assert bench_findings(
        out.readings, out.results, empty(SAMPLES), profiles=[PROFILE], scatter=DEFAULT_SCATTER
    ) == ()  # fmt: skip
    assert all(code == code.lower() and keys for code, keys in CODES.items())


def test_an_empty_day_runs():
    out = judged(pair("a", 300, 304))
    none = out.readings.clear(), out.results.clear(), empty(SAMPLES)
    assert bench_findings(*none, profiles=[PROFILE], scatter=DEFAULT_SCATTER) == ()


def test_a_hundred_thousand_rows_are_looked_at_in_a_moment():
    # A guard against quadratic growth, ten times the target of 0.3 s; the figure itself is a benchmark's.
    rng = np.random.default_rng(5)
    n = 100_000
    level = np.repeat(rng.uniform(150, 380, n // 2), 2)
    i = np.arange(n)
    sample = pl.Series(i // 2).cast(pl.String)
    frame = pl.DataFrame(
        {
            "row": i + 2, "sample": sample, "ticket": sample, "run": pl.Series(i // 4).cast(pl.String),
            "bath": "A", "position": pl.Series(i % 4).cast(pl.String), "position_stated": True,
            "stirrer_id": pl.Series(rng.integers(0, 12, n)).cast(pl.String),
            "tube_id": pl.Series(rng.integers(0, 60, n)).cast(pl.String),
            "seconds": np.round(level * rng.normal(1, 0.04, n)), "kind": 0,
        }
    )  # fmt: skip
    readings = conform(frame, JUDGED)
    first = frame.gather_every(2)
    results = conform(
        first.select("sample", "ticket", "seconds", "kind", pl.lit(PROFILE.name).alias("profile")), RESULTS
    )
    sheet = conform(
        first.select("row", "sample", "ticket").with_columns(
            kind=pl.lit("load"),
            mill_id=pl.lit("M1"),
            ground_mass_g=pl.lit(310.0),
            ground_at=pl.datetime_range(minute(0), minute(n), interval="1m", eager=True).head(n // 2),
        ),
        SAMPLES,
    )  # fmt: skip
    start = time.perf_counter()
    found = bench_findings(readings, results, sheet, profiles=[PROFILE], scatter=DEFAULT_SCATTER)
    spent = time.perf_counter() - start
    assert spent < 3.0
    assert all(f.code in CODES for f in found)
