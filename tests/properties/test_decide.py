"""Decisions: what must hold for every schedule, result and rule."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from lodestarch.common.money import MoneyBySeconds, constant_money
from lodestarch.decide.aim import aim_point
from lodestarch.decide.belief import Results
from lodestarch.decide.combine import CombineRule, combined_by, money_under
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.expected_money import expected_money, expected_money_rounded
from lodestarch.decide.gain import AnotherTest, Design, Source, Spread, gain_of
from lodestarch.decide.information import worth_of_information
from lodestarch.decide.limits import Limits
from lodestarch.decide.odds import odds
from lodestarch.decide.risk import Rule, risks

seconds = st.floats(70.0, 500.0)
sds = st.floats(0.5, 40.0)


@st.composite
def moneys(draw) -> MoneyBySeconds:
    breaks = sorted(draw(st.lists(st.integers(150, 400), min_size=1, max_size=5, unique=True)))
    n = len(breaks) + 1
    slope = draw(st.lists(st.floats(-2.0, 2.0), min_size=n, max_size=n))
    at_300 = draw(st.lists(st.floats(0.0, 300.0), min_size=n, max_size=n))
    owns = draw(st.lists(st.booleans(), min_size=n - 1, max_size=n - 1))
    return MoneyBySeconds(
        np.array(breaks, dtype=float),
        np.array(at_300) - 300.0 * np.array(slope),
        np.array(slope),
        np.array(owns, dtype=bool),
        "USD",
    )


@given(moneys(), seconds, sds, st.floats(-50.0, 50.0))
def test_money_shifts_with_its_seconds(money, m, s, by):
    moved = MoneyBySeconds(
        money.breaks_s + by,
        money.intercept - money.slope_per_s * by,
        money.slope_per_s,
        money.upper_owns,
        "USD",
    )
    a, b = float(expected_money(money, m, s)), float(expected_money(moved, m + by, s))
    assert math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-6)


@given(moneys(), seconds, sds)
def test_expected_money_is_linear_and_bounded_by_its_function(money, m, s):
    twice = float(expected_money(money.times(2.0).plus(5.0), m, s))
    assert math.isclose(twice, 2.0 * float(expected_money(money, m, s)) + 5.0, rel_tol=1e-9, abs_tol=1e-6)
    flat = MoneyBySeconds(
        money.breaks_s, money.at(money.breaks_s[:1])[0] + np.arange(money.intercept.size, dtype=float),
        np.zeros_like(money.intercept), money.upper_owns, "USD",
    )  # fmt: skip
    got = float(expected_money(flat, m, s))
    assert flat.intercept.min() - 1e-9 <= got <= flat.intercept.max() + 1e-9


@given(moneys(), seconds, st.floats(2.0, 40.0))
def test_fine_steps_are_no_steps(money, m, s):
    # A jump of 300 at most moves by half a step: 300 * step/2 * density of the report.
    near = 6 * 400.0 * 0.005 / s + 0.1
    assert (
        abs(float(expected_money_rounded(money, m, s, step_s=0.01)) - float(expected_money(money, m, s)))
        < near
    )


@given(seconds, sds, seconds, st.floats(1.0, 30.0))
def test_odds_grow_with_the_result_and_stay_odds(x, u, limit, more):
    got = odds(Results.of([x, x + more], u), Limits(limit), deciding=DecidingLab(10.0))
    for chance in (got.p_true, got.p_same_lab, got.p_other_lab):
        assert chance is not None
        assert chance.p[0] <= chance.p[1] + 1e-12
        np.testing.assert_allclose(chance.p + chance.under + chance.over, 1.0, atol=1e-9)


@given(st.floats(0.5, 0.999), sds, st.floats(0.0, 30.0), st.floats(-15.0, 15.0))
def test_the_aim_has_the_odds_that_were_wanted(wanted, u, lab, bias):
    deciding = DecidingLab(lab, bias_s=bias)
    aim = aim_point(Limits(300.0), wanted, u, deciding=deciding)
    got = odds(Results.of(aim.from_s, u), Limits(300.0), deciding=deciding).p_other_lab
    assert got is not None
    assert math.isclose(float(got.p[0]), wanted, abs_tol=1e-7)


@given(
    st.sampled_from(list(Source)), st.floats(1.0, 15.0), st.floats(0.0, 10.0), st.floats(0.0, 10.0),
    st.integers(1, 4), st.integers(1, 4),
)  # fmt: skip
def test_a_test_never_moves_more_than_there_is_to_know(source, tube, grind, probe, tubes, new):
    spread, design = Spread(tube, grind, probe), Design(tubes)
    u = math.sqrt(sum(design.parts(spread).values()))
    gain = gain_of(AnotherTest("", source, Design(new)), spread, design, 300.0)
    assert 0.0 <= gain.gain_true_s <= u + 1e-9
    more = gain_of(AnotherTest("", source, Design(new + 1)), spread, design, 300.0)
    assert more.gain_true_s >= gain.gain_true_s - 1e-9


@given(
    moneys(),
    moneys(),
    st.floats(250.0, 350.0),
    st.floats(3.0, 20.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
)
def test_knowing_more_is_never_worth_less(first, second, m, s, part, further):
    outlets = [first, second, constant_money(150.0, "USD")]
    gains = sorted((part * 0.98 * s, further * 0.98 * s))
    worth = [float(worth_of_information(outlets, [m] * 3, [s] * 3, [g, g, 0.0]).worth[0]) for g in gains]
    scale = max(abs(first.at(np.arange(200.0, 400.0))).max(), abs(second.at(np.arange(200.0, 400.0))).max())
    assert worth[0] <= worth[1] + 1e-3 * scale
    assert worth[0] >= 0.0


@given(
    moneys(),
    st.sampled_from(list(CombineRule)),
    st.floats(250.0, 350.0),
    st.floats(0.0, 30.0),
    st.floats(200.0, 400.0),
)
def test_money_under_a_rule_is_the_money_of_its_number(money, rule, x, apart, y):
    earlier = [x] if rule is CombineRule.OFFICIAL_APPEAL else [x, x + apart]
    law = combined_by(rule, earlier, sd_s=5.0)
    both = money_under(money, law)
    if np.min(np.abs(both.breaks_s - y), initial=1.0) > 1e-6:
        assert math.isclose(float(both.at(y)), float(money.at(law.at(y))), rel_tol=1e-9, abs_tol=1e-6)


@given(
    st.floats(250.0, 350.0),
    st.floats(1.0, 50.0),
    st.floats(1.0, 30.0),
    st.floats(-20.0, 40.0),
    st.floats(0.5, 20.0),
)
def test_a_wider_guard_band_accepts_fewer_and_wrongs_the_consumer_less(mean, sd, u, guard, wider):
    a = risks(Rule.guarded(300.0, math.inf, guard), mean, sd, u)
    b = risks(Rule.guarded(300.0, math.inf, guard + wider), mean, sd, u)
    assert b.consumer <= a.consumer + 1e-12
    assert b.producer >= a.producer - 1e-12
    assert b.accepted <= a.accepted + 1e-12
    assert math.isclose(a.accepted, a.consumer + a.conforming - a.producer, abs_tol=1e-9)
