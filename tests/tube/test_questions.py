import math

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.method.bath import pressure_from_elevation_hpa
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.inputs import TubeArrays, TubeInputs
from lodestarch.tube.parameters import shipped_set
from lodestarch.tube.questions.altitude import BOUNDS, altitude
from lodestarch.tube.questions.blend import bends, blends
from lodestarch.tube.questions.carry_over import carry_over
from lodestarch.tube.questions.heating import heating
from lodestarch.tube.questions.malt import dose_for, doses, malt_activity
from lodestarch.tube.questions.portion import portions
from lodestarch.tube.questions.two_tubes import two_tubes
from lodestarch.tube.standing import Limit
from tube.tables import table

REF = shipped_set()
FREE = TubeInputs(activity=0.0)
LEVELS = (150.0, 200.0, 250.0, 300.0, 350.0)
NAMES = {"F0-550": "f0-550", "F0-700": "f0-700", "film+": "film-plus", "film-": "film-minus"}
NAMES |= {"kd+": "kd-plus", "kd-": "kd-minus"}


def codes(outcome):
    return [f.code for f in outcome.findings]


def fields(outcome):
    return [f.where.field for f in outcome.findings]


@pytest.mark.parametrize("row", table("altitude_by_set.csv"), ids=lambda r: r["set"])
def test_the_rise_at_3000_ft_by_set(row):
    params = shipped_set(NAMES.get(row["set"], row["set"]))
    out = altitude(LEVELS, (908.12,), FREE, params, bounds=())
    for shift in out.shifts:
        assert float(row[f"{shift.level_s:.0f}"]) == pytest.approx(shift.shift_s, abs=0.06)
        assert (shift.low_s, shift.high_s, shift.sets) == (shift.shift_s, shift.shift_s, 0)


def test_the_band_of_altitude_is_that_of_the_sets():
    rows = table("altitude_by_set.csv")
    out = altitude(LEVELS, (908.12,), FREE, REF)
    for shift in out.shifts:
        column = [float(row[f"{shift.level_s:.0f}"]) for row in rows]
        assert (min(column), max(column)) == pytest.approx((shift.low_s, shift.high_s), abs=0.06)
        assert shift.sets == len(BOUNDS)
    assert out.findings == ()
    high = altitude((400.0, 425.0), (908.12,), FREE, REF)
    assert [shift.sets for shift in high.shifts] == [5, 5]


def test_weather_moves_readings_both_ways_by_a_few_seconds():
    here = pressure_from_elevation_hpa(600.0)
    out = altitude((300.0,), (here - 25.0, here + 25.0), FREE, REF, base_hpa=here)
    low, high = (shift.shift_s for shift in out.shifts)
    assert 4.0 < low < 9.0
    assert -9.0 < high < -4.0
    assert Limit.EXPLAINS_ONLY in out.limits


def test_where_the_sign_of_altitude_is_open_it_is_said():
    out = altitude((150.0,), (600.0,), FREE, REF)
    assert codes(out) == ["tube-altitude-open"]
    assert out.shifts[0].low_s < 0.0 < out.shifts[0].high_s


def test_impossible_pressures_and_levels_are_findings():
    assert codes(altitude((300.0,), (10.0,), FREE, REF)) == ["tube-input-illegal"]
    assert codes(altitude((300.0,), (math.nan,), FREE, REF)) == ["tube-input-illegal"]
    assert codes(altitude((470.0, 300.0), (900.0,), FREE, REF)) == ["tube-above-enzyme-free"]


def test_a_strong_heater_hides_the_second_tube_and_a_weak_one_does_not():
    tube = TubeInputs(ln=24.0)
    strong = two_tubes(tube, REF, water_l=3.0, spare_w=1500.0)
    assert strong.boiling_s == pytest.approx(309.28, abs=0.01)
    assert strong.runs[1].seconds == pytest.approx(strong.boiling_s, abs=0.05)
    weak = two_tubes(tube, REF, water_l=1.5, spare_w=80.0)
    one, two = weak.runs
    assert two.dip_c > one.dip_c > 0.0
    assert two.seconds > one.seconds > weak.boiling_s
    assert two.first_drawn_w == pytest.approx(2.0 * one.first_drawn_w, rel=0.1)
    # A cold tube draws 200 to 350 W at first (derived by an estimate of its own); this is the mean of 30 s.
    assert 150.0 < one.first_drawn_w < 350.0
    assert Limit.NO_MEASUREMENT in weak.limits


def test_a_bath_that_nobody_has_measured_is_refused():
    bad = two_tubes(TubeInputs(ln=24.0), REF, water_l=0.0, spare_w=math.nan, tubes=(1, 40))
    assert fields(bad) == ["water_l", "spare_w", "tubes"]
    assert (bad.boiling_s, bad.runs) == (None, ())


def test_what_a_larger_portion_gains_hangs_on_the_open_question():
    out = portions((20.0, 100.0), (7.0, 9.0), TubeInputs(activity=0.0, moisture_pct=15.0), REF)
    by = {(row.activity, row.mass_g): row for row in out.rows}
    assert by[20.0, 9.0].free_s - by[20.0, 7.0].free_s > 30.0
    assert abs(by[100.0, 9.0].free_s - by[100.0, 7.0].free_s) < 2.0
    assert by[100.0, 9.0].saturated_s - by[100.0, 7.0].saturated_s > 5.0
    for row in out.rows:
        per_cent = [
            seconds(TubeArrays(activity=row.activity * f, mass_g=row.mass_g, moisture_pct=15.0), REF).item()
            for f in (0.995, 1.005)
        ]
        assert per_cent[0] - per_cent[1] == pytest.approx(row.free_per_percent_s, rel=0.02)
    assert {Limit.SATURATION_OPEN, Limit.OTHER_GRAIN} <= set(out.limits)
    assert fields(portions((1.0,), (0.0,), FREE, REF)) == ["mass_g"]
    with pytest.raises(OutOfRange):
        portions((-1.0,), (7.0,), FREE, REF)


