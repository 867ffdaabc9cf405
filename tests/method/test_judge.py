"""Rules from readings to one result, against an enumeration of what the tubes may have been."""

from __future__ import annotations

from itertools import combinations_with_replacement, product

import numpy as np
import pytest

from lodestarch.method.judge import AGREES, DISAGREES, NOT_JUDGED, Status, agreement_limit_s, judge_groups
from lodestarch.method.reading import Kind, parse_seconds
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profile
from method.support import group, own, said

MEAL = shipped_profile("meal-15")
FRESH_ALONE = own(disagreement_rule="fresh-pair-alone")
FAR = 1e6
"""Stands for 'no upper end' where what a stopped tube may have been is enumerated."""


# --- one, two, three, four tubes --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tubes", "expected", "agreement"),
    [
        (["287"], "screen 287", NOT_JUDGED),
        (["62"], "screen <=62", NOT_JUDGED),
        ([">400"], "screen >400", NOT_JUDGED),
        (["287", "290"], "preliminary 289", AGREES),  # 288.5
        (["285", "315"], "preliminary 300", AGREES),  # exactly 10 % of the mean
        (["284.9", "315.1"], "held 300", DISAGREES),
        (["754.3", "833.7"], "preliminary 794", AGREES),  # exactly 10 %, which binary floats put a hair above
        (["250", "300"], "held 275", DISAGREES),
        (["61", "62"], "preliminary <=62", AGREES),
        (["<=62", "64"], "preliminary <=63", AGREES),
        (["62", "66"], "preliminary <=64", AGREES),  # 60 to 62 and 66: 6 s at most, 6.4 s allowed
        (["62", "67"], "preliminary <=65", NOT_JUDGED),  # 5 to 7 s, 6.45 s allowed: it cannot be told
        (["62", "80"], "held <=71", DISAGREES),
        (["62", "300"], "held <=181", DISAGREES),
        ([">400", ">400"], "preliminary >400", NOT_JUDGED),
        (["390", ">401"], "preliminary >395", NOT_JUDGED),  # 395.5, rounded outward
        (["300", ">400"], "held >350", DISAGREES),
        (["62", ">400"], "held >231", DISAGREES),
        (["287", "290", "292"], "preliminary 290", AGREES),
        (
            ["280", "300", "313"],
            "preliminary 298",
            AGREES,
        ),  # 33 s, over 10 % of the mean and within the factor for three
        (["250", "290", "300"], "preliminary 290", DISAGREES),
        (["62", "62", "61"], "preliminary <=62", AGREES),
        (["62", "290", "300"], "preliminary 290", DISAGREES),  # the median does not mind how low the floor is
        (["290", "300", ">400"], "preliminary 300", DISAGREES),
        ([">280", "300", "400"], "preliminary >300", DISAGREES),
        ([">280", ">280", "400"], "preliminary >280", NOT_JUDGED),
        (["62", "61", "300"], "preliminary <=62", DISAGREES),
        (["62", "300", ">400"], "preliminary 300", DISAGREES),
        (
            ["62", ">290", "300"],
            "held >290",
            DISAGREES,
        ),  # censored at both ends, and the median is one of them
        (["250", "300", "301", "303"], "preliminary 301", DISAGREES),  # 300.5
        (["290", "292", "300", "303"], "preliminary 296", AGREES),
        (["62", "61", "300", "310"], "preliminary <=181", DISAGREES),
        (["300", "310", ">400", ">400"], "preliminary >355", DISAGREES),
    ],
)
def test_readings_to_result(tubes, expected, agreement):
    res = group(*tubes)
    assert said(res) == expected
    assert int(res.agreement[0]) == agreement
    assert int(res.tubes[0]) == len(tubes)


def test_no_reading_no_result():
    none = judge_groups(
        np.zeros(2, np.int64),
        np.array([290.0, 300.0]),
        np.zeros(2, np.int8),
        np.zeros(2, bool),
        MEAL.constants,
        DEFAULT_SCATTER,
        groups=1,
    )
    assert (none.status[0], none.tubes[0]) == (Status.NONE.value, 0)
    for x in (none.mean_s, none.seconds, none.spread_s, none.limit_s, none.u_s):
        assert np.isnan(x[0])


