"""Duplicates: limits, what the rules do, the report, places that run high, and sign-off."""

from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import LodestarchError, NoAnswer, OutOfRange
from lodestarch.control.duplicate_rules import agreement_limit, fresh_pair, p_good_pair_breaks, third_tube
from lodestarch.control.duplicates import read_duplicates
from lodestarch.control.place_effects import place_effects
from lodestarch.control.sign_off import sign_off
from lodestarch.method.reading import Kind


def codes(x):
    return [f.code for f in x.findings]


@pytest.mark.parametrize(
    ("rule_pct", "cv", "expected"),
    [(10, 2, 0.0004), (10, 3, 0.0184), (10, 3.6, 0.0495), (10, 4, 0.0771), (5, 2, 0.0771), (5, 3, 0.2386)],
)
def test_how_often_a_good_pair_breaks_a_percentage_rule_derived(rule_pct, cv, expected):
    assert p_good_pair_breaks(rule_pct, cv) == pytest.approx(expected, abs=6e-5)


def test_agreement_limits():
    assert agreement_limit(9.0) == pytest.approx(2.772 * 9.0, abs=0.01)
    assert agreement_limit(np.array([3.0, 6.0]), tubes=3) == pytest.approx(
        3.314 * np.array([3.0, 6.0]), abs=0.01
    )
    assert agreement_limit(9.0, probability=0.99) > agreement_limit(9.0)
    with pytest.raises(OutOfRange):
        p_good_pair_breaks(-1.0, 3.0)


@pytest.mark.parametrize("gross", [0.0, 3.0, 6.0])
def test_the_fresh_pair_rule_does_what_a_simulated_bench_does(gross):
    rng = np.random.default_rng(1)
    n, limit = 400_000, 2.2
    x = rng.standard_normal((n, 4))
    x[:, 0] += gross
    one, two = np.abs(x[:, 0] - x[:, 1]) <= limit, np.abs(x[:, 2] - x[:, 3]) <= limit
    settled = one | two
    final = np.where(one, x[:, :2].mean(axis=1), x[:, 2:].mean(axis=1))[settled]
    got = fresh_pair(limit, gross, most_pairs=2)
    assert got.p_accepted_at_once == pytest.approx(one.mean(), abs=0.003)
    assert got.p_settled == pytest.approx(settled.mean(), abs=0.003)
    assert got.tubes == pytest.approx(2.0 + 2.0 * (~one).mean(), abs=0.01)
    assert got.bias_sd == pytest.approx(final.mean(), abs=0.01)
    assert got.sd_sd == pytest.approx(final.std(), abs=0.01)


def test_a_third_tube_costs_less_and_leaves_more_of_a_gross_error():
    rng = np.random.default_rng(2)
    fresh, third = fresh_pair(2.772, 4.0), third_tube(2.772, rng, 4.0)
    assert third.tubes < fresh.tubes
    assert third.bias_sd > fresh.bias_sd
    good = third_tube(2.772, rng, 0.0)
    assert good.bias_sd == pytest.approx(0.0, abs=0.01)
    assert good.p_accepted_at_once == pytest.approx(0.95, abs=0.001)
    for call in (
        lambda: fresh_pair(0.0),
        lambda: fresh_pair(2.0, math.inf),
        lambda: fresh_pair(2.0, most_pairs=0),
        lambda: third_tube(2.0, rng, draws=10),
    ):
        with pytest.raises(OutOfRange):
            call()
    assert fresh_pair(2.0, most_pairs=1).tubes == 2.0


def pairs(rng, n=200, cv=0.02):
    mean = rng.uniform(90, 420, n)
    return tuple(mean * (1 + cv * rng.standard_normal(n)) for _ in range(2))


