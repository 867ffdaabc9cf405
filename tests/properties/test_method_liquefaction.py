from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn, ln_slope, u_of_ln

SECONDS = st.floats(50.5, 900.0)
NUMBERS = st.floats(1e-3, 1e4)


@settings(deadline=None)
@given(SECONDS)
def test_there_and_back(fn_s):
    assert fn_from_ln(ln_from_fn(fn_s)) == pytest.approx(fn_s, rel=1e-12)


@settings(deadline=None)
@given(NUMBERS)
def test_back_and_there(ln):
    assert ln_from_fn(fn_from_ln(ln)) == pytest.approx(ln, rel=1e-9)


@settings(deadline=None)
@given(SECONDS, st.floats(1e-3, 400.0))
def test_more_seconds_are_a_smaller_number(fn_s, more):
    assert ln_from_fn(fn_s + more) < ln_from_fn(fn_s)
    assert ln_slope(fn_s) < 0.0


@settings(deadline=None)
@given(st.lists(SECONDS, min_size=1, max_size=20), st.floats(0.0, 50.0))
def test_scalars_and_arrays_agree(values, u_s):
    array = np.array(values)
    assert ln_from_fn(array).tolist() == [ln_from_fn(v) for v in values]
    assert fn_from_ln(array).tolist() == [fn_from_ln(v) for v in values]
    assert ln_slope(array).tolist() == pytest.approx([ln_slope(v) for v in values], rel=1e-15)
    assert u_of_ln(array, np.full(array.size, u_s)).tolist() == pytest.approx(
        [u_of_ln(v, u_s) for v in values], rel=1e-15
    )
