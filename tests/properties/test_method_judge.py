"""Judging: the same alone and in company, in any order, surer with more tubes, whole for any table."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_day import readings
from lodestarch.method.judge import (
    AGREES,
    GroupResults,
    Status,
    agreement_limit_s,
    judge_groups,
    range_factor,
)
from lodestarch.method.judging import judge
from lodestarch.method.reading import CAUSES, Kind
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profile
from method.support import own

PROFILES = st.sampled_from(
    [
        shipped_profile("meal-15"),
        own(disagreement_rule="fresh-pair-alone"),
        own(agreement_unit="s", agreement_limits=((0.0, 8.0), (200.0, 15.0), (300.0, 25.0))),
        own(tubes=3.0, rounding_s=5.0),
    ]
)
TUBE = st.tuples(
    st.one_of(st.integers(60, 420).map(float), st.floats(60.0, 420.0), st.just(62.0)),
    st.sampled_from([Kind.EXACT, Kind.EXACT, Kind.EXACT, Kind.AT_OR_BELOW, Kind.ABOVE]),
    st.booleans(),
    st.integers(0, 1),
)
GROUPS = st.lists(st.lists(TUBE, min_size=0, max_size=6), min_size=1, max_size=6)


def judged(groups, profile, order=None) -> GroupResults:
    rows = [(i, *tube) for i, tubes in enumerate(groups) for tube in tubes]
    if order is not None:
        order.shuffle(rows)
    g, s, k, c, r = (
        np.array([row[j] for row in rows], dtype=t)
        for j, t in enumerate((np.int64, np.float64, np.int8, np.bool_, np.int64))
    )
    return judge_groups(g, s, k, c, profile.constants, DEFAULT_SCATTER, groups=len(groups), run_order=r)


def same(first: GroupResults, second: GroupResults, i: int, j: int) -> None:
    for field in fields(GroupResults):
        if field.name == "counted":
            continue
        a, b = getattr(first, field.name)[i], getattr(second, field.name)[j]
        if isinstance(a, (np.floating, float)):
            assert a == pytest.approx(b, rel=1e-12, nan_ok=True), field.name
        else:
            assert a == b, field.name


@settings(deadline=None, max_examples=60)
@given(GROUPS, PROFILES)
def test_a_sample_is_judged_alone_as_in_company(groups, profile):
    together = judged(groups, profile)
    for i, tubes in enumerate(groups):
        same(together, judged([tubes], profile), i, 0)


@settings(deadline=None, max_examples=60)
@given(GROUPS, PROFILES, st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(groups, profile, shuffle):
    straight, mixed = judged(groups, profile), judged(groups, profile, shuffle)
    for i in range(len(groups)):
        same(straight, mixed, i, i)


@settings(deadline=None, max_examples=60)
@given(GROUPS, PROFILES)
def test_what_is_said_holds_between_the_least_and_the_most_that_was_read(groups, profile):
    res = judged(groups, profile)
    floor = profile.constants.floor_s
    for i, tubes in enumerate(groups):
        counted = [max(s, floor) if k is Kind.EXACT else s for s, k, c, _ in tubes if c]
        if not counted:
            assert res.status[i] == Status.NONE.value
            assert np.isnan(res.seconds[i])
            continue
        assert min(counted) - 1e-9 <= res.mean_s[i] <= max(counted) + 1e-9
        assert abs(res.seconds[i] - res.mean_s[i]) < profile.constants.rounding_s + 1e-6
        censored = any(k is not Kind.EXACT or s <= floor for s, k, c, _ in tubes if c)
        assert censored or res.kind[i] == Kind.EXACT
        assert np.isnan(res.u_s[i]) or (res.u_s[i] > 0.0 and res.kind[i] == Kind.EXACT)
        assert res.status[i] != Status.HELD.value or np.isnan(res.u_s[i])


@settings(deadline=None)
@given(st.floats(70.0, 420.0), st.lists(st.floats(-0.02, 0.02), min_size=2, max_size=8))
def test_more_tubes_never_make_an_agreeing_sample_less_sure(level, offsets):
    previous = np.inf
    for n in range(1, len(offsets) + 1):
        tubes = [(level * (1.0 + x), Kind.EXACT, True, 0) for x in offsets[:n]]
        res = judged([tubes], shipped_profile("meal-15"))
        assert n == 1 or res.agreement[0] == AGREES
        assert res.u_s[0] < previous
        previous = res.u_s[0]


@settings(deadline=None)
@given(st.lists(st.floats(63.0, 420.0), min_size=2, max_size=6), st.floats(0.2, 3.0))
def test_per_cent_limits_do_not_depend_on_the_unit_of_time(values, factor):
    """Readings and constants stretched together agree or disagree as before."""
    plain = own(floor_s=1.0, stirring_s=1.0)
    first = judged([[(v, Kind.EXACT, True, 0) for v in values]], plain)
    other = judged([[(v * factor, Kind.EXACT, True, 0) for v in values]], plain)
    if abs(first.spread_s[0] - first.limit_s[0]) > 1e-6:
        assert first.agreement[0] == other.agreement[0]
        assert other.mean_s[0] == pytest.approx(first.mean_s[0] * factor)


@settings(deadline=None)
@given(PROFILES, st.lists(st.floats(60.0, 900.0), min_size=1, max_size=10), st.integers(1, 9))
def test_limits_are_the_same_for_scalars_and_arrays_and_wider_for_more_tubes(profile, levels, tubes):
    c = profile.constants
    every = agreement_limit_s(np.array(levels), c, tubes)
    assert every.tolist() == [float(agreement_limit_s(x, c, tubes)) for x in levels]
    assert np.all(agreement_limit_s(np.array(levels), c, tubes + 1) >= every)
    assert range_factor(tubes + 2) > range_factor(tubes + 1)


SAMPLE_ROW = st.fixed_dictionaries(
    {
        "sample": st.sampled_from("ABCD"),
        "seconds": st.one_of(st.integers(20, 450).map(str), st.sampled_from(["<=62", ">400", "2870", "62"])),
        "run": st.sampled_from(["1", "2"]),
        "moisture_pct": st.sampled_from([None, 7.0, 12.0, 14.0, 17.0]),
        "mass_g": st.sampled_from([None, 6.8, 7.0, 7.2]),
        "pressure_hpa": st.sampled_from([None, 29.9, 930.0, 1010.0]),
        "corrected_by_instrument": st.sampled_from([None, True, False]),
        "set_aside_cause": st.sampled_from([None, None, None, *CAUSES]),
        "profile": st.sampled_from([None, None, None, "meal-14", "rye-9g", "nobody"]),
    }
)
KNOWN = {p: shipped_profile(p) for p in ("meal-14", "rye-9g")}
CORRECTING = own("meal-14", correction_form="log-linear-elevation", correction_coefficients="5e-6")


@settings(deadline=None, max_examples=60)
@given(
    st.lists(SAMPLE_ROW, min_size=1, max_size=14), st.sampled_from([shipped_profile("meal-14"), CORRECTING])
)
def test_any_table_is_judged_whole_and_each_sample_as_if_alone(rows, profile):
    frame = readings(rows)
    whole = judge(frame, KNOWN, profile, DEFAULT_SCATTER, elevation_m=520.0)
    assert whole.readings.height == len(rows)
    assert whole.readings.drop("state", "state_code", "portion_g", "profile").equals(frame.drop("profile"))
    assert sorted(whole.results["sample"]) == sorted({r["sample"] for r in rows})
    for result in whole.results.iter_rows(named=True):
        mine = whole.readings.filter(pl.col("sample") == result["sample"])
        assert result["set_aside"] + result["run_again"] <= mine.height
        if result["status"] == "none":
            assert result["seconds"] is None
        alone = judge(
            frame.filter(pl.col("sample") == result["sample"]), KNOWN, profile, DEFAULT_SCATTER
        ).results.row(0, named=True)
        for key, value in result.items():
            assert alone[key] == (pytest.approx(value, rel=1e-12) if isinstance(value, float) else value), key
