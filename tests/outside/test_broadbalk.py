"""Real falling numbers through the same door as any bench sheet.

Data: the electronic Rothamsted Archive (e-RA), Rothamsted Research, CC-BY-4.0, Broadbalk wheat data package
v1.0; see ``examples/broadbalk/README.md``. The yearly figures below were derived from the plot table before
it was turned into sheets, so they check the conversion and the reading, not nature.
"""

from __future__ import annotations

import csv
import importlib.util
import statistics
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from lodestarch.common.findings import Severity
from lodestarch.method.reading import Kind
from lodestarch.records.engine import open_records
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.day_order import DayFile, DayOrder

FOLDER = Path(__file__).parents[2] / "examples" / "broadbalk"

# year: variety, plots, mean, median, SD (n-1), least, greatest, at 62; the 62s taken as 62. Derived.
YEARS = {
    1999: ("Hereward", 38, 335.55, 346.5, 31.0, 265, 397, 0),
    2000: ("Hereward", 38, 344.58, 349.0, 23.65, 284, 387, 0),
    2001: ("Hereward", 38, 266.71, 267.0, 32.05, 184, 341, 0),
    2002: ("Hereward", 38, 233.05, 232.0, 53.23, 115, 363, 0),
    2003: ("Hereward", 38, 318.08, 316.5, 29.71, 262, 378, 0),
    2004: ("Hereward", 38, 270.13, 273.5, 32.15, 213, 328, 0),
    2005: ("Hereward", 38, 325.95, 337.5, 57.02, 217, 424, 0),
    2006: ("Hereward", 38, 111.39, 87.0, 50.21, 63, 233, 0),
    2007: ("Hereward", 38, 70.66, 62.0, 20.53, 62, 164, 25),
    2008: ("Hereward", 37, 253.49, 248.0, 45.64, 167, 344, 0),
    2009: ("Hereward", 38, 310.45, 307.5, 59.03, 214, 412, 0),
    2010: ("Hereward", 38, 90.55, 74.5, 40.43, 62, 221, 11),
    2011: ("Hereward", 38, 376.74, 374.0, 44.1, 284, 436, 0),
    2012: ("Hereward", 38, 230.76, 227.0, 62.92, 117, 387, 0),
    2013: ("Crusoe", 38, 297.68, 292.0, 44.18, 179, 388, 0),
    2014: ("Crusoe", 38, 365.68, 378.5, 55.25, 175, 429, 0),
    2016: ("Crusoe", 38, 291.03, 291.0, 92.34, 95, 437, 0),
    2017: ("Crusoe", 38, 230.5, 231.5, 31.22, 138, 288, 0),
}


