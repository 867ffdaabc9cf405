from __future__ import annotations

import math

import pytest

from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.nomenclature import QUANTITIES, legal_range, quantity, require_legal
from lodestarch.method.bath import boiling_point_c, pressure_from_elevation_hpa
from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn


@pytest.mark.parametrize("key", QUANTITIES)
def test_each_line_is_whole(key):
    line = quantity(key)
    assert line.key == key
    assert line.low < line.high
    assert line.symbol
    assert line.unit
    assert line.meaning.endswith(".")


def test_symbols_are_not_used_twice():
    symbols = [q.symbol for q in QUANTITIES.values()]
    assert sorted(set(symbols)) == sorted(symbols)


@pytest.mark.parametrize("key", QUANTITIES)
def test_both_ends_are_legal_and_what_lies_beyond_is_not(key):
    low, high = legal_range(key)
    assert require_legal(key, low) == low
    assert require_legal(key, high) == high
    for value in (
        math.nextafter(low, -math.inf),
        math.nextafter(high, math.inf),
        math.nan,
        math.inf,
        -math.inf,
    ):
        with pytest.raises(OutOfRange) as met:
            require_legal(key, value)
        assert (met.value.low, met.value.high, met.value.name) == (low, high, key)


def test_an_unknown_quantity_is_named():
    with pytest.raises(UnknownName, match="no quantity named 'fn'"):
        quantity("fn")


def test_the_range_of_the_liquefaction_number_is_that_of_the_seconds():
    low, high = legal_range("seconds")
    assert legal_range("ln") == pytest.approx((ln_from_fn(high), ln_from_fn(low)))
    assert fn_from_ln(legal_range("ln")[0]) == pytest.approx(high)


def test_every_legal_pressure_boils_within_the_legal_temperatures():
    low, high = legal_range("bath_temp_c")
    for pressure in legal_range("pressure_hpa"):
        assert low <= boiling_point_c(pressure) <= high


def test_every_legal_elevation_has_a_legal_pressure():
    low, high = legal_range("pressure_hpa")
    for elevation in legal_range("elevation_m"):
        assert low <= pressure_from_elevation_hpa(elevation) <= high
