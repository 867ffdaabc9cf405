"""Questions to the season against what is known outside.

Broadbalk: the electronic Rothamsted Archive (e-RA), Rothamsted Research, CC-BY-4.0, see
``examples/broadbalk/README.md``; the figures were derived from the same tables by other means (analysis of
variance, ordinary least squares by hand), so they check the arithmetic, not nature.

Dyestuff: batches of Davies and Goldsmith, as in the R package lme4 (secondary copy); for this balanced set
the analysis of variance equals restricted maximum likelihood. Its REML criterion 319.6543 is in the
documentation (recalled).

Penicillin: the same authors' crossed plates and samples, with lme4's published fit of ``diameter ~ 1 +
(1 | plate) + (1 | sample)``: REML criterion 330.8606, standard deviations 0.8467, 1.9316 and 0.5499, mean
22.9722 with standard error 0.8086 (data and figures read in secondary copies of that documentation).

Primary source of both: O. L. Davies, P. L. Goldsmith (eds), Statistical Methods in Research and Production,
4th edition, Oliver and Boyd, 1972.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import linregress

from lodestarch.precision.components import fit_components
from lodestarch.season.effects import fit_effects
from lodestarch.season.faults import find_faults
from lodestarch.season.local_fit import Verdict
from lodestarch.season.table import Factor, factor_of, table_of
from lodestarch.season.weather import Window, degree_days, in_window
from lodestarch.sheets.season_sheet import read_season_sheet
from lodestarch.sheets.weather_sheet import read_weather
from lodestarch.work.season.answers import indicators_of

FOLDER = Path(__file__).parents[2] / "examples" / "broadbalk"
PLOTS = (FOLDER / "plots.csv").read_bytes()
TEMP = ("daily_temp.csv", (FOLDER / "daily_temp.csv").read_bytes())
RAIN = ("monthly_rain.csv", (FOLDER / "monthly_rain.csv").read_bytes())

# lme4's Dyestuff: yields of five samples from each of six batches.
DYESTUFF = {
    "A": [1545, 1440, 1440, 1520, 1580], "B": [1540, 1555, 1490, 1560, 1495],
    "C": [1595, 1550, 1605, 1510, 1560], "D": [1445, 1440, 1595, 1465, 1545],
    "E": [1595, 1630, 1515, 1635, 1625], "F": [1520, 1455, 1450, 1480, 1445],
}  # fmt: skip

# lme4's Penicillin: diameters of growth inhibition, 24 plates (a line each) by six samples. [mm]
PENICILLIN = """
27 23 26 23 23 21 / 27 23 26 23 23 21 / 25 21 25 24 24 20 / 26 23 25 23 23 20
25 22 26 22 23 20 / 24 22 25 23 22 19 / 24 20 23 21 22 19 / 26 22 26 24 24 21
24 21 24 22 22 20 / 24 21 24 23 22 19 / 26 23 26 24 24 21 / 25 22 26 24 24 20
26 24 26 24 25 22 / 26 23 26 23 23 20 / 26 23 25 24 24 22 / 25 22 25 23 23 20
25 21 24 23 23 20 / 25 22 24 23 23 19 / 24 21 23 21 21 19 / 26 23 26 24 24 21
25 21 24 22 22 18 / 25 22 25 22 22 20 / 24 21 24 22 24 19 / 24 21 24 22 21 18
"""


def test_penicillin_crossed_by_plate_and_sample():
    """Two factors truly crossed, as most trials are."""
    plates = [line.split() for line in PENICILLIN.replace("/", "\n").strip().splitlines()]
    values = [float(v) for plate in plates for v in plate]
    plate = factor_of("plate", [f"{i:02d}" for i in range(24) for _ in range(6)])
    sample = factor_of("sample", [s for _ in range(24) for s in "ABCDEF"])
    e = fit_effects(table_of(values, [plate, sample], floor_s=None))
    assert [round(x.sd, 4) for x in e.effects] == pytest.approx([0.8467, 1.9316, 0.5499], abs=2e-4)
    assert e.mean == pytest.approx(22.9722, abs=5e-5)
    assert e.u_mean == pytest.approx(0.8086, abs=2e-4)
    assert e.deviance == pytest.approx(330.8606, abs=5e-5)


def test_dyestuff():
    batch = factor_of("batch", [b for b in DYESTUFF for _ in range(5)])
    e = fit_effects(table_of([v for b in DYESTUFF.values() for v in b], [batch]))
    assert e.mean == pytest.approx(1527.5)
    assert [x.variance for x in e.effects] == pytest.approx([1764.05, 2451.25], rel=1e-6)
    assert e.deviance == pytest.approx(319.6543, abs=5e-5)
    # The nested likelihood of another room has no line in common with this one.
    other = fit_components(
        [v for b in DYESTUFF.values() for v in b], [[b for b in DYESTUFF for _ in range(5)]]
    )
    for ours, theirs in zip(e.effects, other.components, strict=True):
        assert ours.sd_ends == pytest.approx((theirs.low_sd, theirs.high_sd), rel=0.01)


@pytest.fixture(scope="module")
def broadbalk():
    return read_season_sheet(PLOTS, "plots.csv", factors=("harvest_year",))


def test_broadbalk_share_between_years(broadbalk):
    e = fit_effects(broadbalk.table)
    assert (e.table.n, e.at_floor) == (683, 36)
    year, rest = e.effects
    assert year.share == pytest.approx(0.781, abs=0.001)
    assert (year.sd, rest.sd) == (pytest.approx(90.3, abs=0.1), pytest.approx(47.79, abs=0.01))


def test_broadbalk_years_and_floors(broadbalk):
    record = indicators_of(broadbalk, []).record
    by_year = {h.season: h for h in record.harvests}
    expected = {1999: 335.55, 2006: 111.39, 2007: 70.66, 2010: 90.55, 2016: 291.03, 2017: 230.50}
    assert {y: round(by_year[y].mean_s, 2) for y in expected} == expected
    assert {y: h.at_bound for y, h in by_year.items() if h.at_bound} == {2007: 25, 2010: 11}
    assert sum(h.results for h in record.harvests) == 683


def test_broadbalk_floor_is_found_as_heaping(broadbalk):
    faults, notes = find_faults(broadbalk.table)
    heap = next(f for f in faults if f.kind == "heaped")
    assert (heap.finding.values["count"], heap.finding.values["seconds"]) == (36, 62.0)
    assert "season-averages-unseen" in {f.code for f in notes}


@pytest.mark.parametrize(
    ("fit", "error", "q2", "verdict"),
    [
        ("rain_31", 84.85, 0.171, Verdict.REFUSED),
        ("mean_temp_20", 88.93, 0.090, Verdict.REFUSED),
        ("mean_temp_50_20", 99.39, -0.137, Verdict.REFUSED),
        ("rain_31+mean_temp_20", 89.71, 0.074, Verdict.REFUSED),
        ("rain_31+mean_temp_50_20", 91.57, 0.035, Verdict.REFUSED),
        ("harvest_day", 82.19, 0.223, Verdict.NOT_ESTABLISHED),
        ("rain_31+harvest_day", 88.43, 0.100, Verdict.REFUSED),
    ],
)
def test_leaving_a_season_out_refuses_rain_and_temperature(broadbalk, fit, error, q2, verdict):
    one = indicators_of(broadbalk, [TEMP, RAIN], fits=[fit]).record.fits[0]
    # rain and means of temperature were rounded to two decimals where these figures were derived
    assert one.error_s == pytest.approx(error, abs=0.03)
    assert one.q2 == pytest.approx(q2, abs=0.0006)
    assert one.no_model_s == pytest.approx(93.21, abs=0.005)
    assert one.verdict is verdict
    assert one.predict([200.0] * len(one.names)) is None


def test_the_gain_of_a_late_harvest_and_of_rain(broadbalk):
    late, rain = indicators_of(broadbalk, [TEMP, RAIN], fits=["harvest_day", "rain_31"]).record.fits
    assert (late.mean_gain, late.u_mean_gain) == (pytest.approx(1934, abs=1), pytest.approx(1597, abs=1))
    assert (rain.mean_gain, rain.u_mean_gain) == (pytest.approx(1489, abs=4), pytest.approx(1403, abs=4))
    assert (late.nearer, rain.nearer) == (12, 11)
    assert (late.intercept_s, late.slopes[0]) == (
        pytest.approx(1543.09, abs=0.3),
        pytest.approx(-5.5362, abs=1e-3),
    )


def test_the_slope_is_that_of_a_library(broadbalk):
    record = indicators_of(broadbalk, [], fits=["harvest_day"]).record
    line = linregress([h.values[-1] for h in record.harvests], [h.mean_s for h in record.harvests])
    assert record.fits[0].slopes[0] == pytest.approx(line.slope)


def day(text):
    return (date.fromisoformat(text) - date(1970, 1, 1)).days


@pytest.mark.parametrize(
    ("start", "end", "base", "one", "two"),
    [
        ("2003-05-01", "2003-05-31", 5.0, 221.90, 226.60),
        ("2003-06-01", "2003-07-31", 10.0, 432.70, 441.95),
        ("2010-05-01", "2010-05-31", 0.0, 326.95, 327.95),
        ("2010-05-01", "2010-05-31", 10.0, 54.05, 87.25),
        ("2013-06-01", "2013-07-31", 10.0, 378.45, 402.70),
    ],
)
def test_degree_days_of_rothamsted(start, end, base, one, two):
    weather = read_weather(TEMP[1], TEMP[0]).weather
    x, n, _ = in_window(weather, day(start), Window(0, day(end) - day(start)))
    assert degree_days(x, n, base, 1) == pytest.approx(one, abs=0.006)
    assert degree_days(x, n, base, 2) == pytest.approx(two, abs=0.006)


@pytest.mark.parametrize(
    ("year", "coldest", "hottest", "mean", "swing"),
    [(1999, 8.6, 26.2, 17.30, 17.0), (2006, 9.6, 33.1, 19.55, 18.2), (2016, 8.6, 31.0, 18.57, 16.5)],
)
def test_the_window_25_to_35_days_after_an_assumed_flowering(year, coldest, hottest, mean, swing):
    weather = read_weather(TEMP[1], TEMP[0]).weather
    x, n, _ = in_window(weather, day(f"{year}-06-15"), Window(25, 35))
    assert (n.min(), x.max()) == (coldest, hottest)
    assert (0.5 * (x + n)).mean() == pytest.approx(mean, abs=0.006)
    assert (x - n).max() == pytest.approx(swing, abs=1e-9)


def test_rain_of_two_harvests_worked_by_hand(broadbalk):
    record = indicators_of(broadbalk, [RAIN]).record
    rain = {h.season: h.values[record.names.index("rain_31")] for h in record.harvests}
    assert rain[1999] == pytest.approx(27 * 23.2 / 31 + 4 * 118.7 / 31)
    assert rain[2010] == pytest.approx(127.6)


def test_crossed_effects_are_those_of_statsmodels():
    sm = pytest.importorskip("statsmodels.regression.mixed_linear_model")
    rng = np.random.default_rng(21)
    n = 300
    a, b = rng.integers(0, 10, n), rng.integers(0, 14, n)
    y = 300.0 + rng.normal(0, 30, 10)[a] + rng.normal(0, 15, 14)[b] + rng.normal(0, 20, n)
    names = [tuple(str(i) for i in range(q)) for q in (10, 14)]
    e = fit_effects(table_of(y, [Factor("a", a, names[0]), Factor("b", b, names[1])], floor_s=None))
    vc = sm.VCSpec(
        ["a", "b"], [[[f"a{i}" for i in range(10)]], [[f"b{i}" for i in range(14)]]],
        [[np.eye(10)[a]], [np.eye(14)[b]]],
    )  # fmt: skip
    other = sm.MixedLM(y, np.ones((n, 1)), groups=np.ones(n), exog_vc=vc).fit(reml=True, method="lbfgs")
    expected = [*other.vcomp, other.scale]
    assert [x.variance for x in e.effects] == pytest.approx(expected, rel=2e-3)
    assert e.mean == pytest.approx(other.fe_params[0], rel=1e-5)
    assert e.deviance == pytest.approx(-2.0 * other.llf, abs=1e-3)