def test_no_groups_at_all():
    empty = judge_groups(
        np.zeros(0, np.int64),
        np.zeros(0),
        np.zeros(0, np.int8),
        np.zeros(0, bool),
        MEAL.constants,
        DEFAULT_SCATTER,
        groups=0,
    )
    assert empty.status.size == empty.mean_s.size == 0


PALETTE = ("<=62", "61", "64", "290", "300", "318", ">280", ">400")


def interval(text: str, c) -> tuple[float, float]:
    """What one tube may have been."""
    r = parse_seconds(text)
    if r.kind is Kind.ABOVE:
        return r.value_s, FAR
    if r.kind is Kind.AT_OR_BELOW or r.value_s <= c.floor_s:
        return c.stirring_s, max(r.value_s, c.floor_s)
    return r.value_s, r.value_s


@pytest.mark.parametrize("n", [1, 2, 3, 4])
@pytest.mark.parametrize("profile", [MEAL, own(tubes=3.0)], ids=["two asked for", "three asked for"])
def test_what_is_said_is_true_of_everything_that_the_tubes_may_have_been(n, profile):
    """Kind and bound against enumeration: exact only where nothing can move it, a bound only where it holds.

    Every value that matters lies at an end of some interval, so trying the ends tries everything. A sample
    that is held states nothing, and is not looked at here.
    """
    c = profile.constants
    for tubes in combinations_with_replacement(PALETTE, n):
        res = group(*tubes, profile=profile)
        ends = [interval(t, c) for t in tubes]
        worlds = np.array(list(product(*ends)))
        levels = np.unique(np.array(ends))
        worlds_least = np.array([[min(max(x, lo), hi) for lo, hi in ends] for x in levels])
        limit = res.limit_s[0]
        if n >= 2:
            least, most = np.ptp(worlds_least, axis=1).min(), np.ptp(worlds, axis=1).max()
            expected = DISAGREES if least > limit + 1e-9 else AGREES if most <= limit + 1e-9 else NOT_JUDGED
            assert int(res.agreement[0]) == expected, tubes
        if res.status[0] == Status.HELD.value:
            continue
        means, medians = worlds.mean(axis=1), np.median(worlds, axis=1)
        statistic = medians if res.median_used[0] else means
        if n > c.tubes and int(res.agreement[0]) == NOT_JUDGED:
            statistic = np.concatenate((means, medians))  # either may be the result
        low, high, shown = statistic.min(), statistic.max(), float(res.seconds[0])
        kind = Kind(int(res.kind[0]))
        if kind is Kind.EXACT:
            assert low == high == pytest.approx(float(res.mean_s[0])), tubes
            assert abs(shown - low) <= 0.5, tubes
        elif kind is Kind.AT_OR_BELOW:
            assert low < high <= shown < high + 1.0, tubes
            assert np.isnan(res.u_s[0]), tubes
        else:
            assert shown <= low < high, tubes
            assert low - 1.0 < shown, tubes
            assert np.isnan(res.u_s[0]), tubes


@pytest.mark.parametrize("n", [1, 2, 3, 4])
def test_status_by_number_of_tubes_and_agreement(n):
    for asked in (1, 2, 3):
        profile = own(tubes=float(asked))
        for tubes in combinations_with_replacement(("290", "300", "360"), n):
            res = group(*tubes, profile=profile)
            disagrees = n >= 2 and int(res.agreement[0]) == DISAGREES
            if disagrees and n <= asked:
                expected = Status.HELD
            elif n < asked:
                expected = Status.SCREEN
            else:
                expected = Status.PRELIMINARY
            assert res.status[0] == expected.value, (asked, tubes)
            assert bool(res.median_used[0]) == (disagrees and n > asked)


def test_a_pair_that_disagrees_has_no_uncertainty_while_it_is_held():
    assert np.isnan(group("250", "300").u_s[0])
    assert group("287", "290").u_s[0] == pytest.approx(0.02 * 288.5 / np.sqrt(2.0))


# --- floors -----------------------------------------------------------------------------------------------


def test_stirring_time_and_floor_are_two_constants():
    sixty = own(floor_s=60.0)
    assert said(group("61", "61", profile=sixty)) == "preliminary 61"
    assert said(group("60", "60", profile=sixty)) == "preliminary <=60"
    assert said(group("61", "61")) == "preliminary <=62"


def test_exact_readings_at_the_floor_count_as_the_floor_whatever_their_decimals():
    assert group("60.2", "61.9").mean_s[0] == 62.0
    assert group("60.2", "61.9").spread_s[0] == 0.0