def test_malt_from_a_trial_dose_and_back():
    malt = malt_activity(380.0, 250.0, 0.001, FREE, REF)
    assert dose_for(380.0, 250.0, malt, FREE, REF) == pytest.approx(0.001, rel=1e-9)
    out = doses(380.0, malt, (0.0, 0.0005, 0.001, 0.002, 0.5), FREE, REF)
    assert [row.seconds for row in out.rows] == sorted((row.seconds for row in out.rows), reverse=True)
    assert out.rows[0].seconds == pytest.approx(380.0)
    assert out.rows[0].law_s == pytest.approx(380.0)
    assert out.rows[2].seconds == pytest.approx(250.0)
    assert codes(out) == ["tube-dose-past-reach"]
    assert codes(doses(470.0, malt, (0.0,), FREE, REF)) == ["tube-above-enzyme-free"]


@pytest.mark.parametrize(
    ("flour", "trial", "share"), [(300.0, 310.0, 0.01), (300.0, 200.0, 0.0), (300.0, 200.0, 1.0)]
)
def test_malt_that_does_nothing_has_no_answer(flour, trial, share):
    with pytest.raises(NoAnswer) as none:
        malt_activity(flour, trial, share, FREE, REF)
    assert none.value.code == "tube-malt-no-effect"
    with pytest.raises(NoAnswer):
        dose_for(300.0, 350.0, 1000.0, FREE, REF)
    with pytest.raises(NoAnswer):
        dose_for(300.0, 100.0, 20.0, FREE, REF)


def test_a_blend_lies_between_its_parts_and_below_their_average():
    out = blends(350.0, 110.0, (0.0, 0.1, 0.5, 0.9, 1.0), FREE, REF)
    model = [row.model_s for row in out.rows]
    assert model == sorted(model, reverse=True)
    assert (model[0], model[-1]) == pytest.approx((350.0, 110.0))
    assert all(row.model_s < row.mean_s for row in out.rows[1:-1])
    assert out.rows[0].law_s == pytest.approx(350.0)
    assert codes(blends(350.0, 110.0, (1.2,), FREE, REF)) == ["tube-share-illegal"]
    assert codes(blends(500.0, 110.0, (0.5,), FREE, REF)) == ["tube-above-enzyme-free"]


def test_the_law_bends_most_between_lots_far_apart():
    out, found = bends((100.0, 200.0, 300.0, 400.0), FREE, REF)
    assert found == ()
    np.testing.assert_allclose(out.most_s, out.most_s.T, atol=1e-6)
    assert np.abs(np.diag(out.most_s)).max() < 1e-6
    assert abs(out.most_s[0, 3]) > abs(out.most_s[2, 3])
    row = blends(300.0, 400.0, (float(out.at_share[2, 3]),), FREE, REF).rows[0]
    assert row.model_s - row.law_s == pytest.approx(out.most_s[2, 3], abs=1e-6)
    assert bends((500.0,), FREE, REF)[0] is None


def test_carry_over_of_a_sprouted_sample():
    out = carry_over(75.0, 350.0, 1.0, 300.0, FREE, REF)
    assert out.share == pytest.approx(1.0 / 301.0)
    assert out.shift_s < -5.0
    at_limit = carry_over(75.0, 350.0, out.allowed_share, 1.0 - out.allowed_share, FREE, REF)
    assert at_limit.shift_s == pytest.approx(-3.0, abs=1e-6)
    up = carry_over(350.0, 75.0, 1.0, 7.0, FREE, REF)
    assert 0.0 < up.shift_s < 5.0
    alike = carry_over(300.0, 301.0, 1.0, 7.0, FREE, REF)
    assert alike.allowed_share is None
    for args in ((75.0, 350.0, -1.0, 300.0), (75.0, 350.0, 1.0, 0.0), (75.0, 350.0, math.nan, 1.0)):
        assert codes(carry_over(*args, FREE, REF)) == ["tube-mass-illegal"]
    assert codes(carry_over(75.0, 480.0, 1.0, 300.0, FREE, REF)) == ["tube-above-enzyme-free"]


def test_heating_is_a_band():
    out = heating(FREE, REF)
    # Derived, whole degrees at 60, 90, 120, 180, 240 s: mean, and axis.
    expected = {
        "poor": ((63, 74, 79, 86, 90), (63, 63, 65, 73, 81)),
        "as the set has them": ((79, 85, 88, 92, 95), (79, 79, 80, 85, 89)),
        "good": ((87, 91, 93, 95, 97), (87, 87, 87, 90, 93)),
        "perfect": ((93, 95, 96, 97, 98), (93, 93, 93, 95, 96)),
    }
    for curve in out.curves:
        for rows, kept in zip((curve.mean_c, curve.centre_c), expected[curve.films], strict=True):
            got = np.interp((60.0, 90.0, 120.0, 180.0, 240.0), curve.time_s, rows)
            np.testing.assert_allclose(got, kept, atol=0.6)
    assert Limit.HEAT_UNMEASURED in out.limits
    assert fields(heating(TubeInputs(activity=0.0, water_ml=0.0), REF)) == ["water_ml"]
