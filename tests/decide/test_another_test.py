"""Worth of a further test, against brute simulation and against what is known of simple cases."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.money import MoneyBySeconds, constant_money
from lodestarch.decide.another_test import Outlet, worth_of_tests
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.gain import AnotherTest, Design, Source, Spread, gain_of
from lodestarch.decide.information import worth_of_information

from .brute import random_case, simulate

SLOPE = MoneyBySeconds(np.zeros(0), np.array([-300.0]), np.array([1.0]), np.zeros(0, dtype=bool), "USD")
STEP = MoneyBySeconds(np.array([300.0]), np.array([-250.0, 0.0]), np.zeros(2), np.array([True]), "USD")


@pytest.mark.parametrize("seed", range(50))
def test_worth_is_that_of_brute_simulation(seed):
    case = random_case(seed)
    held = {}
    if case.prior is not None:
        m, sd = case.prior
        v = sum(case.design.parts(case.spread).values())
        k = sd**2 / (sd**2 + v)
        held = {"mean_s": m + k * (case.result_s - m), "sd_s": float(np.sqrt(k * v))}
    got = worth_of_tests(case.outlets, [case.test], case.spread, case.design, case.result_s, **held)[0]
    seen = simulate(case, 250_000, np.random.default_rng(1000 + seed))
    least = 1e-5 * case.stake
    assert abs(got.worth - seen.drawn) <= 3.0 * seen.drawn_error + least
    assert abs(got.worth - seen.averaged) <= 3.0 * seen.averaged_error + 1e-3 * case.stake
    assert abs(got.worth - seen.averaged) <= 1e-3 * case.stake


@pytest.mark.parametrize(
    ("m", "tau", "evsi", "perfect"),
    [(296.0, 6.364, 0.2578, 1.0245), (290.0, 6.364, 0.00363, 0.1582), (300.0, 6.36, 1.4643, 2.5373)],
)
def test_linear_loss_is_the_closed_form(m, tau, evsi, perfect):
    # Unit slope against nothing, one more test of sd 9 s (derived).
    gain = tau**2 / np.hypot(tau, 9.0)
    nothing = constant_money(0.0, "USD")
    got = worth_of_information([SLOPE, nothing], [m, m], [tau, tau], [gain, 0.0])
    assert got.worth[0] == pytest.approx(evsi, abs=2e-4)
    known = worth_of_information([SLOPE, nothing], [m, m], [tau, tau], [tau, 0.0])
    assert known.worth[0] == pytest.approx(perfect, rel=1e-3)
    z = abs(m - 300.0) / gain
    assert got.changes[0] == pytest.approx(norm.sf(z), abs=0.03)


def test_many_loads_are_the_loads_one_by_one():
    rng = np.random.default_rng(8)
    m, s = rng.uniform(280, 320, 500), rng.uniform(5, 14, 500)
    g = s * rng.uniform(0, 1, 500)
    moneys = [STEP, constant_money(-90.0, "USD")]
    all_at_once = worth_of_information(
        moneys, np.stack([m, m], 1), np.stack([s, s], 1), np.stack([g, 0 * g], 1)
    )
    for i in range(0, 500, 29):
        one = worth_of_information(moneys, [m[i]] * 2, [s[i]] * 2, [g[i], 0.0])
        assert all_at_once.worth[i] == pytest.approx(one.worth[0], abs=1e-12)
        assert all_at_once.changes[i] == pytest.approx(one.changes[0], abs=1e-12)


def test_a_step_against_a_sure_price_is_a_double_tail():
    # With one step the best outlet changes where the chance of passing is the ratio of prices.
    m, s, g = 302.0, 10.0, 8.0
    left = np.sqrt(s**2 - g**2)
    cut = (300.0 + left * norm.ppf(1 - 100.0 / 250.0) - m) / g
    z = np.linspace(cut, 10.0, 2_000_001)
    gain = np.trapezoid((250.0 * norm.cdf((m + g * z - 300.0) / left) - 250.0 + 100.0) * norm.pdf(z), z)
    now = max(-100.0, 250.0 * norm.cdf((m - 300.0) / s) - 250.0)
    got = worth_of_information([STEP, constant_money(-100.0, "USD")], [m, m], [s, s], [g, 0.0])
    assert got.worth[0] == pytest.approx(gain - 100.0 - now, abs=3e-4)


def test_one_outlet_or_a_test_that_shows_nothing_is_worth_nothing():
    assert worth_of_information([STEP], 299.0, 9.0, 6.0).worth[0] == pytest.approx(0.0, abs=1e-9)
    assert worth_of_information([STEP, SLOPE], 299.0, 9.0, 0.0).worth[0] == 0.0


def test_what_is_drawn_anew_decides_what_a_test_shows():
    spread, design = Spread(9.0, 4.0, 7.0, 3.0), Design(2, 1, 1)
    shown = {source: gain_of(AnotherTest("", source), spread, design, 296.0).gain_true_s for source in Source}
    assert shown[Source.SAME_MEAL] < shown[Source.REGRIND] == shown[Source.RETAINED_SAMPLE]
    assert shown[Source.REGRIND] < shown[Source.NEW_PROBE]
    elsewhere = gain_of(
        AnotherTest("", Source.NEW_PROBE, lab=DecidingLab(9.0)), spread, design, 296.0
    ).gain_true_s
    assert elsewhere > shown[Source.NEW_PROBE]
    for source in Source:
        got = gain_of(AnotherTest("", source), spread, design, 296.0)
        assert got.shown_mean_s == 296.0
    nothing = gain_of(AnotherTest("", Source.SAME_MEAL), Spread(0.0, 4.0), Design(), 296.0)
    assert (nothing.gain_true_s, nothing.shown_sd_s) == (0.0, 0.0)


def test_third_test_crosses_as_in_the_table():
    # Mean of two, one more: the mean moves with sd 0.40825 of one test's; chances by distance (derived).
    got = gain_of(AnotherTest("", Source.SAME_MEAL, Design(1)), Spread(9.0), Design(2), 296.0)
    assert got.gain_true_s == pytest.approx(0.40825 * 9.0, abs=1e-4)
    for d, p in [(0.1, 0.4032), (0.3, 0.2312), (0.5, 0.1103), (1.0, 0.0072)]:
        assert norm.sf(d * 9.0 / got.gain_true_s) == pytest.approx(p, abs=5.1e-5)


def test_cost_and_hours_come_off():
    outlets = [
        Outlet("mill", STEP, DecidingLab(6.0)),
        Outlet("feed", constant_money(-110.0, "USD"), DecidingLab(0.0)),
    ]
    tests = [
        AnotherTest("tube", Source.SAME_MEAL, Design(1), cost=5.0, hours=0.2),
        AnotherTest("probe", Source.NEW_PROBE, Design(2), cost=15.0, hours=1.0),
        AnotherTest("far", Source.RETAINED_SAMPLE, cost=40.0, hours=24.0, lab=DecidingLab(6.0), decides=True),
    ]
    got = worth_of_tests(outlets, tests, Spread(8.0, 3.0, 6.0), Design(), 300.5, money_per_hour=10.0)
    assert [w.net for w in got] == sorted((w.net for w in got), reverse=True)
    for w in got:
        assert w.net == pytest.approx(w.worth - w.test.cost - 10.0 * w.test.hours)
        assert 0.0 <= w.changes <= 1.0
    worth = {w.test.name: w.worth for w in got}
    assert worth["probe"] > worth["tube"] > 0.0
    assert worth["far"] > worth["tube"]


def test_what_makes_no_sense_is_refused():
    with pytest.raises(NoAnswer):
        worth_of_tests([], [], Spread(9.0), Design(), 300.0)
    mixed = [Outlet("a", STEP, DecidingLab(6.0)), Outlet("b", constant_money(1.0, "EUR"), DecidingLab(0.0))]
    with pytest.raises(NoAnswer):
        worth_of_tests(mixed, [], Spread(9.0), Design(), 300.0)
    with pytest.raises(OutOfRange):
        worth_of_information([STEP, SLOPE], 299.0, 9.0, 9.5)
    with pytest.raises(NoAnswer):
        worth_of_information([], 299.0, 9.0, 1.0)
    for make in (lambda: Spread(-1.0), lambda: Design(0), lambda: AnotherTest("", Source.REGRIND, cost=-1.0)):
        with pytest.raises(OutOfRange):
            make()
    with pytest.raises(OutOfRange):
        gain_of(AnotherTest("", Source.REGRIND), Spread(0.0), Design(), 300.0)
