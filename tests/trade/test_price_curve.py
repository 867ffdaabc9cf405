from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer
from lodestarch.trade.effect import Standing
from lodestarch.trade.money_unit import MoneyUnit
from lodestarch.trade.offer import Clause, Judged
from lodestarch.trade.price_curve import price_curve
from lodestarch.trade.schedule import Action, Band, Cliff, Premium, Side, Slope, Steps, Table, Window
from trade.made import curve, offer, schedule

B, A = Side.BELOW, Side.ABOVE


def paid(made, *seconds):
    """Prices, None where there is none."""
    return [
        float(made.money.at(x)) if made.standing_at(x) is Standing.PAID else None for x in map(float, seconds)
    ]


def test_steps_count_from_the_first_started_second():
    """25 s steps below 300: 299 costs one step already; 275 is the end of the first."""
    made = curve(Steps(300, B, 25, 9, end=250), Cliff(250, B, Action.REJECT))
    assert paid(made, 300, 299, 275, 274.9, 250, 249.9) == [200, 191, 191, 182, 182, None]


def test_on_a_boundary_the_worse_side_takes_the_worse_price():
    made = curve(Steps(300, B, 25, 9, end=250), Cliff(250, B, Action.REJECT), boundary="worse")
    assert paid(made, 300.1, 300, 275, 250.1, 250) == [200, 191, 182, 182, None]


def test_full_steps_cost_nothing_until_they_are_full():
    made = curve(Steps(300, B, 25, 9, started=False))
    assert paid(made, 299, 276, 275, 274, 249) == [200, 200, 200, 191, 182]
    worse = curve(Steps(300, B, 25, 9, started=False), boundary="worse")
    assert paid(worse, 276, 275) == [200, 191]


def test_steps_stop_growing_at_the_most():
    made = curve(Steps(300, B, 10, 4, most=10))
    assert paid(made, 295, 285, 275, 100) == [196, 192, 190, 190]


def test_a_slope_is_proportional_and_capped():
    made = curve(Slope(300, B, 0.8, most=40))
    assert paid(made, 320, 300, 290, 250, 249, 62) == pytest.approx([200, 200, 192, 160, 160, 160])
    per = curve(Slope(300, B, 4, per=10))
    assert paid(per, 280) == pytest.approx([192])


def test_premiums_flat_by_steps_and_in_proportion():
    assert paid(curve(Premium(330, A, 2)), 329, 330, 500) == [200, 202, 202]
    assert paid(curve(Premium(330, A, 2, step=10, most=5)), 331, 341, 400) == [202, 204, 205]
    assert paid(curve(Premium(330, A, 2, per=10, most=5)), 330, 340, 400) == pytest.approx([200, 202, 205])


def test_a_window_takes_off_on_both_sides_and_its_ends_are_inside():
    made = curve(Window(220, 290, Action.DISCOUNT, 15.0))
    assert paid(made, 219.9, 220, 290, 290.1) == [185, 200, 200, 185]
    turned = curve(Window(220, 290, Action.REJECT))
    assert paid(turned, 219, 255, 291) == [None, 200, None]


def test_beyond_a_cliff_another_price_is_paid_whatever_else_the_schedule_says():
    made = curve(Steps(300, B, 25, 9, end=250), Cliff(250, B, Action.PRICE, price=150.0))
    assert paid(made, 251, 249) == [182, 150]


def test_a_price_where_nothing_is_stated_is_no_price():
    table = Table((Band(275.0, 299.0, 10.0), Band(250.0, 274.0, 20.0)))
    made = curve(table, stated_to=1)
    assert paid(made, 300, 299, 275, 274, 250, 249) == [200, 190, 190, 180, 180, None]
    assert made.standing_at(240.0) is Standing.NOT_STATED
    # Between whole seconds the report rounds, halves up.
    assert paid(made, 299.4, 299.5, 274.4, 274.5) == [190, 200, 180, 190]


def test_shares_are_taken_of_the_price_as_the_schedules_before_left_it():
    money = schedule(Cliff(300, B, Action.DISCOUNT, 20.0), name="m")
    share = schedule(Cliff(300, B, Action.DISCOUNT, 0.1), unit=None, name="x")
    both = offer(schedules=("m", "x"), combine="additive")
    first = price_curve(both, [money, share], {}, "USD").curve
    other = price_curve(both, [share, money], {}, "USD").curve
    assert paid(first, 299) == pytest.approx([(200 - 20) * 0.9])
    assert paid(other, 299) == pytest.approx([200 * 0.9 - 20])


def test_of_several_only_the_worst_counts():
    fn = schedule(Slope(300, B, 1.0), name="f")
    protein = schedule(Slope(13.0, B, 10.0), factor="protein_pct", name="p")
    both = offer(schedules=("f", "p"), combine="worst-only")
    made = price_curve(both, [fn, protein], {"protein_pct": 11.0}, "USD").curve
    assert paid(made, 310, 290, 280, 270) == pytest.approx([180, 180, 180, 170])
    added = price_curve(
        offer(schedules=("f", "p"), combine="additive"), [fn, protein], {"protein_pct": 11.0}, "USD"
    )
    assert paid(added.curve, 310, 270) == pytest.approx([180, 150])


def test_a_premium_does_not_save_the_worst_of_several():
    fn = schedule(Premium(330, A, 5), name="f")
    damage = schedule(Slope(4, A, 2), factor="damage_pct", name="d")
    both = offer(schedules=("f", "d"), combine="worst-only")
    made = price_curve(both, [fn, damage], {"damage_pct": 5.0}, "USD").curve
    assert paid(made, 340) == pytest.approx([198])


