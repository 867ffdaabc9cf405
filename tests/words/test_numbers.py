"""How numbers are written."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lodestarch.words.numbers import (
    DASH,
    MINUS,
    THIN,
    by_suffix,
    figure,
    for_encoding,
    number,
    tidy,
    with_u,
)


@pytest.mark.parametrize(
    ("value", "decimals", "expected"),
    [
        (287.0, 0, "287"),
        (299.5, 0, "300"),
        (-0.04, 1, "0.0"),
        (-12.25, 1, f"{MINUS}12.3"),
        (2910.0, 0, "2910"),
        (9999.6, 0, f"10{THIN}000"),
        (1234567.891, 2, f"1{THIN}234{THIN}567.89"),
        (6.425, 2, "6.43"),
        (None, 0, DASH),
        (math.nan, 2, DASH),
        (math.inf, 0, DASH),
    ],
)
def test_number(value, decimals, expected):
    assert number(value, decimals) == expected


@given(st.floats(-1e7, 1e7), st.integers(0, 4))
def test_a_written_number_reads_back_to_within_its_last_digit(value, decimals):
    text = number(value, decimals).replace(THIN, "").replace(MINUS, "-")
    assert abs(float(text) - value) <= 0.5 * 10**-decimals * (1 + 1e-9)
    assert text != "-0"


@given(st.floats(60.0, 900.0), st.floats(0.05, 200.0))
def test_no_digit_below_the_first_digit_of_the_uncertainty(value, u):
    text = with_u(value, u)
    shown = len(text.partition(".")[2])
    assert 10**-shown > u / 100 or shown == 0
    assert 10**-shown <= max(u, 1.0)


def test_a_value_without_uncertainty_is_written_as_short_as_it_is():
    assert with_u(287.0, None) == "287"
    assert with_u(0.37778, None) == "0.378"
    assert with_u(0.37778, 0.0, most=1) == "0.4"


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        ("mass_g", 6.8, "6.80"),
        ("seconds", 2910.0, "2910"),
        ("spread_s", 31.5, "31.5"),
        ("pressure_hpa", 908.123, "908.1"),
        ("pairs", 48, "48"),
        ("elevation_m", 914.4, "914.4"),
        ("moisture_pct", 13.0, "13.0"),
        ("ratio", 0.123456, "0.123"),
    ],
)
def test_decimals_follow_the_unit_in_the_key(key, value, expected):
    assert by_suffix(key, value) == expected
    assert figure(float(expected)) == expected.rstrip("0").rstrip(".") or "." not in expected


def test_a_unit_stays_with_its_number_and_words_are_left_alone():
    assert tidy("6.80 g and 3 groups") == "6.80\u00a0g and 3 groups"
    assert tidy("14 % mb, 287 s") == "14\u00a0%\u00a0mb, 287\u00a0s"
    assert tidy("tubes s and 2 samples") == "tubes s and 2 samples"


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "cp437", "utf-8"])
def test_every_sign_we_use_can_be_printed_in_old_encodings(encoding):
    text = f"≤{THIN}62\u00a0s · {MINUS}3 °C ± 2 → ● ◐ ○ – “8814” ¢"
    assert for_encoding(text, encoding).encode(encoding)
    assert "?" not in for_encoding(text, encoding)
