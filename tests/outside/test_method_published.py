"""The method room against values printed elsewhere, and against an independent implementation.

Only values that were read in the source named stand here as published. Derived and recalled check values
are in ``tests/method/test_check_values.py``.
"""

from __future__ import annotations

from math import log

import numpy as np
import pytest
from iapws.iapws97 import _TSat_P

from lodestarch.common.nomenclature import legal_range
from lodestarch.common.units import HPA_PER, celsius_to_fahrenheit, to_metres
from lodestarch.method.bath import boiling_point_c, pressure_from_elevation_hpa
from lodestarch.method.blend import Lot, blend
from lodestarch.method.liquefaction import ln_from_fn
from lodestarch.method.scatter import PUBLISHED_CV_RANGE
from method.support import table

PUBLISHED = {r["id"]: r for r in table("method_checks.csv") if r["provenance"] == "published"}


BY_ELEVATION = pytest.mark.parametrize(
    "row", [r for r in table("method_boiling.csv") if float(r["ft"]) <= 4000], ids=lambda r: f"{r['ft']} ft"
)
"""The rows that were printed; the one for 5,000 ft is derived."""


def printed(key):
    """The printed value and how far a correct answer may lie from it."""
    return pytest.approx(float(PUBLISHED[key]["expected"]), abs=float(PUBLISHED[key]["tolerance"]))


def test_the_published_values_are_these_and_each_names_its_source():
    assert set(PUBLISHED) == {
        "ln400",
        "ln220",
        "blend1",
        "p2000",
        "p3000",
        "p4000",
        "bp1000",
        "bp4000",
        "mass5g",
    }
    assert all(r["source"] for r in PUBLISHED.values())


# Agronomy article of 2020 on low falling numbers, attributing LN to the US federal inspection service.


def test_published_liquefaction_numbers_of_400_and_220():
    assert ln_from_fn(400.0) == printed("ln400")
    assert ln_from_fn(220.0) == printed("ln220")


def test_published_blend_of_400_and_220_in_equal_parts():
    mix = blend([Lot(400.0, 0.5), Lot(220.0, 0.5)])
    assert mix.seconds_s == printed("blend1")
    assert mix.ln_low == pytest.approx(26.2, abs=0.05)  # printed beside it


# A message of 2006 in a public forum, quoting formulae and tables by elevation; 2,000 ft also on a public
# pressure calculator page, which has 6,000 and 8,000 ft as well.


@pytest.mark.parametrize("key", ["p2000", "p3000", "p4000"])
def test_published_standard_pressures(key):
    pressure_hpa = pressure_from_elevation_hpa(to_metres(float(PUBLISHED[key]["input"]), "ft"))
    assert pressure_hpa / HPA_PER["inHg"] == printed(key)


@pytest.mark.parametrize(
    ("feet", "inches"), [(2000.0, 27.82), (4000.0, 25.84), (6000.0, 23.99), (8000.0, 22.23)]
)
def test_published_station_pressures_of_the_calculator_page(feet, inches):
    # Printed to 0.01; at 6,000 ft the page lies 0.012 above the standard atmosphere, else within rounding.
    pressure_hpa = pressure_from_elevation_hpa(to_metres(feet, "ft"))
    assert pressure_hpa / HPA_PER["inHg"] == pytest.approx(inches, abs=0.013)


@BY_ELEVATION
def test_published_pressure_column(row):
    pressure_hpa = pressure_from_elevation_hpa(to_metres(float(row["ft"]), "ft"))
    assert pressure_hpa / HPA_PER["inHg"] == pytest.approx(float(row["inHg"]), abs=0.001)


@BY_ELEVATION
def test_published_boiling_points_of_a_two_constant_fit(row):
    """The printed fit lies 0.02 to 0.09 °C above the saturation line: the fit's own error."""
    pressure_hpa = pressure_from_elevation_hpa(to_metres(float(row["ft"]), "ft"))
    fit_f = 49.161 * log(pressure_hpa / HPA_PER["inHg"]) + 44.932
    assert fit_f == pytest.approx(float(row["degF"]), abs=0.05)
    excess_f = fit_f - celsius_to_fahrenheit(boiling_point_c(pressure_hpa))
    assert 0.02 < excess_f / 1.8 < 0.09


@pytest.mark.parametrize("key", ["bp1000", "bp4000"])
def test_published_boiling_points_to_the_fits_own_error(key):
    pressure_hpa = pressure_from_elevation_hpa(to_metres(float(PUBLISHED[key]["input"]), "ft"))
    below_f = float(PUBLISHED[key]["expected"]) - celsius_to_fahrenheit(boiling_point_c(pressure_hpa))
    assert 0.0 < below_f < 0.2


# IAPWS R7-97(2012), table 36: saturation temperature at 0.1 MPa, 372.755919 K (recalled), and an independent
# implementation over the whole legal range.


def test_boiling_point_against_an_independent_implementation_over_the_whole_legal_range():
    pressures = np.linspace(*legal_range("pressure_hpa"), 961)
    independent = np.array([_TSat_P(p * 1e-4) for p in pressures]) - 273.15
    assert np.max(np.abs(boiling_point_c(pressures) - independent)) < 2e-12


def test_saturation_temperature_at_a_tenth_of_a_megapascal_recalled():
    assert boiling_point_c(1000.0) + 273.15 == pytest.approx(372.755919, abs=5e-7)


# Delwiche and Vinyard, cereal chemists' meeting abstract, 2016: repeatability CV 1 to 4 %.


def test_published_range_of_repeatability():
    assert PUBLISHED_CV_RANGE == (0.01, 0.04)