def test_the_report_fits_sets_limits_and_names_far_pairs():
    rng = np.random.default_rng(3)
    a, b = pairs(rng)
    b[7] = a[7] * 1.2
    names = [f"S{i}" for i in range(200)]
    got = read_duplicates(a, b, names=names)
    assert got.far[0].name == "S7"
    assert got.far_count == len(got.far) <= 4
    assert "duplicates-far-apart" in codes(got)
    at_300 = next(x for x in got.levels if x.sd.fn_s == 300.0)
    assert at_300.sd.sd_s == pytest.approx(6.0, rel=0.15)
    assert at_300.limit_s == pytest.approx(2.772 * at_300.sd.sd_s, rel=1e-3)
    assert at_300.limit_pct == pytest.approx(at_300.limit_s / 3.0)
    assert at_300.p_breaks_percent_rule < 0.005


def test_a_second_tube_that_runs_high_shows_in_the_mean_difference():
    rng = np.random.default_rng(4)
    a, b = pairs(rng)
    assert "duplicates-second-differs" not in codes(read_duplicates(a, b))
    got = read_duplicates(a, b + 4.0)
    assert "duplicates-second-differs" in codes(got)
    assert got.mean_difference_s == pytest.approx(-4.0, abs=3 * got.u_mean_difference_s)


@pytest.mark.parametrize(
    ("a", "b", "kind", "code"),
    [
        ([], [], None, "pairs-none"),
        ([300.0] * 25, [300.0] * 25, None, "pairs-all-equal"),
        ([62.0] * 4, [62.0] * 4, [Kind.AT_OR_BELOW] * 4, "pairs-all-at-floor"),
        ([300.0, math.nan, -3.0], [310.0, 300.0, 300.0], None, "pair-value-missing"),
        ([300.0, math.nan, -3.0], [310.0, 300.0, 300.0], None, "pair-value-out-of-range"),
    ],
)
def test_awkward_duplicates_give_findings_never_nan(a, b, kind, code):
    got = read_duplicates(a, b, first_kind=kind, second_kind=kind)
    assert code in codes(got)
    for level in got.levels:
        assert all(math.isfinite(v) for v in (level.limit_s, level.limit_pct, level.p_breaks_percent_rule))
    assert got.mean_difference_s is None or math.isfinite(got.mean_difference_s)


def bench(rng, effect_pct, samples=60, positions=4, cv=0.02):
    """Each sample in two different positions."""
    sample, place, value = [], [], []
    for i in range(samples):
        level = rng.uniform(150, 400)
        for p in rng.choice(positions, 2, replace=False):
            sample.append(i)
            place.append(f"p{p}")
            value.append(level * (1 + effect_pct[p] / 100) * (1 + cv * rng.standard_normal()))
    value = np.array(value)
    return sample, place, value, 0.02 * value


def test_a_place_that_runs_high_is_found_with_its_size():
    got = place_effects(*bench(np.random.default_rng(5), [0.0, 0.0, 3.0, 0.0], samples=120))
    top = got.places[0]
    assert (top.place, top.verdict) == ("p2", "high")
    assert top.low_pct <= 3.0 * 0.75 <= top.high_pct  # against the mean of all four
    assert top.p_high > 0.999
    assert got.scatter_pct == pytest.approx(2.0, rel=0.2)
    assert "place-effect-high" in codes(got)
    assert sum(e.effect_pct for e in got.places) == pytest.approx(0.0, abs=1e-9)


def test_few_readings_call_no_place_high_and_say_that_they_are_few():
    got = place_effects(*bench(np.random.default_rng(6), [0.0, 0.0, 2.0, 0.0], samples=6))
    assert "places-readings-few" in codes(got)
    assert all(e.verdict == "not-shown" for e in got.places)
    assert all(abs(e.effect_pct) < 1.5 for e in got.places)  # drawn to 0


def test_without_effects_intervals_hold_and_false_alarms_are_rare():
    rng = np.random.default_rng(7)
    hits = alarms = 0
    for _ in range(60):
        got = place_effects(*bench(rng, [0.0] * 4, samples=40))
        hits += sum(e.low_pct <= 0.0 <= e.high_pct for e in got.places)
        alarms += any(e.verdict != "not-shown" for e in got.places)
    assert hits / 240 >= 0.95
    assert alarms <= 6


