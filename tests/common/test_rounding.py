from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.rounding import decimals_for, half_up


@pytest.mark.parametrize(
    ("value", "step", "expected"),
    [
        (299.5, 1.0, 300.0),
        (298.5, 1.0, 299.0),
        (299.4999, 1.0, 299.0),
        (-2.5, 1.0, -3.0),
        (0.0, 1.0, 0.0),
        (6.425, 0.01, 6.43),
        (6.4249, 0.01, 6.42),
        (1.005, 0.01, 1.01),
        (2.675, 0.01, 2.68),
        (0.285, 0.01, 0.29),
        (6.43, 0.05, 6.45),
        (6.425, 0.05, 6.45),
        (287.0, 5.0, 285.0),
        (287.5, 5.0, 290.0),
        (0.125, 0.25, 0.25),
    ],
)
def test_halves_go_away_from_zero(value, step, expected):
    assert half_up(value, step) == expected


def test_a_mean_that_should_be_a_half_but_is_stored_just_below_still_rounds_up():
    mean = 299.5 - 299.5 * 2**-52
    assert mean < 299.5
    assert half_up(mean) == 300.0


def test_nan_stays_and_infinity_stays():
    out = half_up(np.array([math.nan, math.inf, -math.inf]))
    assert math.isnan(out[0])
    assert out[1:].tolist() == [math.inf, -math.inf]


def test_no_minus_zero():
    assert math.copysign(1.0, half_up(-0.3)) == 1.0
    assert f"{half_up(-0.004, 0.01):g}" == "0"


def test_shape_is_kept():
    grid = np.array([[0.5, 1.4], [2.5, -0.5]])
    assert half_up(grid).tolist() == [[1.0, 1.0], [3.0, -1.0]]
    assert isinstance(half_up(0.5), float)


@pytest.mark.parametrize(
    ("u", "digits", "expected"),
    [
        (7.3, 2, 1),
        (0.123, 2, 2),
        (0.98, 1, 0),
        (0.0098, 1, 2),
        (12.0, 2, 0),
        (123.0, 2, 0),
        (9.96, 2, 0),
        (0.0995, 2, 2),
        (0.95, 1, 0),
        (4.1, 1, 0),
    ],
)
def test_decimals_follow_the_uncertainty(u, digits, expected):
    assert decimals_for(u, digits) == expected