# --- more than one pair -----------------------------------------------------------------------------------


def test_all_count_uses_the_fresh_pair_and_the_first_one():
    res = group("250", "300", "288", "290", runs=[0, 0, 1, 1])
    assert said(res) == "preliminary 289"
    assert bool(res.median_used[0])
    assert int(res.tubes[0]) == 4
    agreeing = group("270", "305", "288", "290", runs=[0, 0, 1, 1])  # 35 s, within the factor for four
    assert said(agreeing) == "preliminary 288"
    assert not agreeing.median_used[0]


def test_fresh_pair_alone_leaves_the_pair_that_disagreed_out():
    res = group("250", "300", "288", "290", runs=[0, 0, 1, 1], profile=FRESH_ALONE)
    assert said(res) == "preliminary 289"
    assert int(res.tubes[0]) == 2
    assert res.counted.tolist() == [False, False, True, True]
    assert res.u_s[0] == pytest.approx(0.02 * 289.0 / np.sqrt(2.0))


def test_fresh_pair_alone_with_a_fresh_pair_that_disagrees_too_counts_all():
    res = group("250", "300", "240", "310", runs=[0, 0, 1, 1], profile=FRESH_ALONE)
    assert int(res.tubes[0]) == 4
    assert int(res.agreement[0]) == DISAGREES
    assert said(res) == "preliminary 275"


def test_fresh_pair_alone_needs_a_full_fresh_pair():
    res = group("250", "300", "288", runs=[0, 0, 1], profile=FRESH_ALONE)
    assert int(res.tubes[0]) == 3
    assert said(res) == "preliminary 288"


def test_fresh_pair_alone_is_the_same_as_all_count_for_one_run():
    for tubes in (["250", "300"], ["287", "290"], ["250", "290", "300"], ["62"]):
        assert said(group(*tubes, runs=[0] * len(tubes), profile=FRESH_ALONE)) == said(group(*tubes))


@pytest.mark.parametrize(
    "profile", [own(on_disagreement="third-tube"), MEAL], ids=["third tube", "fresh pair"]
)
def test_a_third_tube_counts_beside_the_pair_and_does_not_replace_one(profile):
    assert said(group("250", "300", "302", profile=profile)) == "preliminary 300"
    assert said(group("270", "301", "300", profile=profile)) == "preliminary 290"


def test_which_reading_came_last_makes_no_difference():
    first = group("250", "300", "302")
    for order in (["302", "250", "300"], ["300", "302", "250"]):
        assert said(group(*order)) == said(first)


# --- limits, rounding -------------------------------------------------------------------------------------


def test_agreement_limit_by_level_in_seconds_and_per_cent():
    by_level = own(agreement_unit="s", agreement_limits=((0.0, 10.0), (250.0, 20.0)))
    assert said(group("240", "251", profile=by_level)) == "held 246"
    assert said(group("245", "260", profile=by_level)) == "preliminary 253"
    per_cent = own(agreement_limits=((0.0, 10.0), (250.0, 5.0)))
    assert said(group("240", "259", profile=per_cent)) == "preliminary 250"  # mean 249.5: 10 % still
    assert said(group("242", "259", profile=per_cent)) == "held 251"  # mean 250.5: 5 %


def test_the_limit_shown_is_the_one_used():
    res = group("280", "300", "313")
    assert res.limit_s[0] == pytest.approx(float(agreement_limit_s(893.0 / 3.0, MEAL.constants, 3)))
    assert res.spread_s[0] == 33.0


@pytest.mark.parametrize(
    ("step", "tubes", "expected"),
    [
        (1.0, ["287", "288"], 288.0),
        (5.0, ["287", "288"], 290.0),
        (0.1, ["287.12", "287.13"], 287.1),
        (5.0, ["62", "64"], 65.0),
        (5.0, ["393", ">400"], 395.0),
        (10.0, ["390", ">401"], 390.0),
        (10.0, [">400", ">400"], 400.0),
        (0.1, [">400", ">400"], 400.0),
        (10.0, ["62", "62"], 70.0),
    ],
)
def test_results_round_to_nearest_and_bounds_round_outward(step, tubes, expected):
    assert group(*tubes, profile=own(rounding_s=step)).seconds[0] == expected
