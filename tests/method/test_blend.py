from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, NotComparable, OutOfRange
from lodestarch.method.blend import CAP_S, Lot, blend, dry_matter_shares, share_to_reach
from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn
from lodestarch.method.reading import Kind
from lodestarch.method.shipped import shipped_profile


def test_equal_parts_of_400_and_220():
    mix = blend([Lot(400.0, 50.0), Lot(220.0, 50.0)])
    assert mix.seconds_s == pytest.approx(278.846, abs=5e-4)
    assert mix.ln_low == mix.ln_high == pytest.approx(26.2185, abs=5e-5)
    assert mix.kind is Kind.EXACT
    assert mix.shares == (0.5, 0.5)
    assert (mix.capped, mix.censored) == ((), ())
    assert mix.seconds_s < 310.0, "never the mean of the seconds"


def test_the_cap_holds_a_sound_lot_at_400():
    lots = [Lot(500.0, 50.0), Lot(300.0, 50.0)]
    capped, plain = blend(lots), blend(lots, cap_s=None)
    assert CAP_S == 400.0
    assert capped.seconds_s == pytest.approx(341.667, abs=5e-4)
    assert plain.seconds_s == pytest.approx(371.429, abs=5e-4)
    assert capped.plain_seconds_s == plain.plain_seconds_s == plain.seconds_s
    assert (capped.capped, plain.capped) == ((0,), ())
    assert capped.kind is plain.kind is Kind.EXACT


def test_a_lot_at_the_cap_is_not_touched_by_it():
    assert blend([Lot(400.0, 1.0), Lot(300.0, 1.0)]).capped == ()


def test_another_cap():
    mix = blend([Lot(500.0, 1.0), Lot(300.0, 1.0)], cap_s=350.0)
    assert mix.seconds_s == pytest.approx(fn_from_ln((20.0 + 24.0) / 2))


def test_a_part_at_the_floor_gives_at_or_below():
    mix = blend([Lot(400.0, 95.0), Lot(62.0, 5.0, Kind.AT_OR_BELOW)])
    assert mix.kind is Kind.AT_OR_BELOW
    assert mix.seconds_s == mix.fn_high_s == pytest.approx(195.329, abs=5e-4)
    assert (mix.fn_low_s, mix.ln_high) == (50.0, math.inf)
    assert mix.censored == (1,)


def test_without_the_floor_the_same_is_taken_as_measured():
    mix = blend([Lot(400.0, 95.0), Lot(62.0, 5.0, Kind.AT_OR_BELOW)], censoring=False)
    assert (mix.kind, mix.censored) == (Kind.EXACT, ())
    assert mix.seconds_s == pytest.approx(195.329, abs=5e-4)


def test_a_part_stopped_early_gives_above():
    mix = blend([Lot(320.0, 50.0, Kind.ABOVE), Lot(250.0, 50.0)])
    assert mix.kind is Kind.ABOVE
    assert mix.seconds_s == mix.fn_low_s == pytest.approx(fn_from_ln((ln_from_fn(320.0) + 30.0) / 2))
    # However sound it is, the cap keeps it from counting as more than 400 s.
    assert mix.fn_high_s == pytest.approx(blend([Lot(400.0, 50.0), Lot(250.0, 50.0)]).seconds_s)
    free = blend([Lot(320.0, 50.0, Kind.ABOVE), Lot(250.0, 50.0)], cap_s=None)
    assert free.fn_high_s == pytest.approx(fn_from_ln(15.0))
    assert free.ln_low == 15.0


def test_a_part_stopped_beyond_the_cap_counts_as_400():
    mix = blend([Lot(450.0, 50.0, Kind.ABOVE), Lot(250.0, 50.0)])
    assert (mix.kind, mix.censored, mix.capped) == (Kind.EXACT, (), (0,))
    assert mix.seconds_s == pytest.approx(blend([Lot(400.0, 50.0), Lot(250.0, 50.0)]).seconds_s)


