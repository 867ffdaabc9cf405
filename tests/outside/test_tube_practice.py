"""The model beside published figures and common practice.

Two lists that never mix: what the shipped sets were fitted to (calibration residuals) and what they were not.
"""

import numpy as np
import pytest

from lodestarch.method.liquefaction import ln_from_fn
from lodestarch.tube.calibration.fit import fit
from lodestarch.tube.calibration.problem import Problem
from lodestarch.tube.calibration.published import published
from lodestarch.tube.curves import activity_for
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.inputs import TubeArrays, TubeInputs
from lodestarch.tube.parameters import LUMPED, set_names, shipped_set
from lodestarch.tube.questions.blend import blends
from lodestarch.tube.questions.malt import doses

REF = shipped_set()
FREE = TubeInputs(activity=0.0)


class TestCalibrationResiduals:
    """Seen by the fit: they say that it is possible, not that it is right."""

    def test_the_law_from_80_to_350_s_within_3_1_per_cent(self):
        # LN = 6000/(FN - 50): an agronomy article of 2020 that attributes it to the US inspection service.
        for level in (350.0, 300.0, 250.0, 200.0, 150.0, 110.0, 80.0):
            got = seconds(TubeArrays(activity=ln_from_fn(level) - REF.offset), REF).item()
            assert abs(got / level - 1.0) <= 0.0311

    def test_62_s_is_only_compared(self):
        got = seconds(TubeArrays(activity=ln_from_fn(62.0) - REF.offset), REF).item()
        assert got == pytest.approx(62.0, rel=0.031)
        keys = [one.key for one in published(REF).observations]
        assert "ln-law-62" not in keys

    def test_the_assumed_ceiling_is_missed_and_by_how_much(self):
        got = seconds(TubeArrays(activity=0.0), REF).item()
        assert got == pytest.approx(REF["enzyme_free_seconds"] * (1.0 - 0.048), abs=0.5)

    def test_350_s_at_7_g_becomes_215_at_5(self):
        # Finney, Cereal Chem. 78:485-487 (2001), abstract: means of 200 flours.
        got = seconds(TubeArrays(activity=ln_from_fn(350.0) - REF.offset, mass_g=5.0), REF).item()
        assert got == pytest.approx(215.0, abs=1.0)

    def test_about_30_s_at_3000_ft(self):
        # Delwiche, Cereal Foods World 64(2) (2019), opening part: "over 30", level not stated.
        pair = seconds(TubeArrays(activity=9.0, pressure_hpa=np.array([908.12, 1013.25])), REF)
        assert pair[0] - pair[1] == pytest.approx(30.0, abs=1.0)

    def test_residuals_of_a_fit_are_listed_with_their_targets(self):
        pub = published(REF)
        out = fit(Problem(REF, LUMPED, pub.lots, pub.observations), "again")
        assert [r.key for r in out.residuals] == [o.key for o in pub.observations]


class TestNotUsedInTheFit:
    """Not seen by the fit; common practice and published statements."""

    @pytest.mark.parametrize("name", set_names())
    def test_nothing_reads_below_the_stirring_time(self, name):
        # Stirring of 60 s counts (published in several method texts); the least reading in practice is 62 s.
        params = shipped_set(name)
        hard = TubeArrays(activity=600.0, mass_g=np.array([1.0, 5.0, 7.0]), start_temp_c=40.0)
        assert (seconds(hard, params) >= 61.4).all()

    def test_sound_wheat_takes_minutes_and_badly_sprouted_wheat_less_than_two(self):
        # Common practice: bread wheats read 220 to 450 s, badly sprouted ones under 120 s. Activity here is
        # from CU/g (sound 0.12, sprouted 2.00: Simsek and others, Foods 3:194-207 (2014)) by 38 to 84 LN
        # units per CU/g, which is derived from bond cutting and open by a factor of two.
        per_cu = np.array([38.0, 84.0])
        assert (seconds(TubeArrays(activity=0.12 * per_cu), REF) > 240.0).all()
        assert (seconds(TubeArrays(activity=2.0 * per_cu), REF) < 120.0).all()

    def test_malt_straight_over_a_short_range_and_on_a_logarithm_over_a_wide_one(self):
        # Medcalf and others, Cereal Chem. 43:675-681 (1966), abstract: linear in activity over a short range,
        # semi-log over a wide one. On starch, not meal.
        malt = 14000.0

        def straight(x, y):
            return np.corrcoef(x, y)[0, 1] ** 2

        wide = doses(380.0, malt, tuple(np.geomspace(2e-4, 8e-3, 25)), FREE, REF).rows
        short = doses(380.0, malt, tuple(np.linspace(2e-4, 6e-4, 25)), FREE, REF).rows
        x_wide, y_wide = np.array([r.share for r in wide]), np.array([r.seconds for r in wide])
        x_short, y_short = np.array([r.share for r in short]), np.array([r.seconds for r in short])
        assert straight(x_short, y_short) > 0.99
        assert straight(np.log(x_wide), y_wide) > 0.97
        assert straight(np.log(x_wide), y_wide) > straight(x_wide, y_wide) + 0.1

    def test_halves_do_not_average(self):
        # The published example is computed, not measured: 400 and 220 give 279 by the law, not 310. The model
        # reads its own way between.
        (row,) = blends(400.0, 220.0, (0.5,), FREE, REF).rows
        assert row.law_s == pytest.approx(279.0, abs=0.5)
        assert row.mean_s == pytest.approx(310.0)
        assert abs(row.model_s - row.law_s) < abs(row.model_s - row.mean_s)

    def test_weather_is_of_the_size_that_laboratories_report(self):
        # Corrections of about 6 to 15 points, both ways, in laboratories of the US Pacific Northwest (trade
        # press, 2019). Elevations and pressures are not stated, so only the size is compared: from 25 hPa of
        # weather to 1,500 ft.
        activity = activity_for(300.0, FREE, REF)
        pair = seconds(TubeArrays(activity=activity, pressure_hpa=np.array([1038.25, 988.25, 959.5])), REF)
        assert -15.0 < pair[0] - 300.0 < -4.0
        assert 4.0 < pair[1] - 300.0 < 15.0
        assert 6.0 < pair[2] - 300.0 < 16.0
