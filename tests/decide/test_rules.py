"""Aim points, guard bands, risks and their inverses."""

from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, OutOfRange, UnknownName
from lodestarch.decide.aim import aim_point
from lodestarch.decide.belief import Results
from lodestarch.decide.bivariate import both_below
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.guard import GUARD_FORMS, acceptance_limit, guard_factor
from lodestarch.decide.limits import Limits
from lodestarch.decide.odds import odds
from lodestarch.decide.prior import NormalPrior
from lodestarch.decide.risk import Rule, risks, rule_for


def test_aim_is_the_closed_form():
    deciding = DecidingLab(12.0, bias_s=-5.0, u_bias_s=4.0)
    got = aim_point(Limits(300.0, counts_from_s=299.5), 0.95, 9.0, deciding=deciding)
    assert got.from_s == pytest.approx(299.5 + 5.0 + 1.6448536 * math.sqrt(81 + 144 + 16), abs=1e-5)
    assert got.show_s == math.ceil(got.from_s)
    assert got.to_s == math.inf
    ceiling = aim_point(Limits(None, 280.0), 0.95, 9.0)
    assert ceiling.to_s == pytest.approx(280.0 - 1.6448536 * 9.0, abs=1e-5)
    assert ceiling.show_to_s == 265


def test_a_scatter_that_grows_with_level_is_solved_for():
    got = aim_point(Limits(300.0), 0.95, lambda fn: 0.03 * fn)
    assert got.from_s == pytest.approx(300.0 / (1 - 0.03 * 1.6448536), abs=1e-5)


def test_odds_at_the_ends_of_a_window_are_as_wanted():
    window, deciding = Limits(220.0, 280.0), DecidingLab(6.0, bias_s=8.0)
    got = aim_point(window, 0.9, 9.0, deciding=deciding)
    ends = odds(Results.of([got.from_s, got.best_s, got.to_s], 9.0), window, deciding=deciding).p_other_lab
    assert ends is not None
    np.testing.assert_allclose(ends.p[[0, 2]], 0.9, atol=1e-7)
    assert got.best_s == pytest.approx(242.0, abs=0.01)
    assert got.show_s >= got.from_s
    assert got.show_to_s <= got.to_s
    with pytest.raises(NoAnswer) as cause:
        aim_point(Limits(240.0, 260.0), 0.95, 9.0)
    assert cause.value.code == "aim-window-narrow"
    assert cause.value.values["best_pct"] == pytest.approx(73.35, abs=0.1)


def test_a_prior_moves_the_aim():
    good, flat = NormalPrior(330.0, 20.0), aim_point(Limits(300.0), 0.95, 9.0)
    got = aim_point(Limits(300.0), 0.95, 9.0, prior=good)
    assert got.from_s < flat.from_s
    assert odds(Results.of(got.from_s, 9.0), Limits(300.0), prior=good).p_true.p[0] == pytest.approx(0.95)


@pytest.mark.parametrize("wanted", [0.0, 1.0, -1.0, float("nan")])
def test_no_certainty(wanted):
    with pytest.raises(OutOfRange):
        aim_point(Limits(300.0), wanted, 9.0)


@pytest.mark.parametrize(
    ("u", "p95", "p97_5", "p99"),
    [
        (4.5, 307.4, 308.8, 310.5), (6.4, 310.5, 312.5, 314.9),
        (9, 314.8, 317.6, 320.9), (12, 319.7, 323.5, 327.9),
    ],
)  # fmt: skip
def test_acceptance_limits_of_the_table(u, p95, p97_5, p99):
    got = [acceptance_limit(300.0, float(u), p) for p in (0.95, 0.975, 0.99)]
    np.testing.assert_allclose(got, [p95, p97_5, p99], atol=0.051)


def test_guard_factors():
    for form in GUARD_FORMS:
        assert 0.0 < guard_factor(form, 2.0) <= guard_factor(form, 10.0) <= 1.0
    assert guard_factor("one-minus-inverse", 4.0) == 0.75
    assert guard_factor("rp-10", 4.0) == 1.0
    with pytest.raises(UnknownName):
        guard_factor("none", 4.0)  # type: ignore[arg-type]
    with pytest.raises(OutOfRange):
        guard_factor("rp-10", 1.0)