def test_random_effects_are_covered_near_the_stated_content():
    rng = np.random.default_rng(8)
    hits = total = 0
    for _ in range(60):
        effect = 0.6 * rng.standard_normal(6)  # 0.3 of the scatter of a tube
        got = place_effects(*bench(rng, effect, samples=60, positions=6))
        centred = effect - effect.mean()
        for e in got.places:
            hits += e.low_pct <= centred[int(e.place[1:])] <= e.high_pct
            total += 1
    assert 0.91 <= hits / total <= 0.99


def test_places_that_never_share_a_sample_are_not_compared():
    sample = ["a", "a", "b", "b", "c", "c", "d"]
    place = ["p1", "p2", "p1", "p2", "p3", "p4", "p5"]
    got = place_effects(sample, place, [300, 306, 250, 255, 400, 396, 310], 6.0)
    by_name = {e.place: e for e in got.places}
    assert by_name["p1"].group == by_name["p2"].group
    assert by_name["p1"].group != by_name["p3"].group
    assert by_name["p5"].verdict == "not-compared"
    assert "places-not-compared" in codes(got)
    nothing = place_effects(["a", "b"], ["p1", "p2"], [300.0, 310.0], 6.0)
    assert nothing.spread_pct is None
    assert [e.verdict for e in nothing.places] == ["not-compared"] * 2


def test_analysts_are_compared_over_a_check_material():
    rng = np.random.default_rng(9)
    who = np.repeat(["ana", "ben", "cy"], 25)
    value = 280.0 * (1 + 0.02 * rng.standard_normal(75)) * np.where(who == "ben", 1.03, 1.0)
    got = place_effects(np.full(75, "check material"), who, value, 0.02 * value)
    assert (got.places[0].place, got.places[0].verdict) == ("ben", "high")


def test_missing_readings_of_places_are_counted_and_columns_must_match():
    got = place_effects(["a", "a", "b", "b"], ["p1", "p2", "p1", "p2"], [300, 310, math.nan, -2], 6.0)
    assert codes(got)[0] == "places-value-missing"
    assert got.readings == 2
    assert place_effects([], [], [], []).places == ()
    with pytest.raises(LodestarchError):
        place_effects(["a"], ["p1", "p2"], [300, 301], 6.0)


def test_sign_off_by_blind_duplicates():
    rng = np.random.default_rng(10)
    level = rng.uniform(200, 400, 25)
    sd = 0.02 * level
    good = [level + sd * rng.standard_normal(25) for _ in range(2)]
    wild = [level + 2.5 * sd * rng.standard_normal(25) for _ in range(2)]
    assert sign_off(*good, sd, reference_s=level).verdict == "ready"
    assert sign_off(*wild, sd, reference_s=level).verdict == "not-yet"
    high = [x + 25.0 for x in good]
    shifted = sign_off(*high, sd, reference_s=level)
    assert shifted.verdict == "not-yet"
    assert shifted.bias_s == pytest.approx(25.0, abs=4.0)
    few = sign_off(good[0][:4], good[1][:4], sd[:4], reference_s=level[:4])
    assert codes(few) == ["sign-off-few"]
    assert few.verdict in {"more-needed", "ready"}
    assert sign_off(*good, sd).bias_s is None


def test_sign_off_refuses_what_it_cannot_judge():
    with pytest.raises(NoAnswer, match="sign-off-missing"):
        sign_off([300.0, math.nan], [310.0, 300.0], 6.0)
    with pytest.raises(LodestarchError):
        sign_off([300.0], [310.0, 300.0], 6.0)
    with pytest.raises(OutOfRange):
        sign_off([300.0] * 3, [301.0] * 3, 6.0, most_ratio=1.0)
    missing = sign_off([300.0, 310.0, 250.0, math.nan], [301.0, 305.0, 254.0, 3.0], 6.0)
    assert "sign-off-value-missing" in codes(missing)