def table(kind, year):
    with (FOLDER / kind / f"{year}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("year", YEARS)
def test_the_sheets_hold_the_published_values_of_each_harvest(year):
    variety, n, mean, median, sd, least, greatest, at_62 = YEARS[year]
    seconds = [int(r["seconds"]) for r in table("bench", year)]
    assert (n, least, greatest, at_62) == (len(seconds), min(seconds), max(seconds), seconds.count(62))
    # printed to two decimals, and 30.995 may stand as 31.0 or 30.99
    assert (mean, median, sd) == pytest.approx(
        (statistics.mean(seconds), statistics.median(seconds), statistics.stdev(seconds)), abs=0.0051
    )
    assert {r["variety"] for r in table("samples", year)} == {variety}


def test_bench_and_sample_sheets_name_the_same_samples_once():
    names = [[r["sample"] for y in YEARS for r in table(kind, y)] for kind in ("bench", "samples")]
    assert names[0] == names[1]
    assert len(set(names[0])) == 683


def test_no_number_of_tubes_is_invented():
    assert all(r["run"] == r["position"] == "" for y in YEARS for r in table("bench", y))


def test_the_floor_of_the_whole_set():
    assert sum(at for *_, at in YEARS.values()) == 36
    assert {y: v[-1] for y, v in YEARS.items() if v[-1]} == {2007: 25, 2010: 11}


def test_the_conversion_changes_no_value(tmp_path):
    spec = importlib.util.spec_from_file_location("convert", FOLDER / "convert.py")
    convert = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(convert)
    source = tmp_path / "plots.csv"
    source.write_text(
        "harvest_year,harvest_date,plot,section,previous_crop,variety,fertilizer_code,falling_number_s,tgw_g\n"
        "2007,2007-08-26,3,1,Fallow,Hereward,Nil,62.0,33\n"
        '2007,2007-08-26,11,5,Forage maize,Hereward,"N4 P, Mg",164.5,40\n',
        encoding="utf-8",
    )
    assert convert.convert(source, tmp_path) == {"2007": 2}
    assert (tmp_path / "bench" / "2007.csv").read_text("utf-8").splitlines() == [
        "sample,run,position,seconds", "2007-p03-s1,,,62", "2007-p11-s5,,,164.5",
    ]  # fmt: skip
    about = (tmp_path / "samples" / "2007.csv").read_text("utf-8").splitlines()
    assert about[1].startswith(
        '2007-p03-s1,wheat,"Broadbalk, strip 3, section 1; continuous wheat since fallow;'
    )
    assert about[2].endswith('after forage maize; fertiliser N4 P, Mg",Hereward,2007-08-26')


# --- a wet and a dry year through a whole day ---


@pytest.fixture(scope="module")
def days(tmp_path_factory):
    """Both years read one after the other into the same records."""

    def clock():
        return datetime(2031, 1, 1, tzinfo=UTC)

    out = {}
    with open_records(tmp_path_factory.mktemp("broadbalk") / "lab.db", clock=clock) as records:
        for year in (2007, 2000):
            bench, about = (
                DayFile(f"{kind}.csv", (FOLDER / kind / f"{year}.csv").read_bytes())
                for kind in ("bench", "samples")
            )
            order = DayOrder(bench, samples=about)
            out[year] = run_day(order, records=records, person="test", at=clock())
    return out


@pytest.mark.parametrize("year", [2007, 2000])
def test_a_year_is_read_whole_and_judged(days, year):
    _, n, mean, median, sd, least, greatest, at_62 = YEARS[year]
    out = days[year]
    assert (out.sheet.rows, out.sheet.taken, out.sheet.refused) == (n, n, 0)
    assert (out.counts.samples, out.counts.at_floor, out.counts.stand) == (n, at_62, n - at_62)
    seconds = out.results["seconds"]
    assert (mean, median, sd) == pytest.approx((seconds.mean(), seconds.median(), seconds.std()), abs=0.0051)
    assert (seconds.min(), seconds.max()) == (least, greatest)
    assert not [f for f in out.findings if f.severity is not Severity.NOTE]


def test_the_wet_year_says_at_or_below_and_gives_no_liquefaction_number_there(days):
    results = days[2007].results
    floor = results.filter(results["kind"] == Kind.AT_OR_BELOW)
    assert floor.height == 25
    assert floor["seconds"].unique().to_list() == [62.0]
    assert floor["ln"].null_count() == floor["ln_high"].null_count() == 25
    assert floor["ln_low"].to_list() == pytest.approx([500.0] * 25)  # 6000/(62 - 50)


@pytest.mark.parametrize("year", [2007, 2000])
def test_the_number_of_tubes_is_said_to_be_not_stated_once_and_no_u_is_made_up(days, year):
    out = days[year]
    assert out.results["tubes_stated"].to_list() == [False] * out.counts.samples
    assert out.results["u_s"].null_count() == out.counts.samples
    (told,) = [f for f in out.findings if f.code == "tubes-not-stated"]
    assert told.values["samples"] == out.counts.samples


def test_variety_and_harvest_date_arrive(days):
    samples = days[2007].samples
    assert samples["variety"].unique().to_list() == ["Hereward"]
    assert samples["harvest_date"].unique().to_list() == [date(2007, 8, 26)]
