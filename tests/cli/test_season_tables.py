"""Every season command on tables that tell little or nothing: findings as JSON, never a fault or a NaN."""

from __future__ import annotations

import csv
import json
import random

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app

runner = CliRunner()
HEAD = "variety,district,harvest_date,falling_number_s"


def lines(n=40, *, variety=lambda i: "ABC"[i % 3], day=lambda i: f"2030-08-{1 + i % 20:02d}", fn=None):
    rng = random.Random(1)
    return [
        f"{variety(i)},{'NS'[i % 2]},{day(i)},{fn(i) if fn and fn(i) else round(rng.gauss(300, 30))}"
        for i in range(n)
    ]


TABLES = {
    "one-variety": [HEAD, *lines(variety=lambda _: "A")],
    "one-year": ["variety,district,year,fn", *(f"{'ABC'[i % 3]},N,2030,{280 + i}" for i in range(40))],
    "all-at-the-floor": [HEAD, *lines(fn=lambda _: 62)],
    "a-level-each": ["variety,plot,fn", *(f"A,P{i},{250 + i % 97}" for i in range(100_000))],
    "dates-missing": [HEAD, *lines(day=lambda i: "" if i % 4 else f"2030-08-{1 + i % 20:02d}")],
    "negative": [HEAD, *lines(fn=lambda i: -5 if i == 3 else None)],
    "not-a-number": [HEAD, *lines(fn={3: "NaN", 5: "inf"}.get)],
    "columns-twice": [f"{HEAD},variety", *(f"{line},Z" for line in lines())],
    "header-only": [HEAD],
}
OF_RESULTS = ("effects", "ratings", "indicators", "faults", "priors", "export")
TOLD = {
    "one-variety": {
        "effects": {"season-one-level"}, "ratings": {"season-one-level"}, "indicators": {"season-no-weather"},
        "faults": {"season-averages-unseen"}, "priors": {"season-prior-few"},
        "export": {"season-open-licence"},
    },
    "one-year": {
        "effects": {"season-one-level"}, "ratings": {"season-one-level"}, "indicators": {"season-dates-none"},
        "faults": {"season-averages-unseen"}, "priors": {"season-prior-few"},
        "export": {"season-open-licence"},
    },
    "all-at-the-floor": {
        "effects": {"season-all-bounds"}, "ratings": {"season-all-bounds"},
        "indicators": {"season-bounds-as-read"}, "faults": {"season-heaped-floor"},
        "priors": {"season-all-bounds"}, "export": {"season-open-licence"},
    },
    "a-level-each": {
        "effects": {"season-level-each-row", "season-no-factor"}, "ratings": {"season-level-each-row"},
        "indicators": {"season-dates-none"}, "faults": {"season-averages-unseen"},
        "priors": {"season-level-each-row"}, "export": {"season-open-licence"},
    },
    "dates-missing": {c: {"season-dates-missing"} for c in OF_RESULTS},
    "negative": {c: {"season-seconds-impossible"} for c in OF_RESULTS},
    "not-a-number": {c: {"row-seconds-unreadable"} for c in OF_RESULTS},
    "columns-twice": {c: {"sheet-column-twice"} for c in OF_RESULTS},
    "header-only": {c: {"sheet-no-rows"} for c in OF_RESULTS},
}  # fmt: skip


def strict(text):
    def refused(name):
        raise AssertionError(f"{name} in JSON")

    return json.loads(text, parse_constant=refused)


@pytest.mark.parametrize("name", TABLES)
def test_each_command_says_what_a_table_does_not_tell(tmp_path, name):
    path = tmp_path / f"{name}.csv"
    path.write_text("\n".join(TABLES[name]) + "\n", encoding="utf-8")
    for command, expected in TOLD[name].items():
        words = ["season", command, str(path), "--json"]
        words += ["--out", str(tmp_path / "open")] if command == "export" else []
        done = runner.invoke(app, words)
        assert done.exit_code in {0, 1}, (command, repr(done.exception))
        body = strict(done.stdout)
        assert expected <= {f["code"] for f in body["findings"]}, command
    for command in ("blends", "odds", "order"):
        done = runner.invoke(app, ["season", command, str(path), "--json"])
        assert done.exit_code == 1, command
        assert "sheet-column-missing" in {f["code"] for f in strict(done.stdout)["findings"]}


def test_rows_of_second_tests_and_fields_that_cannot_be_read_are_told(tmp_path):
    outcomes = tmp_path / "o.csv"
    outcomes.write_text(
        "sample,limit_s,odds_pct,first_s,u_s,lab,lab_sd_s,found_s\n"
        "a,250,140,,,,,260\nb,25,90,,,,,260\nc,250,90,,,,,x\nd,250,,-3,8,,,260\ne,250,,300,0,,,260\n"
        "f,250,,300,8,X,,260\ng,250,90,,,,,>400\n",
        encoding="utf-8",
    )
    body = strict(runner.invoke(app, ["season", "odds", str(outcomes), "--json"]).stdout)
    cells = [f for f in body["findings"] if f["code"] == "season-outcome-cell"]
    assert [f["values"]["column"] for f in cells] == ["odds_pct", "limit_s", "found_s", "first_s", "u_s"]
    assert {"season-odds-untold", "season-odds-few"} <= {f["code"] for f in body["findings"]}
    assert [(x["sample"], x["met"]) for x in body["outcomes"]] == [("g", True)]
    fields = tmp_path / "f.csv"
    fields.write_text(
        "field,tonnes,hours,early_s,u_early_s,ripe\nA,50,5,300,20,yes\nA,60,5,300,20,\nB,0,5,,,\nC,5,5,,,perhaps\n,5,5,,,\n"
        "D,50,5,,,\n",
        encoding="utf-8",
    )
    words = ["season", "order", str(fields), "--records", str(tmp_path / "none.db"), "--json"]
    body = strict(runner.invoke(app, words).stdout)
    codes = [f["code"] for f in body["findings"]]
    assert (codes.count("season-field-cell"), codes.count("season-field-twice")) == (3, 1)
    assert {"season-field-no-sample", "season-field-no-rating"} <= set(codes)
    assert [f["field"] for f in body["fields"]] == ["A"]


def test_open_data_hold_no_names_and_nothing_that_calculates(tmp_path):
    rows = ["ticket,harvest_date,district,variety,grower,analyst,fn"]
    rows += [f"T{i},2030-08-05,=1+1,+SUM,G{i % 4},MQ,{280 + i}" for i in range(12)]
    path = tmp_path / "s.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    out = tmp_path / "open"
    words = ["season", "export", str(path), "--out", str(out), "--licence", "=CC0", "--json"]
    done = runner.invoke(app, words)
    assert done.exit_code == 0, repr(done.exception)
    texts = {p.name: p.read_text("utf-8") for p in out.iterdir()}
    assert set(texts) == {"season.csv", "dictionary.csv", "about.csv"}
    given = list(csv.DictReader(texts["season.csv"].splitlines()))
    assert {(r["district"], r["variety"], r["week"]) for r in given} == {("'=1+1", "'+SUM", "32")}
    for text in texts.values():
        assert not any(name in text for name in ("G0", "G1", "MQ", "T1"))
        cells = [c for row in csv.reader(text.splitlines()) for c in row]
        assert not any(c.startswith(("=", "+", "@")) for c in cells)
    columns = list(csv.DictReader(texts["dictionary.csv"].splitlines()))
    assert [c["column"] for c in columns] == list(given[0])
    assert all(c["provenance"] and c["meaning"] and c["licence"] == "'=CC0" for c in columns)
    assert {c["unit"] for c in columns} == {"a", "1", "s", ""}