def test_another_factor_on_its_boundary_and_beyond_its_cliff():
    protein = schedule(Steps(14.0, B, 0.2, 3, end=13.0), Cliff(13.0, B, Action.REJECT), factor="protein_pct")
    at = lambda pct: price_curve(offer(), [protein], {"protein_pct": pct}, "USD")  # noqa: E731 - local and short
    assert paid(at(13.8).curve, 300) == [197]
    assert paid(at(13.0).curve, 300) == pytest.approx([185])
    gone = at(12.9)
    assert (paid(gone.curve, 300), gone.turned_away_by) == ([None], ("protein_pct",))


def test_a_factor_that_is_not_known_is_named_and_left_out():
    protein = schedule(Slope(13.0, B, 10.0), factor="protein_pct")
    made = price_curve(offer(), [protein], {}, "USD")
    assert (paid(made.curve, 300), made.missing) == ([200], ("protein_pct",))


def test_limits_without_a_schedule_leave_no_price_beyond_them():
    clause = Clause("fn_s", Judged.PER_LOAD, 120.0, 150.0)
    made = price_curve(offer(clauses=(clause,), schedules=()), [], {}, "USD").curve
    assert paid(made, 119.9, 120, 150, 150.1) == [None, 200, 200, None]
    moist = Clause("moisture_pct", Judged.PER_LOAD, None, 15.5)
    wet = price_curve(offer(clauses=(moist,), schedules=()), [], {"moisture_pct": 15.6}, "USD")
    dry = price_curve(offer(clauses=(moist,), schedules=()), [], {"moisture_pct": 15.5}, "USD")
    assert (wet.turned_away_by, dry.turned_away_by) == (("moisture_pct",), ())


def test_whole_seconds_move_every_jump_by_half_a_second_and_no_bend():
    clause = Clause("fn_s", Judged.PER_LOAD, 300.0, None, counts_from=299.5)
    made = curve(Steps(300, B, 25, 9, end=250), Cliff(250, B, Action.REJECT), clauses=(clause,))
    assert list(made.money.breaks_s) == [249.5, 274.5, 299.5]
    bend = curve(Slope(300, B, 1.0), clauses=(clause,))
    assert list(bend.money.breaks_s) == [300.0]
    ceiling = Clause("fn_s", Judged.PER_LOAD, None, 290.0, counts_to=290.5)
    window = curve(Window(220, 290, Action.DISCOUNT, 15.0), clauses=(ceiling,))
    assert list(window.money.breaks_s) == [219.5, 290.5]


def test_a_tolerance_that_is_no_rounding_moves_the_limit_alone():
    clause = Clause("fn_s", Judged.PER_LOAD, 300.0, None, counts_from=297.0)
    made = curve(Steps(300, B, 25, 9, end=250), Cliff(250, B, Action.REJECT), clauses=(clause,))
    assert list(made.money.breaks_s) == [250.0, 275.0, 297.0]


def test_two_schedules_that_give_one_second_to_different_sides_both_keep_it():
    low = schedule(Window(200, 300, Action.DISCOUNT, 10.0), name="w")  # 300 is inside, above it is not
    high = schedule(Premium(300, A, 3), name="p")  # 300 has the premium already
    both = offer(schedules=("w", "p"), combine="additive")
    made = price_curve(both, [low, high], {}, "USD").curve
    assert paid(made, 299.9, 300.1) == [200, 193]
    assert paid(made, 300) == [203]


@pytest.mark.parametrize(
    ("what", "code"),
    [
        (lambda: price_curve(offer(None), [], {}, "USD"), "price-missing"),
        (lambda: price_curve(offer(unit=MoneyUnit("USD", False, "bu"), material="triticale"), [], {}, "USD"),
         "price-unit-unknown"),
        (lambda: price_curve(offer(), [schedule(name="a"), schedule(name="b")], {}, "USD"),
         "price-combine-missing"),
        (lambda: curve(Steps(300, B, 0.001, 1)), "schedule-too-fine"),
        (lambda: price_curve(offer(combine="additive"), [schedule(Slope(300, B, 1.0)),
                             schedule(Slope(300, B, 0.01), unit=None)], {}, "USD"), "price-curved"),
    ],
)  # fmt: skip
def test_what_cannot_be_priced_says_why(what, code):
    with pytest.raises(NoAnswer) as caught:
        what()
    assert caught.value.code == code


def test_bushels_and_hundredths_become_tonnes():
    made = price_curve(
        offer(6.0, unit=MoneyUnit("USD", False, "bu")),
        [schedule(Cliff(300, B, Action.DISCOUNT, 25.0), unit=MoneyUnit("USD", True, "bu"))],
        {},
        "USD",
    ).curve
    bushels = 1000 / 27.2155422
    assert paid(made, 300, 299) == pytest.approx([6.0 * bushels, 5.75 * bushels])


def test_filled_and_chances():
    made = curve(Steps(300, B, 25, 9, end=250), Cliff(250, B, Action.REJECT))
    assert made.filled(50.0).at(np.array([240.0, 260.0])).tolist() == [50.0, 182.0]
    assert made.chance_of(Standing.TURNED_AWAY).at(np.array([240.0, 260.0])).tolist() == [1.0, 0.0]
    assert not made.always_paid
    assert math.isfinite(made.money.intercept.sum())
