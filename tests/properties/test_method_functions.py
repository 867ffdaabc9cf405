"""Portion, bath, correction, scatter: monotonic, bounded, and the same for scalars and arrays."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lodestarch.common.nomenclature import legal_range
from lodestarch.common.provenance import Provenance
from lodestarch.common.units import HPA_PER, celsius_to_fahrenheit, fahrenheit_to_celsius, to_hpa
from lodestarch.method.bath import (
    STANDARD_HPA,
    boiling_point_c,
    elevation_from_pressure_m,
    pressure_from_elevation_hpa,
    station_from_sea_level_hpa,
)
from lodestarch.method.correction import Correction, corrected_s
from lodestarch.method.portion import portion_mass_g
from lodestarch.method.scatter import ScatterLaw
from lodestarch.method.shipped import shipped_profiles

PRESSURES = st.floats(*legal_range("pressure_hpa"))
ELEVATIONS = st.floats(*legal_range("elevation_m"))
SECONDS = st.floats(60.0, 900.0)
MOISTURES = st.floats(8.0, 16.0)
PROFILES = st.sampled_from(shipped_profiles())
CORRECTIONS = st.one_of(
    st.just(Correction("none", ())),
    st.floats(0.0033, 0.018).map(lambda c: Correction("proportional", (c,))),
    st.floats(2.5e-6, 1.2e-5).map(lambda c: Correction("log-linear-elevation", (c,))),
    st.floats(0.0033, 0.018).map(lambda c: Correction("polynomial", (1.0 - c * 101.325, c))),
)
LAWS = st.one_of(
    st.floats(0.001, 0.2).map(lambda a: ScatterLaw("constant-cv", (a,), Provenance.DERIVED)),
    st.floats(0.01, 2.0).map(lambda a: ScatterLaw("constant-in-ln", (a,), Provenance.DERIVED)),
    st.tuples(st.floats(0.0, 10.0), st.floats(0.001, 0.2)).map(
        lambda ab: ScatterLaw("constant-plus-proportional", ab, Provenance.DERIVED)
    ),
    st.lists(st.floats(0.1, 30.0), min_size=1, max_size=5).map(
        lambda ys: ScatterLaw(
            "table", tuple(ys), Provenance.DERIVED, "", tuple(100.0 * i for i in range(1, len(ys) + 1))
        )
    ),
)


@settings(deadline=None)
@given(PROFILES, MOISTURES, st.floats(0.0, 8.0))
def test_a_wetter_sample_never_takes_less(profile, moisture_pct, more):
    c = profile.constants
    wetter = min(16.0, moisture_pct + more)
    assert portion_mass_g(wetter, c) >= portion_mass_g(moisture_pct, c)
    exact = portion_mass_g(moisture_pct, c, rounded=False)
    if c.portion_rule != "as-is" and wetter > moisture_pct + 1e-6:
        assert portion_mass_g(wetter, c, rounded=False) > exact
    assert abs(portion_mass_g(moisture_pct, c) - exact) <= c.portion_step_g / 2 + 1e-9


@settings(deadline=None)
@given(PROFILES, st.lists(MOISTURES, min_size=1, max_size=20), st.booleans())
def test_portions_are_the_same_for_scalars_and_arrays(profile, values, rounded):
    c = profile.constants
    every = portion_mass_g(np.array(values), c, rounded=rounded)
    assert every.tolist() == [portion_mass_g(v, c, rounded=rounded) for v in values]


@settings(deadline=None)
@given(PRESSURES, st.floats(0.01, 400.0))
def test_water_boils_hotter_under_more_pressure(pressure_hpa, more):
    higher = min(legal_range("pressure_hpa")[1], pressure_hpa + more)
    low, high = legal_range("bath_temp_c")
    assert low < boiling_point_c(pressure_hpa) < high
    # The end of the legal range can leave a step below what a float of the result resolves.
    if higher - pressure_hpa >= 0.01:
        assert boiling_point_c(higher) > boiling_point_c(pressure_hpa)


@settings(deadline=None)
@given(ELEVATIONS)
def test_elevation_to_pressure_and_back(elevation_m):
    pressure = pressure_from_elevation_hpa(elevation_m)
    assert elevation_from_pressure_m(pressure) == pytest.approx(elevation_m, abs=1e-5)
    assert station_from_sea_level_hpa(STANDARD_HPA, elevation_m) == pytest.approx(pressure, rel=1e-12)


@settings(deadline=None)
@given(st.floats(960.0, 1050.0), st.floats(0.0, 3000.0), st.floats(0.1, 1000.0))
def test_a_reduced_pressure_comes_down_with_height(sea_level_hpa, elevation_m, more):
    here = station_from_sea_level_hpa(sea_level_hpa, elevation_m)
    assert here <= sea_level_hpa + 1e-9
    assert station_from_sea_level_hpa(sea_level_hpa, elevation_m + more) < here


@settings(deadline=None)
@given(st.lists(PRESSURES, min_size=1, max_size=20), st.lists(ELEVATIONS, min_size=1, max_size=20))
def test_the_bath_is_the_same_for_scalars_and_arrays(pressures, elevations):
    p, h = np.array(pressures), np.array(elevations)
    assert boiling_point_c(p).tolist() == pytest.approx([boiling_point_c(x) for x in pressures], rel=1e-14)
    assert elevation_from_pressure_m(p).tolist() == pytest.approx(
        [elevation_from_pressure_m(x) for x in pressures], rel=1e-12, abs=1e-9
    )
    assert pressure_from_elevation_hpa(h).tolist() == pytest.approx(
        [pressure_from_elevation_hpa(x) for x in elevations], rel=1e-14
    )


@settings(deadline=None)
@given(CORRECTIONS, SECONDS, PRESSURES, st.floats(0.1, 200.0))
def test_a_sane_correction_lowers_below_standard_and_raises_above(correction, seconds, pressure_hpa, more):
    out = corrected_s(seconds, pressure_hpa, correction)
    assert corrected_s(seconds, STANDARD_HPA, correction) == pytest.approx(seconds, rel=1e-9)
    assert (out - seconds) * (pressure_hpa - STANDARD_HPA) >= -1e-6
    higher = min(legal_range("pressure_hpa")[1], pressure_hpa + more)
    assert corrected_s(seconds, higher, correction) >= out - 1e-9
    # A higher reading stays the higher one.
    assert corrected_s(seconds + 1.0, pressure_hpa, correction) > out


@settings(deadline=None)
@given(CORRECTIONS, st.lists(st.tuples(SECONDS, PRESSURES), min_size=1, max_size=20))
def test_corrections_are_the_same_for_scalars_and_arrays(correction, pairs):
    seconds, pressures = (np.array(x) for x in zip(*pairs, strict=True))
    one_by_one = [corrected_s(s, p, correction) for s, p in pairs]
    assert corrected_s(seconds, pressures, correction).tolist() == pytest.approx(one_by_one, rel=1e-13)


@settings(deadline=None)
@given(LAWS, st.lists(SECONDS, min_size=1, max_size=20))
def test_scatter_is_the_same_for_scalars_and_arrays_and_never_negative(law, levels):
    every = law.sd_s(np.array(levels))
    assert every.tolist() == pytest.approx([law.sd_s(x) for x in levels], rel=1e-14)
    assert np.all(every >= 0.0)


@settings(deadline=None)
@given(st.sampled_from(sorted(HPA_PER)), st.floats(0.1, 1e5), st.floats(-100.0, 200.0))
def test_units_there_and_back(unit, value, temp_c):
    assert to_hpa(value, unit) / HPA_PER[unit] == pytest.approx(value, rel=1e-14)
    assert fahrenheit_to_celsius(celsius_to_fahrenheit(temp_c)) == pytest.approx(temp_c, abs=1e-9)
