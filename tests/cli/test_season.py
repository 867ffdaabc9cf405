"""``season`` as it is typed, on real data and on tables that tell nothing."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app
from lodestarch.common.errors import LodestarchError

ROOT = Path(__file__).parents[2]
PLOTS = str(ROOT / "examples/broadbalk/plots.csv")
TEMP, RAIN = (str(ROOT / f"examples/broadbalk/{n}.csv") for n in ("daily_temp", "monthly_rain"))
BLENDS = str(ROOT / "tests/data/season_blends.csv")
DELIVERIES, OUTCOMES, FIELDS = (
    str(ROOT / f"examples/season/{n}.csv") for n in ("deliveries", "outcomes", "fields")
)
runner = CliRunner()


def answer(*words, code=0):
    done = runner.invoke(app, ["season", *words, "--json"])
    assert done.exit_code == code, done.output
    return json.loads(done.stdout)


def codes(body):
    return {f["code"] for f in body["findings"]}


def table(tmp_path, rows, name="t.csv"):
    path = tmp_path / name
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return str(path)


def documented(section):
    text = (ROOT / "docs/json.md").read_text("utf-8")
    part = next(p for p in re.split(r"^## ", text, flags=re.MULTILINE) if p.splitlines()[0] == section)
    return set(re.findall(r"^\| `([^`]+)` \|", part, flags=re.MULTILINE))


def keys(value, prefix=""):
    if isinstance(value, dict):
        return {k for name, v in value.items() for k in keys(v, f"{prefix}.{name}" if prefix else name)}
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return {k for v in value for k in keys(v, f"{prefix}[]")}
    return {prefix}


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("effects", [PLOTS, "--factors", "harvest_year", "--censored"]),
        ("ratings", [PLOTS, "--factors", "plot,harvest_year"]),
        ("indicators", [PLOTS, "--weather", TEMP, "--weather", RAIN, "--fit", "harvest_day"]),
        ("faults", [PLOTS, "--factors", "harvest_year"]),
        ("blends", [BLENDS]),
        ("odds", [OUTCOMES]),
        ("priors", [DELIVERIES, "--for", "variety=Brellow"]),
        ("order", [FIELDS, "--results", DELIVERIES]),
        ("export", [DELIVERIES, "--out", "out/open-data-test"]),
    ],
)
def test_every_key_is_on_the_page(name, words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    body = answer(name, *words)
    assert keys({k: v for k, v in body.items() if k != "findings"}) == documented(f"season {name}")


def test_effects_of_broadbalk_by_name_and_on_the_terminal():
    body = answer("effects", PLOTS, "--factors", "harvest_year")
    assert body["effects"][0]["share"] == pytest.approx(0.781, abs=0.001)
    done = runner.invoke(app, ["season", "effects", PLOTS, "--factors", "harvest_year"])
    assert "78.1 %" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 100


def test_a_picture_and_open_data(tmp_path):
    out, export = tmp_path / "r.svg", tmp_path / "r.csv"
    words = [
        "season",
        "ratings",
        PLOTS,
        "--factors",
        "plot,harvest_year",
        "--out",
        str(out),
        "--export",
        str(export),
    ]
    assert runner.invoke(app, words).exit_code == 0
    assert out.read_text("utf-8").startswith("<svg")
    rows = list(csv.DictReader(export.read_text("utf-8").splitlines()))
    assert len(rows) == 20
    assert float(rows[0]["estimate_s"]) > float(rows[-1]["estimate_s"])


def test_tables_that_tell_nothing_say_why(tmp_path):
    head = "variety,year,fn"
    one = table(tmp_path, [head, *(f"A,2000,{300 + i}" for i in range(8))])
    assert {"season-one-level", "season-no-factor"} <= codes(answer("effects", one, code=1))
    floor = table(tmp_path, [head, *(f"{'AB'[i % 2]},200{i % 3},62" for i in range(12))])
    assert "season-all-bounds" in codes(answer("effects", floor, code=1))
    assert answer("ratings", floor, code=1)["ratings"] == []
    nameless = table(tmp_path, ["a,b", "1,2"])
    assert codes(answer("effects", nameless, code=1)) == {"season-no-value-column"}
    assert codes(answer("effects", PLOTS, "--factors", "soil", code=1)) == {"season-column-unknown"}
    assert codes(answer("effects", table(tmp_path, [head]), code=1)) >= {"sheet-no-rows"}


def test_missing_dates_are_counted(tmp_path):
    rows = [
        f"{'ABC'[i % 3]},{'' if i < 4 else f'200{i % 4}-08-1{i % 9}'},{280 + 7 * (i % 5) + i}"
        for i in range(40)
    ]
    path = table(tmp_path, ["variety,harvest_date,fn", *rows])
    body = answer("effects", path, "--factors", "variety,year")
    assert {"season-dates-missing", "season-level-missing"} <= codes(body)
    assert body["results"] == 36
    none = table(tmp_path, ["variety,harvest_date,fn", *(f"A,,{300 + i}" for i in range(9))])
    assert "season-dates-none" in codes(answer("indicators", none, code=1))


def test_wrong_words_end_without_a_traceback():
    for words in (["effects", PLOTS, "--scale", "hours"], ["effects", "nowhere.csv"],
                  ["indicators", PLOTS, "--fit", "moon"], ["indicators", PLOTS, "--dates", "backwards"],
                  ["ratings", PLOTS, "--of", "soil"], ["ratings", PLOTS, "--limit", "5"]):  # fmt: skip
        done = runner.invoke(app, ["season", *words])
        assert done.exit_code == 1
        assert isinstance(done.exception, LodestarchError), words


def test_weather_by_mapping_and_in_other_units(tmp_path):
    fn = table(tmp_path, ["harvest_date,fn", *(f"2003-08-2{i},{300 + i}" for i in range(5))])
    days = [f"{d:02d}/{m:02d}/2003;50;68;0,1" for m in (7, 8) for d in range(1, 32)]
    weather = table(tmp_path, ["Tag;Tief;Hoch;Regen", *days], "w.csv")
    words = [
        "--map",
        "date=Tag,max=Hoch,min=Tief,rain=Regen",
        "--dates",
        "day-first",
        "--fahrenheit",
        "--inches",
    ]
    body = answer("indicators", fn, "--weather", weather, *words)
    values = dict(zip(body["indicators"], body["harvests"][0]["values"], strict=True))
    assert values["mean_temp_20"] == pytest.approx(15.0)
    assert values["rain_20"] == pytest.approx(20 * 2.54)
    assert body["harvests"][0]["cause"] == "sprouting-plausible"
    wrong = answer("indicators", fn, "--weather", weather, "--map", "date=Tag,rain=Regen", code=1)
    assert "season-weather-dates" in codes(wrong)


def test_the_records_answer_too(tmp_path):
    db, bench = str(tmp_path / "r.db"), ROOT / "examples/broadbalk"
    for year in (2000, 2007, 2009):
        words = ["day", str(bench / f"bench/{year}.csv"), "--samples", str(bench / f"samples/{year}.csv")]
        done = runner.invoke(app, [*words, "--records", db])
        assert done.exit_code == 0, done.output
    body = answer("effects", "--records", db, "--factors", "year")
    assert (body["results"], body["at_floor"]) == (114, 25)
    assert [e["levels"] for e in body["effects"]] == [3, 114]


def test_results_of_two_bases_never_mix(tmp_path):
    """Portions weighed as they are stand in the records beside those at 14 %: the fewer are left out."""
    rows = ["sample,profile,run,position,seconds,moisture_pct"]
    for i in range(12):
        profile = "as-is" if i < 3 else "meal-14"
        rows += [f"S{i},{profile},A{i},{p},{280 + 7 * i + p},13.0" for p in (1, 2)]
    sheet = tmp_path / "bench.csv"
    sheet.write_text("\n".join(rows) + "\n", encoding="utf-8")
    samples = tmp_path / "samples.csv"
    lines = [f"S{i},{'ab'[i % 2]},2031-08-{i + 1:02d}" for i in range(12)]
    samples.write_text("sample,variety,harvest_date\n" + "\n".join(lines) + "\n", encoding="utf-8")
    db = str(tmp_path / "r.db")
    done = runner.invoke(app, ["day", str(sheet), "--samples", str(samples), "--records", db])
    assert done.exit_code == 0, done.output
    asked = runner.invoke(app, ["season", "effects", "--records", db, "--factors", "variety", "--json"])
    assert asked.exit_code == 0, repr(asked.exception)
    body = json.loads(asked.stdout)
    told = [f for f in body["findings"] if f["code"] == "season-not-comparable"]
    assert [f["values"]["count"] for f in told] == [3]
    assert body["results"] == 9
