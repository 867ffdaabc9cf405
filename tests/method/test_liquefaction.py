from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import OutOfRange
from lodestarch.method.liquefaction import (
    LN_NUMERATOR,
    LN_OFFSET_S,
    fn_from_ln,
    ln_from_fn,
    ln_slope,
    u_of_ln,
)
from method.support import table


@pytest.mark.parametrize("row", table("method_ln.csv"), ids=lambda r: f"FN {r['FN']}")
def test_derived_table_both_ways(row):
    fn, ln = float(row["FN"]), float(row["LN"])
    assert ln_from_fn(fn) == pytest.approx(ln, abs=0.0005)
    assert fn_from_ln(ln_from_fn(fn)) == pytest.approx(fn, rel=1e-14)


def test_the_two_constants():
    assert (LN_NUMERATOR, LN_OFFSET_S) == (6000.0, 50.0)


def test_ends_of_the_scale():
    assert ln_from_fn(math.inf) == 0.0
    assert fn_from_ln(0.0) == math.inf
    assert fn_from_ln(math.inf) == 50.0
    assert fn_from_ln(np.array([0.0, 24.0])).tolist() == [math.inf, 300.0]


@pytest.mark.parametrize("fn_s", [50.0, 49.0, 0.0, -300.0, -math.inf])
def test_at_and_below_the_pole_there_is_no_number(fn_s):
    for given in (fn_s, np.array([300.0, fn_s])):
        with pytest.raises(OutOfRange) as met:
            ln_from_fn(given)
        assert (met.value.name, met.value.value, met.value.low) == ("fn_s", fn_s, 50.0)


def test_a_negative_number_has_no_seconds():
    with pytest.raises(OutOfRange, match="ln is -1"):
        fn_from_ln(np.array([24.0, -1.0]))


def test_the_slope_is_that_of_the_curve():
    for fn in (62.0, 100.0, 300.0, 450.0):
        step = 1e-3
        numeric = (ln_from_fn(fn + step) - ln_from_fn(fn - step)) / (2 * step)
        assert ln_slope(fn) == pytest.approx(numeric, rel=1e-6)


def test_uncertainty_of_the_number_against_drawn_readings():
    draws = np.random.default_rng(11).normal(300.0, 6.0, 200_000)
    assert u_of_ln(300.0, 6.0) == pytest.approx(0.576)
    assert u_of_ln(300.0, 6.0) == pytest.approx(float(np.std(ln_from_fn(draws))), rel=0.01)
