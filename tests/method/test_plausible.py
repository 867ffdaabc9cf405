from __future__ import annotations

import numpy as np
import pytest

from lodestarch.method.plausible import (
    FINE,
    IMPOSSIBLE_CODES,
    NEGATIVE,
    TENFOLD,
    TOO_LONG,
    UNDER_STIRRING,
    impossible,
)
from lodestarch.method.reading import Kind


def klass(seconds, partner_s=np.nan, kind=Kind.EXACT):
    out = impossible(
        np.array([seconds]),
        np.array([kind], dtype=np.int8),
        np.array([partner_s]),
        stirring_s=60.0,
        longest_s=900.0,
    )
    return int(out[0])


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [
        (60.0, FINE),
        (59.9, UNDER_STIRRING),
        (0.0, UNDER_STIRRING),
        (900.0, FINE),
        (900.1, TOO_LONG),
        (6000.0, TOO_LONG),
        (-287.0, NEGATIVE),
        (np.nan, NEGATIVE),
    ],
)
def test_bounds(seconds, expected):
    assert klass(seconds) == expected


@pytest.mark.parametrize(
    ("seconds", "partner_s", "expected"),
    [
        (28.7, 287.0, TENFOLD),
        (28.0, 301.0, TENFOLD),
        (2870.0, 290.0, TENFOLD),
        (3010.0, 290.0, TENFOLD),
        (28.7, np.nan, UNDER_STIRRING),
        (2870.0, np.nan, TOO_LONG),
        (6000.0, 290.0, TOO_LONG),
        (50.0, 290.0, UNDER_STIRRING),
        (-28.7, 287.0, NEGATIVE),
    ],
)
def test_a_tenth_or_ten_times_the_partner(seconds, partner_s, expected):
    assert klass(seconds, partner_s) == expected


def test_two_honest_readings_are_never_accused():
    assert klass(65.0, 650.0) == FINE
    assert klass(650.0, 65.0) == FINE


@pytest.mark.parametrize("kind", [Kind.AT_OR_BELOW, Kind.ABOVE])
def test_a_censored_reading_obeys_the_bounds_but_is_no_slip_of_a_digit(kind):
    assert klass(28.7, 287.0, kind) == UNDER_STIRRING
    assert klass(2870.0, 287.0, kind) == TOO_LONG
    assert klass(62.0, np.nan, kind) == FINE


def test_every_class_but_fine_has_a_code():
    assert set(IMPOSSIBLE_CODES) == {NEGATIVE, UNDER_STIRRING, TOO_LONG, TENFOLD}
    assert len(set(IMPOSSIBLE_CODES.values())) == 4


def test_many_at_once_as_one_by_one():
    seconds = np.array([287.0, 28.7, 2870.0, -1.0, 59.0, 901.0, 60.0])
    partner = np.array([290.0, 287.0, 290.0, 290.0, np.nan, 300.0, 62.0])
    kind = np.zeros(7, dtype=np.int8)
    every = impossible(seconds, kind, partner, stirring_s=60.0, longest_s=900.0)
    assert every.tolist() == [klass(s, p) for s, p in zip(seconds.tolist(), partner.tolist(), strict=True)]
