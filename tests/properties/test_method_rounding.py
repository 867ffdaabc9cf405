"""Half-up rounding against the decimal module."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from lodestarch.common.rounding import decimals_for, half_up

DECIMALS = st.decimals(-20_000, 20_000, places=4, allow_nan=False, allow_infinity=False)
STEPS = st.sampled_from(["1", "0.1", "0.01", "0.05", "0.001", "0.5", "0.25", "5", "10"])


def by_decimal(value: Decimal, step: str) -> float:
    n = (value / Decimal(step)).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    return float(n * Decimal(step))


@settings(deadline=None)
@given(DECIMALS, STEPS)
def test_half_up_is_decimal_half_up(value, step):
    assert half_up(float(value), float(step)) == by_decimal(value, step)


@settings(deadline=None)
@given(st.integers(-20_000, 20_000), STEPS)
def test_ties_are_decided_on_the_decimal_text(n, step):
    tie = (Decimal(n) + Decimal("0.5")) * Decimal(step)
    assert half_up(float(tie), float(step)) == by_decimal(tie, step)


@settings(deadline=None)
@given(st.lists(st.floats(-1e5, 1e5), min_size=1, max_size=12), STEPS)
def test_arrays_are_rounded_as_scalars_are(values, step):
    assert half_up(np.array(values), float(step)).tolist() == [half_up(v, float(step)) for v in values]


@settings(deadline=None)
@given(st.floats(-1e5, 1e5), st.floats(0.0, 50.0), STEPS)
def test_rounding_moves_at_most_half_a_step_keeps_order_and_does_nothing_twice(value, more, step):
    s = float(step)
    once = half_up(value, s)
    assert abs(once - value) <= s / 2 + 1e-9 * (1 + abs(value))
    assert half_up(value + more, s) >= once
    assert half_up(once, s) == once
    assert half_up(-value, s) == -once


@settings(deadline=None)
@given(st.floats(1e-4, 900.0), st.integers(1, 2))
def test_the_decimals_shown_keep_the_digits_asked_for_and_no_more(u, digits):
    shown = Decimal(repr(u)).quantize(Decimal(1).scaleb(-decimals_for(u, digits)), rounding=ROUND_HALF_UP)
    kept = len(shown.as_tuple().digits)
    assert kept == digits or (decimals_for(u, digits) == 0 and kept >= digits) or shown == 0
