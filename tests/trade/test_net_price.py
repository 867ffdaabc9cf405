from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import OutOfRange
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.trade.haul import KM_PER_MILE, Haul
from lodestarch.trade.net_price import net_at, net_prices, worth_turned_away
from lodestarch.trade.outlets import LimitHere
from lodestarch.trade.schedule import Action, Cliff, Premium, Side, Slope, Steps, Window
from lodestarch.trade.what_if import break_even_haul, turns_at
from trade.made import curve, outlet

B, A = Side.BELOW, Side.ABOVE
STEPS = curve(Steps(300, B, 25, 9, end=250), Cliff(250, B, Action.REJECT))
SLOPE = curve(Slope(300, B, 0.3, most=20), Premium(330, A, 2), price=204.0)
WINDOW = curve(Window(220, 290, Action.DISCOUNT, 15.0), price=206.0)
FEED = curve(price=150.0)
PLACES = [
    outlet(STEPS, "steps"),
    outlet(SLOPE, "slope", haul=14.0, lab=DecidingLab(12.0, -3.0, 6.0), fee=18.0),
    outlet(WINDOW, "window", lab=DecidingLab(10.0), limit=LimitHere(220.0, 290.0, None, None, None)),
    outlet(FEED, "feed", haul=4.0, limit=None, is_contract=False),
]


def test_the_net_is_the_mean_over_the_odds_not_the_price_at_the_mean():
    """Every outlet against 400,000 simulated reports, within five standard errors."""
    rng = np.random.default_rng(7)
    mean, u, tonnes, back = 296.0, 6.0, 26.0, 146.0
    got = net_prices(PLACES, mean, u, tonnes, turned_away_per_t=back)
    for i, place in enumerate(PLACES):
        lab = place.deciding
        true = rng.normal(mean, u, 400_000) + rng.normal(lab.bias_s, lab.u_bias_s, 400_000)
        report = true + rng.normal(0.0, lab.sd_s, 400_000)
        paid = np.where(
            place.curve.no_price[place.curve.money.piece_of(report)],
            back - place.haul.per_t,
            place.curve.money.at(report),
        )
        net = paid - place.haul.per_t - place.fee / tonnes
        assert got.net_per_t[0, i] == pytest.approx(net.mean(), abs=5 * net.std() / 632.0 + 1e-9)
        assert got.spread_per_t[0, i] == pytest.approx(net.std(), rel=0.02, abs=1e-9)
        if place.limit is not None:
            inside = (report >= place.limit.low_report_s) & (report <= place.limit.high_report_s)
            assert got.p_makes_it[0, i] == pytest.approx(inside.mean(), abs=0.005)
    assert got.net_per_t[0, 0] != pytest.approx(float(STEPS.money.at(mean)) - 10.0, abs=0.5)


def test_a_published_expected_cost_at_one_step():
    """25 ct/bu below 300, SD 10: 77.13, 39.66, 5.69 USD for 1000 bu at 305, 310, 320 (derived)."""
    one = curve(Cliff(300, B, Action.DISCOUNT, 0.25 * 1000 / 27.2155422), price=0.0)
    place = outlet(one, haul=0.0, lab=DecidingLab(10.0))
    got = net_prices([place], [305.0, 310.0, 320.0], 0.0, 1.0, turned_away_per_t=None)
    assert (-got.net_per_t[:, 0] * 27.2155422).tolist() == pytest.approx([77.13, 39.66, 5.69], abs=5e-3)


def test_many_results_are_priced_as_one_by_one():
    rng = np.random.default_rng(3)
    mean, u, tonnes = rng.uniform(70, 420, 500), rng.uniform(1, 12, 500), rng.uniform(5, 30, 500)
    whole = net_prices(PLACES, mean, u, tonnes, turned_away_per_t=146.0)
    assert net_at(PLACES, mean, u, tonnes, turned_away_per_t=146.0) == pytest.approx(whole.net_per_t)
    for i in (0, 17, 499):
        single = net_prices(PLACES, mean[i], u[i], tonnes[i], turned_away_per_t=146.0)
        assert single.net_per_t[0] == pytest.approx(whole.net_per_t[i])
        assert single.best[0] == whole.best[i]


def test_the_bench_whose_number_is_final_knows_its_report():
    here = outlet(STEPS, decides_here=True)
    got = net_prices([here], [299.0, 300.0], 9.0, 25.0, turned_away_per_t=0.0)
    assert got.net_per_t[:, 0].tolist() == [181.0, 190.0]
    assert got.p_makes_it[:, 0].tolist() == [0.0, 1.0]


def test_what_may_come_back_has_no_net_until_somebody_says_what_it_is_worth():
    alone = [outlet(STEPS)]
    assert worth_turned_away(alone) is None
    got = net_prices(alone, [200.0, 400.0], 5.0, 25.0, turned_away_per_t=None)
    assert np.isnan(got.net_per_t[0, 0])
    assert got.best[0] == -1
    assert got.net_per_t[1, 0] == pytest.approx(190.0)
    assert worth_turned_away(PLACES) == pytest.approx(206.0 - 15.0 - 10.0)  # the window takes any number


def test_turned_away_grain_pays_the_haul_twice():
    got = net_prices([outlet(STEPS, lab=DecidingLab(1.0))], 150.0, 1.0, 25.0, turned_away_per_t=146.0)
    assert got.net_per_t[0, 0] == pytest.approx(146.0 - 20.0)
    assert got.p_turned_away[0, 0] == pytest.approx(1.0)


def test_tonnes_have_to_be_above_zero():
    with pytest.raises(OutOfRange):
        net_prices(PLACES, 300.0, 5.0, 0.0, turned_away_per_t=0.0)


def test_at_the_break_even_haul_both_bring_the_same():
    near = outlet(SLOPE, "near", haul=5.0)
    far = outlet(SLOPE, "far", haul=15.0, per_t_km=0.1, km=150.0)
    net = net_prices([near, far], 320.0, 5.0, 25.0, turned_away_per_t=0.0).net_per_t[0]
    even = break_even_haul([near, far], net, 1)
    assert even.distance_km == pytest.approx(50.0)
    moved = outlet(SLOPE, "far", haul=0.1 * even.distance_km, per_t_km=0.1, km=even.distance_km)
    after = net_prices([near, moved], 320.0, 5.0, 25.0, turned_away_per_t=0.0).net_per_t[0]
    assert after[0] == pytest.approx(after[1])
    assert break_even_haul([near], net[:1], 0) is None


def test_seconds_that_change_the_answer_do_change_it():
    lower, higher = turns_at(PLACES, 296.0, 5.0, 25.0, turned_away_per_t=146.0)
    here = net_prices(PLACES, 296.0, 5.0, 25.0, turned_away_per_t=146.0).best[0]
    for turn in (lower, higher):
        if turn is None:
            continue
        step = math.copysign(1.0, turn.shift_s)
        at = net_prices(PLACES, [296.0 + turn.shift_s, 296.0 + turn.shift_s - step], 5.0, 25.0,
                        turned_away_per_t=146.0)  # fmt: skip
        assert at.best.tolist() == [turn.outlet, here]
    assert lower is not None


def test_a_mile_is_a_mile():
    assert pytest.approx(1.609344) == KM_PER_MILE
    assert Haul(3.0, None, None).per_t == 3.0
