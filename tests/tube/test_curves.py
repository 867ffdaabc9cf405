import math

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer
from lodestarch.tube.curves import activity_for, curve_of, fall_along, falls, law_of, stacked, with_reading
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.grid import FINE
from lodestarch.tube.inputs import TubeArrays, TubeInputs
from lodestarch.tube.parameters import shipped_set

REF = shipped_set()
STANDARD = TubeInputs(activity=0.0)


def test_along_a_curve_and_by_itself_a_tube_reads_the_same():
    curve = curve_of(TubeInputs(activity=0.0, mass_g=6.0, pressure_hpa=930.0), REF)
    for activity in (0.0, 3.0, 30.0, 300.0, 600.0):
        along, _ = fall_along(curve, law_of(REF, activity, curve.concentration))
        alone = seconds(TubeArrays(activity=activity, mass_g=6.0, pressure_hpa=930.0), REF, grid=FINE).item()
        assert alone == pytest.approx(along, abs=1e-3)


@pytest.mark.parametrize("activity", [0.0, 9.0, 45.0])
def test_slopes_against_differences(activity):
    curve = curve_of(STANDARD, REF)
    law = law_of(REF, activity, curve.concentration)
    _, slopes = fall_along(curve, law)
    for j in range(4):
        step = 1e-5 * max(abs(law[j]), 1e-3)
        up, down = law.copy(), law.copy()
        up[j] += step
        down[j] -= step
        difference = (fall_along(curve, up)[0] - fall_along(curve, down)[0]) / (2.0 * step)
        assert difference == pytest.approx(slopes[j], rel=1e-5)


def test_slopes_beyond_the_curve_and_under_the_cap():
    curve = curve_of(TubeInputs(activity=0.0, mass_g=20.0, moisture_pct=5.0, water_ml=10.0), REF)
    law = law_of(REF, 0.0, curve.concentration)
    at, slopes = fall_along(curve, law)
    assert at > curve.rows[-1, 0]
    later, _ = fall_along(curve, law + np.array([0.0, 0.0, 1e-6, 0.0, 0.0]))
    assert (later - at) / 1e-6 == pytest.approx(slopes[2], rel=1e-4)
    capped = law_of(REF, 600.0, 1.0)
    capped[2] = -20.0
    at, slopes = fall_along(curve_of(STANDARD, REF), capped)
    assert pytest.approx(at) == 61.5
    assert (slopes == 0.0).all()


def test_many_falls_are_the_same_as_one_by_one():
    curves = [curve_of(STANDARD, REF), curve_of(TubeInputs(activity=0.0, mass_g=5.0), REF)]
    which = np.array([0, 1, 1])
    laws = np.array(
        [law_of(REF, a, curves[k].concentration) for a, k in zip((1.0, 5.0, 50.0), which, strict=True)]
    )
    out = falls(stacked(curves), which.astype(float), laws)
    for i in range(3):
        at, slopes = fall_along(curves[which[i]], laws[i])
        assert at == out.seconds[i]
        np.testing.assert_array_equal(slopes, out.slopes[i])


def test_activities_solved_for_readings():
    # Derived, as the tables beside: activities at which the reference set reads these seconds.
    for reading, activity in zip(
        (150.0, 200.0, 250.0, 300.0, 350.0, 400.0), (43.499, 25.387, 16.050, 9.936, 5.388, 1.770), strict=True
    ):
        assert activity == pytest.approx(activity_for(reading, STANDARD, REF), abs=6e-4)


def test_there_and_back():
    tube = TubeInputs(
        activity=0.0, mass_g=6.4, pressure_hpa=880.0, origins=(("pericarp", 0.4), ("germination", 0.6))
    )
    curve = curve_of(tube, REF)
    for reading in (66.0, 75.0, 180.0, 333.3):
        activity = activity_for(reading, tube, REF, curve=curve)
        assert reading == pytest.approx(
            fall_along(curve, law_of(REF, activity, curve.concentration))[0], abs=1e-6
        )
    assert with_reading(200.0, tube, REF).activity > 0.0


def test_what_a_set_cannot_read_is_told_with_the_limit():
    with pytest.raises(NoAnswer) as above:
        activity_for(450.0, STANDARD, REF)
    assert above.value.code == "tube-above-enzyme-free"
    assert pytest.approx(above.value.values["enzyme_free_s"], abs=0.01) == 428.52
    with pytest.raises(NoAnswer) as below:
        activity_for(61.0, STANDARD, REF)
    assert below.value.code == "tube-below-reach"
    with pytest.raises(NoAnswer):
        activity_for(math.nan, STANDARD, REF)


def test_saturated_cutting_leaves_out_the_mass():
    # Cuts as enzyme over starch: 5 g at A = 5 read 208.5 instead of 215.1 (derived).
    from lodestarch.common.provenance import Provenance

    saturated = REF.replaced("saturated", {"damage_per_starch": 1.0}, Provenance.DERIVED, "open question")
    got = seconds(TubeArrays(activity=5.0, mass_g=5.0), saturated).item()
    assert pytest.approx(got, abs=0.06) == 208.5
    curve = curve_of(TubeInputs(activity=5.0, mass_g=5.0), saturated)
    assert got == pytest.approx(fall_along(curve, law_of(saturated, 5.0, curve.concentration))[0], abs=2e-3)