def test_the_managed_factor_keeps_false_accepts_below_two_per_cent():
    # Two-sided tolerance 1, u = 1/(2 TUR), over processes of every spread.
    for tur in (1.5, 2.0, 4.0):
        k = guard_factor("managed-two-percent", tur)
        worst = max(
            risks(Rule.guarded(-1.0, 1.0, 1.0 - k), 0.0, sd, 0.5 / tur).consumer
            for sd in np.linspace(0.1, 3.0, 60)
        )
        assert 0.015 < worst < 0.0205


def test_two_at_once_against_simulation_and_known_values():
    assert both_below(0.0, 0.0, [-0.5, 0.0, 0.5, 0.9]) == pytest.approx(
        0.25 + np.arcsin([-0.5, 0.0, 0.5, 0.9]) / (2 * np.pi)
    )
    assert both_below(np.inf, 1.0, 0.7) == pytest.approx(0.841344746)
    assert both_below(-np.inf, 1.0, 0.7) == 0.0
    assert both_below(0.0, -2.0, 0.0) == pytest.approx(0.5 * 0.0227501319)
    rng = np.random.default_rng(1)
    x = rng.standard_normal(1_000_000)
    y = 0.8 * x + 0.6 * rng.standard_normal(x.size)
    for h, k in [(0.3, -0.4), (-1.0, 0.5), (2.0, 2.0), (0.0, 1.0)]:
        met = (x <= h) & (y <= k)
        assert float(both_below(h, k, 0.8)) == pytest.approx(met.mean(), abs=4 * met.std() / 1e3)


def test_risks_against_simulation():
    rng = np.random.default_rng(9)
    true = rng.normal(305.0, 25.0, 1_000_000)
    shown = true + 9.0 * rng.standard_normal(true.size)
    rule = Rule(300.0, 340.0, 306.0, 345.0)
    got = risks(rule, 305.0, 25.0, 9.0)
    good = (true >= 300.0) & (true <= 340.0)
    taken = (shown >= 306.0) & (shown <= 345.0)
    for p, met in [(got.consumer, taken & ~good), (got.producer, good & ~taken), (got.accepted, taken)]:
        assert p == pytest.approx(met.mean(), abs=4 * met.std() / 1e3)
    assert got.false_among_accepted == pytest.approx((~good)[taken].mean(), abs=2e-3)
    assert got.good_among_rejected == pytest.approx(good[~taken].mean(), abs=3e-3)


@pytest.mark.parametrize("wanted", ["consumer", "producer", "false-among-accepted"])
@pytest.mark.parametrize("high", [math.inf, 380.0])
def test_the_rule_for_a_wanted_risk_has_it(wanted, high):
    rule, guard = rule_for(wanted, 0.03, Rule.guarded(300.0, high), 325.0, 30.0, 9.0)
    got = risks(rule, 325.0, 30.0, 9.0)
    shown = {
        "consumer": got.consumer,
        "producer": got.producer,
        "false-among-accepted": got.false_among_accepted,
    }
    assert shown[wanted] == pytest.approx(0.03, abs=1e-9)
    assert rule.accept_from_s == pytest.approx(300.0 + guard)


def test_a_risk_that_no_rule_has():
    with pytest.raises(NoAnswer):
        rule_for("consumer", 0.9, Rule.guarded(300.0, math.inf), 325.0, 30.0, 9.0)
    with pytest.raises(OutOfRange):
        rule_for("consumer", 0.0, Rule.guarded(300.0, math.inf), 325.0, 30.0, 9.0)
    with pytest.raises(UnknownName):
        rule_for("both", 0.1, Rule.guarded(300.0, math.inf), 325.0, 30.0, 9.0)  # type: ignore[arg-type]


def test_guard_bands_that_meet_accept_nothing():
    got = risks(Rule.guarded(300.0, 310.0, 6.0), 305.0, 20.0, 9.0)
    assert (got.consumer, got.accepted, got.producer) == (0.0, 0.0, got.conforming)