def test_floor_and_stopped_together_bound_from_above_only():
    mix = blend([Lot(62.0, 10.0, Kind.AT_OR_BELOW), Lot(350.0, 90.0, Kind.ABOVE)])
    assert mix.kind is Kind.AT_OR_BELOW
    assert mix.censored == (0, 1)
    # The bound must hold for the best that the stopped lot may be: 400 s.
    assert mix.seconds_s == pytest.approx(
        blend([Lot(62.0, 10.0), Lot(400.0, 90.0)], censoring=False).seconds_s
    )


def test_lots_without_mass_count_for_nothing():
    lots = [Lot(400.0, 50.0), Lot(220.0, 50.0), Lot(62.0, 0.0, Kind.AT_OR_BELOW), Lot(800.0, 0.0)]
    mix = blend(lots)
    assert (mix.kind, mix.censored, mix.capped) == (Kind.EXACT, (), ())
    assert mix.seconds_s == pytest.approx(278.846, abs=5e-4)


def test_many_measured_lots_and_an_empty_one_stay_exact():
    rng = np.random.default_rng(2)
    for _ in range(200):
        lots = [
            Lot(float(f), float(m)) for f, m in zip(rng.uniform(63, 399, 11), rng.random(11), strict=True)
        ]
        assert blend([Lot(250.0, 0.0), *lots]).kind is Kind.EXACT


def test_lots_mix_at_a_common_moisture():
    wet, dry = Lot(220.0, 50.0, moisture_pct=20.0), Lot(400.0, 50.0, moisture_pct=10.0)
    assert dry_matter_shares([wet, dry]) == pytest.approx([40.0 / 85.0, 45.0 / 85.0])
    expected = fn_from_ln((40.0 * ln_from_fn(220.0) + 45.0 * ln_from_fn(400.0)) / 85.0)
    assert blend([wet, dry]).seconds_s == pytest.approx(expected)
    assert blend([wet, dry]).seconds_s > blend([Lot(220.0, 50.0), Lot(400.0, 50.0)]).seconds_s


def test_the_same_moisture_everywhere_changes_nothing():
    plain = blend([Lot(400.0, 3.0), Lot(220.0, 1.0)])
    stated = blend([Lot(400.0, 3.0, moisture_pct=13.7), Lot(220.0, 1.0, moisture_pct=13.7)])
    assert stated.seconds_s == pytest.approx(plain.seconds_s, rel=1e-14)


def test_moisture_stated_for_some_lots_only_has_no_answer():
    with pytest.raises(NoAnswer) as met:
        blend([Lot(400.0, 1.0, moisture_pct=12.0), Lot(220.0, 1.0)])
    assert (met.value.code, met.value.values) == ("blend-moisture-partly", {"stated": 1, "lots": 2})


@pytest.mark.parametrize("moisture_pct", [4.9, 30.1, 100.0, math.nan])
def test_a_moisture_that_cannot_be_is_refused(moisture_pct):
    with pytest.raises(OutOfRange, match="moisture_pct"):
        blend([Lot(400.0, 1.0, moisture_pct=moisture_pct), Lot(220.0, 1.0, moisture_pct=12.0)])


@pytest.mark.parametrize("masses", [(0.0, 0.0), (-1.0, 2.0), (math.nan, 1.0), (math.inf, 1.0)])
def test_masses_that_cannot_be_shares_have_no_answer(masses):
    with pytest.raises(NoAnswer, match="blend-mass"):
        blend([Lot(400.0, masses[0]), Lot(220.0, masses[1])])


def test_nothing_to_blend_has_no_answer():
    with pytest.raises(NoAnswer, match="blend-empty"):
        blend([])


@pytest.mark.parametrize("seconds_s", [50.0, 0.0, -62.0, math.nan])
def test_seconds_at_the_pole_are_refused(seconds_s):
    with pytest.raises(OutOfRange) as met:
        blend([Lot(seconds_s, 1.0), Lot(300.0, 1.0)])
    assert met.value.low == 50.0


