"""Schedules as money against rules written down once more, by hand, for one number at a time."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lodestarch.trade.effect import Standing
from lodestarch.trade.net_price import net_curve, net_prices
from lodestarch.trade.offer import Clause, Judged
from lodestarch.trade.price_curve import price_curve
from lodestarch.trade.schedule import Action, Cliff, Premium, Side, Slope, Steps, Window
from trade.made import curve, offer, outlet, schedule

B, A = Side.BELOW, Side.ABOVE
STARTS = st.integers(200, 360).map(float)
AMOUNTS = st.integers(0, 40).map(float)
SECONDS = st.one_of(st.integers(62, 600).map(float), st.floats(62.0, 600.0))


def paid(made, x):
    return float(made.money.at(x)) if made.standing_at(x) is Standing.PAID else None


@given(STARTS, st.integers(1, 60), AMOUNTS, st.booleans(), st.booleans(), SECONDS)
@settings(max_examples=300)
def test_steps_as_counted_by_hand(start, step, amount, started, worse, x):
    made = curve(
        Steps(start, B, float(step), amount, started=started), boundary="worse" if worse else "better"
    )
    away = (start - x) / step
    if away < 0.0 or (away == 0.0 and not worse):
        steps = 0
    elif away == int(away):
        steps = int(away) + (1 if started else 0) if worse else int(away) - (0 if started else 1)
    else:
        steps = math.floor(away) + (1 if started else 0)
    assert paid(made, x) == pytest.approx(200.0 - amount * max(steps, 0))


@given(STARTS, st.floats(0.05, 2.0), st.one_of(st.none(), st.floats(1.0, 60.0)), SECONDS)
def test_a_slope_as_counted_by_hand(start, slope, most, x):
    taken = max(0.0, start - x) * slope
    made = curve(Slope(start, B, slope, most=most))
    assert paid(made, x) == pytest.approx(200.0 - (taken if most is None else min(taken, most)))


SHAPES = st.lists(
    st.one_of(
        st.builds(lambda s, w, d: (Steps(s, B, float(w), d),), STARTS, st.integers(5, 50), AMOUNTS),
        st.builds(
            lambda s, d, m: (Slope(s, B, d, most=m),), STARTS, st.floats(0.05, 1.0), AMOUNTS.filter(bool)
        ),
        st.builds(lambda s, d: (Cliff(s, A, Action.DISCOUNT, d),), STARTS, AMOUNTS),
        st.builds(lambda s, d: (Premium(s, A, d),), STARTS, AMOUNTS),
        st.builds(
            lambda s, w, d: (Window(s, s + w, Action.DISCOUNT, d),), STARTS, st.integers(5, 80), AMOUNTS
        ),
        st.builds(lambda s: (Cliff(s, B, Action.REJECT),), STARTS),
    ),
    min_size=1,
    max_size=3,
)


def alone(parts, x):
    return paid(curve(*parts), x)


@given(SHAPES, st.floats(62.3, 599.7).filter(lambda x: x != round(x)))
@settings(max_examples=200)
def test_several_schedules_add_up_or_the_worst_counts(shapes, x):
    made = [schedule(*parts, name=f"s{i}") for i, parts in enumerate(shapes)]
    each = [alone(parts, x) for parts in shapes]
    for combine in ("additive", "worst-only"):
        got = price_curve(offer(schedules=[s.id for s in made], combine=combine), made, {}, "USD").curve
        if None in each:
            assert paid(got, x) is None
        elif combine == "additive":
            assert paid(got, x) == pytest.approx(200.0 + sum(e - 200.0 for e in each))
        else:
            assert paid(got, x) == pytest.approx(min(each))


@given(STARTS, st.integers(5, 50), AMOUNTS, st.integers(100, 500).map(float))
def test_with_whole_seconds_the_unrounded_report_gets_the_price_of_the_rounded_one(
    start, step, amount, whole
):
    parts = (Steps(start, B, float(step), amount),)
    counts = Clause("fn_s", Judged.PER_LOAD, start, None, counts_from=start - 0.5)
    exact, rounding = curve(*parts), curve(*parts, clauses=(counts,))
    for x in (whole - 0.5, whole - 0.2, whole, whole + 0.49):
        assert paid(rounding, x) == pytest.approx(paid(exact, whole))


@given(SHAPES, st.floats(150.0, 420.0), st.floats(1.0, 30.0))
@settings(max_examples=60)
def test_the_net_lies_between_the_least_and_the_most_that_can_be_paid(shapes, mean, u):
    made = [schedule(*parts, name=f"s{i}") for i, parts in enumerate(shapes)]
    price = price_curve(offer(schedules=[s.id for s in made], combine="additive"), made, {}, "USD").curve
    place = outlet(price)
    got = net_prices([place], mean, u, 25.0, turned_away_per_t=120.0)
    reports = np.linspace(mean - 12 * (u + 13), mean + 12 * (u + 13), 20_001)
    money = net_curve(place, 25.0, 120.0).at(reports)
    assert money.min() - 1e-6 <= got.net_per_t[0, 0] <= money.max() + 1e-6
    assert 0.0 <= got.p_turned_away[0, 0] <= 1.0
    assert got.spread_per_t[0, 0] >= 0.0
