from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Severity, Where
from lodestarch.common.units import HPA_PER, to_metres
from lodestarch.method.bath import (
    STANDARD_HPA,
    boiling_point_c,
    elevation_from_pressure_m,
    pressure_findings,
    pressure_from_elevation_hpa,
    station_from_sea_level_hpa,
)
from method.support import table

WHERE = Where(row=4, field="pressure_hpa", run="1")


def codes(pressure_hpa, elevation_m, **kw):
    return [f.code for f in pressure_findings(pressure_hpa, elevation_m, WHERE, **kw)]


@pytest.mark.parametrize("row", table("method_boiling.csv"), ids=lambda r: f"{r['ft']} ft")
def test_standard_atmosphere_by_foot_derived_columns(row):
    pressure = pressure_from_elevation_hpa(to_metres(float(row["ft"]), "ft"))
    assert pressure / 10.0 == pytest.approx(float(row["kPa"]), abs=0.006)
    assert pressure / HPA_PER["inHg"] == pytest.approx(float(row["inHg"]), abs=0.0008)


def test_the_atmosphere_is_standard_at_sea_level_and_falls_with_height():
    assert pressure_from_elevation_hpa(0.0) == STANDARD_HPA
    heights = np.linspace(-430.0, 4200.0, 500)
    assert np.all(np.diff(pressure_from_elevation_hpa(heights)) < 0.0)


def test_elevation_and_pressure_are_inverse_over_the_whole_range():
    heights = np.linspace(-430.0, 4190.0, 200)
    assert elevation_from_pressure_m(pressure_from_elevation_hpa(heights)) == pytest.approx(heights, abs=1e-6)


@pytest.mark.parametrize("pressure_hpa", [599.9, 1080.1, math.nan, math.inf, -1.0])
def test_pressures_outside_the_legal_range_are_refused(pressure_hpa):
    for ask in (boiling_point_c, elevation_from_pressure_m):
        with pytest.raises(OutOfRange) as met:
            ask(np.array([1000.0, pressure_hpa]))
        assert met.value.name == "pressure_hpa"


@pytest.mark.parametrize("elevation_m", [-431.0, 4201.0, math.nan])
def test_elevations_outside_the_legal_range_are_refused(elevation_m):
    with pytest.raises(OutOfRange, match="elevation_m"):
        pressure_from_elevation_hpa(elevation_m)


def test_a_broadcast_pressure_comes_back_to_the_bench():
    assert station_from_sea_level_hpa(1013.25, 520.0) == pytest.approx(pressure_from_elevation_hpa(520.0))
    assert station_from_sea_level_hpa(1003.0, 0.0) == pytest.approx(1003.0)
    # A day 20 hPa above standard is nearly 20 hPa above standard at the bench as well.
    above = station_from_sea_level_hpa(1033.25, 520.0) - pressure_from_elevation_hpa(520.0)
    assert 18.0 < above < 20.0
    both = np.array([980.0, 1030.0])
    assert station_from_sea_level_hpa(both, 300.0).tolist() == [
        station_from_sea_level_hpa(p, 300.0) for p in both.tolist()
    ]


# --- findings on a typed pressure -------------------------------------------------------------------------


def test_a_sea_level_pressure_at_520_m_is_seen():
    (finding,) = pressure_findings(1013.0, 520.0, WHERE)
    assert finding.code == "pressure-looks-reduced"
    assert finding.severity is Severity.CHECK
    assert finding.where is WHERE
    assert finding.values["expected_hpa"] == pytest.approx(952.3, abs=0.1)


def test_station_pressure_at_520_m_passes():
    assert codes(952.0, 520.0) == []
    assert codes(940.0, 520.0) == []


def test_a_value_that_fits_bench_and_sea_level_is_asked_about_at_520_m():
    # 985 hPa is a low day reduced to sea level as well as a high day at the bench.
    assert codes(985.0, 520.0) == ["pressure-which"]
    assert codes(985.0, 520.0, known_station=True) == []


@pytest.mark.parametrize("elevation_m", [60.0, 200.0, 339.0])
@pytest.mark.parametrize("pressure_hpa", [985.0, 1000.0])
def test_below_340_m_somebody_is_asked_which_pressure_it_is(elevation_m, pressure_hpa):
    assert codes(pressure_hpa, elevation_m) == ["pressure-which"]
    assert codes(pressure_hpa, elevation_m, known_station=True) == []


@pytest.mark.parametrize("elevation_m", [345.0, 400.0, 520.0, 700.0, 914.4, 1500.0])
def test_no_reduced_pressure_of_ordinary_weather_passes_unasked(elevation_m):
    for reduced in np.arange(985.0, 1041.0):
        assert codes(float(reduced), elevation_m) != []


@pytest.mark.parametrize("elevation_m", [-5.0, 0.0, 10.0, 16.0])
def test_at_sea_level_the_two_are_the_same_and_nobody_is_asked(elevation_m):
    assert codes(1010.0, elevation_m) == []


@pytest.mark.parametrize("away_hpa", [-40.5, -39.5, 39.5, 40.5])
def test_four_kilopascals_are_weather_and_more_is_not(away_hpa):
    for elevation_m in (0.0, 1500.0):
        found = codes(pressure_from_elevation_hpa(elevation_m) + away_hpa, elevation_m, known_station=True)
        assert found == (["pressure-elevation-disagree"] if abs(away_hpa) > 40.0 else [])


def test_a_pressure_far_from_both_disagrees_with_the_elevation():
    assert codes(880.0, 520.0) == ["pressure-elevation-disagree"]
    assert codes(880.0, 520.0, known_station=True) == ["pressure-elevation-disagree"]


@pytest.mark.parametrize(
    ("typed", "meant"), [(29.92, "inHg"), (101.3, "kPa"), (760.0, "mmHg"), (101325.0, "Pa")]
)
def test_a_value_typed_in_another_unit_is_seen(typed, meant):
    found = codes(typed, 10.0)
    assert found == (["pressure-elevation-disagree"] if meant == "mmHg" else ["pressure-illegal"])


def test_an_illegal_pressure_stops():
    (finding,) = pressure_findings(29.92, None, WHERE)
    assert finding.severity is Severity.STOP
    assert finding.values == {"pressure_hpa": 29.92, "low_hpa": 600.0, "high_hpa": 1080.0}


def test_without_an_elevation_nothing_can_be_compared():
    assert codes(1013.0, None) == []
