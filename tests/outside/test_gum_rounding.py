"""Rounding of values and uncertainties: JCGM 100:2008 (GUM), 7.2.6, its examples read in a secondary copy."""

from __future__ import annotations

from decimal import Decimal

import pytest

from lodestarch.common.errors import OutOfRange
from lodestarch.words.issued.rounded_u import MOST_UNDERSTATED, rounded_u, value_with_u
from lodestarch.words.numbers import with_u


def test_the_gum_rounds_up_where_rounding_would_understate():
    assert rounded_u(10.47) == Decimal(11)  # mΩ


def test_the_gum_rounds_down_by_common_sense():
    assert rounded_u(28.05) == Decimal(28)  # kHz


def test_the_gum_rounds_the_estimate_to_its_uncertainty():
    value, u = value_with_u(10.05762, 0.027)  # Ω
    assert (value, u) == (Decimal("10.058"), Decimal("0.027"))
    assert with_u(10.05762, 0.027, digits=2) == "10.058"


@pytest.mark.parametrize(
    ("u", "said"),
    [
        (14.6, "15"),
        (8.4, "9"),
        (7.96, "8"),
        (0.4, "1"),
        (99.6, "100"),
        (123.0, "120"),
        (124.0, "130"),
        (0.07, "1"),
    ],
)
def test_an_uncertainty_of_whole_seconds_is_whole(u, said):
    assert str(rounded_u(u, most_decimals=0)) == said


@pytest.mark.parametrize("u", [0.0123, 0.999, 1.0, 5.55, 10.0, 10.2, 10.26, 33.3, 97.5, 100.4, 12345.0])
def test_rounding_never_understates_by_more_than_it_says_and_keeps_two_digits(u):
    got = rounded_u(u)
    assert float(got) >= u * (1.0 - MOST_UNDERSTATED)
    assert float(got) <= u * 1.1
    assert len(got.normalize().as_tuple().digits) <= 2


@pytest.mark.parametrize("u", [0.0, -1.0, float("nan"), float("inf")])
def test_what_is_no_uncertainty_is_refused(u):
    with pytest.raises(OutOfRange):
        rounded_u(u)
