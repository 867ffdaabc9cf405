from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from lodestarch.method.blend import CAP_S, Lot, blend, share_to_reach
from lodestarch.method.reading import Kind

SECONDS = st.floats(60.0, 900.0)
MASSES = st.floats(0.01, 1000.0)
MEASURED = st.builds(Lot, SECONDS, MASSES)
ANY_KIND = st.builds(Lot, SECONDS, MASSES, st.sampled_from(Kind))
CAPS = st.sampled_from([None, CAP_S, 350.0])
MEASURED_LOTS = st.lists(MEASURED, min_size=1, max_size=14)
LOTS = st.lists(ANY_KIND, min_size=1, max_size=10)


@settings(deadline=None, max_examples=60)
@given(MEASURED_LOTS)
def test_the_plain_law_in_exact_arithmetic(lots):
    total = sum(Fraction(lot.mass) for lot in lots)
    ln = sum(Fraction(lot.mass) * 6000 / (Fraction(lot.seconds_s) - 50) for lot in lots) / total
    mix = blend(lots, cap_s=None)
    assert mix.seconds_s == pytest.approx(float(6000 / ln + 50), rel=1e-11)
    assert mix.kind is Kind.EXACT


@settings(deadline=None, max_examples=60)
@given(MEASURED_LOTS, CAPS)
def test_a_mix_lies_within_its_parts_and_never_above_the_mean_of_the_seconds(lots, cap_s):
    mix = blend(lots, cap_s=cap_s)
    parts = [min(lot.seconds_s, cap_s or 1e9) for lot in lots]
    mean = sum(s * p for s, p in zip(mix.shares, parts, strict=True))
    assert min(parts) - 1e-9 <= mix.seconds_s <= max(parts) + 1e-9
    assert mix.seconds_s <= mean + 1e-9
    assert sum(mix.shares) == pytest.approx(1.0, abs=1e-12)
    assert mix.seconds_s <= mix.plain_seconds_s + 1e-9


@settings(deadline=None, max_examples=60)
@given(LOTS, CAPS, st.randoms(use_true_random=False), st.floats(0.001, 1000.0))
def test_order_and_unit_of_mass_make_no_difference(lots, cap_s, shuffle, factor):
    plain = blend(lots, cap_s=cap_s)
    mixed = list(lots)
    shuffle.shuffle(mixed)
    scaled = [replace(lot, mass=lot.mass * factor) for lot in lots]
    for other in (blend(mixed, cap_s=cap_s), blend(scaled, cap_s=cap_s)):
        assert other.kind is plain.kind
        assert other.seconds_s == pytest.approx(plain.seconds_s, rel=1e-9)
        assert other.fn_low_s == pytest.approx(plain.fn_low_s, rel=1e-9)
        assert other.fn_high_s == pytest.approx(plain.fn_high_s, rel=1e-9)


@settings(deadline=None, max_examples=60)
@given(LOTS, st.lists(SECONDS, min_size=1, max_size=5), st.integers(0, 10), CAPS)
def test_lots_without_mass_change_nothing(lots, empty, at, cap_s):
    plain = blend(lots, cap_s=cap_s)
    padded = [*lots[:at], *(Lot(s, 0.0, Kind.AT_OR_BELOW) for s in empty), *lots[at:]]
    mix = blend(padded, cap_s=cap_s)
    assert mix.kind is plain.kind
    assert mix.seconds_s == pytest.approx(plain.seconds_s, rel=1e-12)


@settings(deadline=None, max_examples=60)
@given(MEASURED_LOTS, MEASURED, CAPS)
def test_blending_a_blend_is_blending_its_lots(lots, more, cap_s):
    assume(cap_s is None or all(lot.seconds_s <= cap_s for lot in [*lots, more]))
    first = blend(lots, cap_s=cap_s)
    stepwise = blend([Lot(first.seconds_s, sum(lot.mass for lot in lots)), more], cap_s=cap_s)
    assert stepwise.seconds_s == pytest.approx(blend([*lots, more], cap_s=cap_s).seconds_s, rel=1e-9)


@settings(deadline=None, max_examples=60)
@given(MEASURED_LOTS, st.integers(0, 13), st.floats(0.0, 200.0), CAPS)
def test_a_sounder_part_never_makes_a_worse_mix(lots, which, more, cap_s):
    i = which % len(lots)
    better = [*lots]
    better[i] = replace(lots[i], seconds_s=lots[i].seconds_s + more)
    assert blend(better, cap_s=cap_s).seconds_s >= blend(lots, cap_s=cap_s).seconds_s - 1e-9


@settings(deadline=None, max_examples=60)
@given(LOTS, st.data(), CAPS)
def test_whatever_censored_lots_are_the_mix_keeps_within_its_bounds(lots, data, cap_s):
    """Put a possible true value in the place of every censored lot: the bound must hold."""
    mix = blend(lots, cap_s=cap_s)
    true = []
    for lot in lots:
        if lot.kind is Kind.AT_OR_BELOW:
            value = data.draw(st.floats(50.001, lot.seconds_s))
        elif lot.kind is Kind.ABOVE:
            value = data.draw(st.floats(lot.seconds_s, 5000.0))
        else:
            value = lot.seconds_s
        true.append(Lot(value, lot.mass))
    actual = blend(true, cap_s=cap_s).seconds_s
    assert mix.fn_low_s - 1e-9 <= actual <= mix.fn_high_s + 1e-9 * mix.fn_high_s
    if mix.kind is Kind.AT_OR_BELOW:
        assert actual <= mix.seconds_s + 1e-9
    elif mix.kind is Kind.ABOVE:
        assert actual >= mix.seconds_s - 1e-9
    else:
        assert actual == pytest.approx(mix.seconds_s, rel=1e-9)


@settings(deadline=None, max_examples=60)
@given(st.floats(60.0, 500.0), st.floats(60.0, 500.0), st.floats(60.0, 500.0), CAPS)
def test_the_share_that_reaches_a_target_reaches_it(first, second, third, cap_s):
    low, target, high = sorted((first, second, third))
    assume(low < high and target <= min(high, cap_s or 1e9))
    reach = share_to_reach(target, high, low, cap_s=cap_s)
    assert 0.0 <= reach.share_low <= 1.0
    mix = blend([Lot(high, 1.0 - reach.share_low), Lot(low, reach.share_low)], cap_s=cap_s)
    assert mix.seconds_s >= target - 1e-6
    assert mix.seconds_s == pytest.approx(reach.seconds_s, rel=1e-9)
