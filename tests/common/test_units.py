from __future__ import annotations

import numpy as np
import pytest

from lodestarch.common.errors import UnknownName
from lodestarch.common.units import (
    HPA_PER,
    METRES_PER,
    celsius_to_fahrenheit,
    fahrenheit_to_celsius,
    to_hpa,
    to_metres,
)

STANDARD = {"hPa": 1013.25, "mbar": 1013.25, "Pa": 101325.0, "kPa": 101.325, "inHg": 29.9213, "mmHg": 760.0}
"""The standard atmosphere in each unit: exact by definition in hPa, Pa, kPa and mmHg; inHg rounded."""


def test_every_pressure_unit_has_its_standard_atmosphere():
    assert set(STANDARD) == set(HPA_PER)


@pytest.mark.parametrize("unit", HPA_PER)
def test_the_standard_atmosphere_is_the_same_in_every_unit(unit):
    assert to_hpa(STANDARD[unit], unit) == pytest.approx(1013.25, abs=2e-3)


def test_an_inch_of_mercury_is_twenty_five_point_four_millimetres():
    assert HPA_PER["inHg"] / HPA_PER["mmHg"] == pytest.approx(25.4, rel=1e-6)


def test_a_foot_is_exact():
    assert METRES_PER["ft"] == 0.3048
    assert to_metres(10000.0, "ft") == pytest.approx(3048.0)
    assert to_metres(520.0, "m") == 520.0


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(0.0, 32.0), (100.0, 212.0), (-40.0, -40.0), (37.0, 98.6)]
)
def test_temperatures(celsius, fahrenheit):
    assert celsius_to_fahrenheit(celsius) == pytest.approx(fahrenheit)
    assert fahrenheit_to_celsius(fahrenheit) == pytest.approx(celsius)


def test_arrays_and_scalars_agree():
    values = np.array([26.817, 29.921])
    assert to_hpa(values, "inHg").tolist() == [to_hpa(v, "inHg") for v in values.tolist()]
    assert to_metres(values, "ft").tolist() == [to_metres(v, "ft") for v in values.tolist()]


@pytest.mark.parametrize(("convert", "unit"), [(to_hpa, "psi"), (to_hpa, "hpa"), (to_metres, "km")])
def test_an_unknown_unit_is_named_with_what_there_is(convert, unit):
    with pytest.raises(UnknownName) as met:
        convert(1.0, unit)
    assert met.value.name == unit
    assert unit in str(met.value)
    assert met.value.allowed[0] in str(met.value)