def test_results_of_different_bases_masses_or_materials_never_mix():
    keys = [shipped_profile(p).comparable_key for p in ("meal-15", "meal-14", "as-is", "rye-9g", "flour-14")]
    assert len(set(keys)) == len(keys)
    for i, first in enumerate(keys):
        for second in keys[i + 1 :]:
            with pytest.raises(NotComparable) as met:
                blend([Lot(300.0, 1.0, comparable_key=first), Lot(250.0, 1.0, comparable_key=second)])
            assert {met.value.first, met.value.second} == {first, second}
    with pytest.raises(NotComparable, match="not stated"):
        blend([Lot(300.0, 1.0, comparable_key=keys[0]), Lot(250.0, 1.0)])


# --- the share that reaches a target ----------------------------------------------------------------------


def test_share_of_220_in_400_that_reads_300():
    reach = share_to_reach(300.0, 400.0, 220.0)
    assert reach.share_low == pytest.approx(0.377778, abs=5e-7)
    assert reach.seconds_s == pytest.approx(300.0)
    assert reach.capped is False


@pytest.mark.parametrize(
    ("target", "high", "low", "cap"),
    [
        (300.0, 400.0, 220.0, CAP_S),
        (250.0, 380.0, 62.0, CAP_S),
        (300.0, 500.0, 200.0, CAP_S),
        (300.0, 500.0, 200.0, None),
        (399.0, 450.0, 62.0, CAP_S),
    ],
)
def test_the_share_found_blends_to_the_target(target, high, low, cap):
    share = share_to_reach(target, high, low, cap_s=cap).share_low
    assert 0.0 < share < 1.0
    assert blend([Lot(high, 1.0 - share), Lot(low, share)], cap_s=cap).seconds_s == pytest.approx(target)
    assert blend([Lot(high, 0.99 - share), Lot(low, share + 0.01)], cap_s=cap).seconds_s < target


def test_the_cap_lets_less_of_the_low_lot_in():
    assert (
        share_to_reach(300.0, 500.0, 200.0).share_low
        < share_to_reach(300.0, 500.0, 200.0, cap_s=None).share_low
    )
    assert share_to_reach(300.0, 500.0, 200.0).capped


def test_a_low_lot_that_makes_the_target_alone_may_be_all_of_it():
    reach = share_to_reach(220.0, 400.0, 220.0)
    assert (reach.share_low, reach.seconds_s) == (1.0, pytest.approx(220.0))
    alone = share_to_reach(200.0, 400.0, 220.0)
    assert (alone.share_low, alone.seconds_s, alone.target_s) == (1.0, pytest.approx(220.0), 200.0)


def test_a_target_above_both_has_no_answer():
    with pytest.raises(NoAnswer) as met:
        share_to_reach(401.0, 400.0, 220.0)
    assert met.value.code == "reach-above-both"
    assert met.value.values["best_s"] == pytest.approx(400.0)
    with pytest.raises(NoAnswer) as met:  # with the cap a lot of 500 s is good for 400 s
        share_to_reach(450.0, 500.0, 220.0)
    assert met.value.values["best_s"] == pytest.approx(400.0)
    assert share_to_reach(400.0, 400.0, 220.0).share_low == pytest.approx(0.0)


@pytest.mark.parametrize(("high", "low"), [(220.0, 400.0), (300.0, 300.0)])
def test_lots_the_wrong_way_round_have_no_answer(high, low):
    with pytest.raises(NoAnswer, match="reach-order"):
        share_to_reach(300.0, high, low)


@pytest.mark.parametrize("bad", [50.0, 0.0, math.nan])
@pytest.mark.parametrize("place", range(3))
def test_no_share_from_what_is_no_falling_number(bad, place):
    given = [300.0, 400.0, 220.0]
    given[place] = bad
    with pytest.raises(OutOfRange):
        share_to_reach(*given)
