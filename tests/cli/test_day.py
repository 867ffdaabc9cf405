"""`day`, `demo`, `profile`, `template` and `paper` as typed."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app

runner = CliRunner()
HEAD = "ticket,sample,run,position,seconds,moisture_pct,mass_g,pressure_hpa"
ROWS = [
    "8801,8801,1,1,287,12.0,6.80,952",
    "8801,8801,1,2,291,12.0,6.81,952",
    "8802,8802,1,3,62,12.0,6.80,952",
    "8802,8802,1,4,<=62,12.0,6.79,952",
]


def write(path, rows=ROWS):
    path.write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    return str(path)


def day(*words: str, code: int = 0) -> dict:
    done = runner.invoke(app, ["day", *words, "--profile", "meal-14", "--json"])
    assert done.exit_code == code, done.output
    return json.loads(done.stdout)


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_sheet_becomes_results(here):
    body = day(write(here / "b.csv"))
    first, second = body["results"]
    assert (first["seconds"], first["kind"], first["tubes"], first["agreement"]) == (
        289.0,
        "exact",
        2,
        "agrees",
    )
    # Derived: CV 2 % of 289 over two tubes.
    assert first["u_s"] == pytest.approx(0.02 * 289 / 2**0.5)
    assert first["ln"] == pytest.approx(6000 / 239)
    assert (second["seconds"], second["kind"], second["ln"], second["u_s"]) == (
        62.0,
        "at or below",
        None,
        None,
    )
    assert second["ln_low"] == 500.0
    assert body["counts"]["stand"] == 1
    assert body["counts"]["at_floor"] == 1
    assert (here / "lodestarch.db").exists()


def test_the_same_sheet_again_changes_nothing_and_says_so(here):
    sheet = write(here / "b.csv")
    first, again = day(sheet), day(sheet)
    assert again["day_id"] == first["day_id"]
    assert again["sheet"]["already_known"] == 4
    assert again["results"] == first["results"]
    assert "known already" in runner.invoke(app, ["day", sheet, "--profile", "meal-14"]).stdout


def test_a_changed_row_is_a_finding_and_what_is_kept_stands(here):
    day(write(here / "b.csv"))
    body = day(write(here / "b.csv", ["8801,8801,1,1,387,12.0,6.80,952", *ROWS[1:]]))
    assert body["sheet"]["changed_since"] == 1
    (finding,) = [f for f in body["findings"] if f["code"] == "row-changed-since"]
    assert finding["where"]["row"] == 2
    assert body["results"][0]["seconds"] == 289.0


def test_a_changed_row_is_taken_with_a_reason(here):
    day(write(here / "b.csv"))
    sheet = write(here / "b.csv", ["8801,8801,1,1,289,12.0,6.80,952", *ROWS[1:]])
    body = day(sheet, "--take-changes", "typed from the wrong line")
    assert body["results"][0]["seconds"] == 290.0
    assert body["sheet"]["changed_since"] == 0
    assert day(sheet)["sheet"]["already_known"] == 4


def test_a_fresh_pair_on_a_later_sheet_counts_with_the_first(here):
    held = day(write(here / "a.csv", ["8801,8801,1,1,250,12,6.80,952", "8801,8801,1,2,310,12,6.80,952"]))
    assert held["results"][0]["status"] == "held"
    later = day(write(here / "b.csv", ["8801,8801,2,1,255,12,6.80,952", "8801,8801,2,2,259,12,6.80,952"]))
    (result,) = later["results"]
    # All four count; 60 s is beyond the factor for four at this level, so their median stands.
    assert (result["tubes"], result["how"], result["seconds"]) == (4, "median", 257.0)
    assert result["status"] == "preliminary"


def test_results_under_two_bases_never_mix(here):
    rows = ["ticket,sample,profile,run,position,seconds", "1,1,meal-14,1,1,300", "1,1,rye-9g,1,2,301"]
    path = here / "p.csv"
    path.write_text("\n".join(rows) + "\n")
    body = day(str(path))
    assert body["results"][0]["seconds"] is None
    assert [f["code"] for f in body["findings"] if f["severity"] == "stop"] == ["profiles-mixed"]


def test_strict_ends_with_1_where_there_is_something_to_look_at(here):
    sheet = write(here / "b.csv", ["8801,8801,1,1,287,12.0,6.80,952", "8801,8801,1,2,350,12.0,6.80,952"])
    assert runner.invoke(app, ["day", sheet, "--profile", "meal-14", "--strict"]).exit_code == 1
    assert runner.invoke(app, ["day", sheet, "--profile", "meal-14"]).exit_code == 0


def test_nothing_taken_is_no_answer(here):
    (here / "x.csv").write_bytes(b"\x00\x01\x02\xff binary")
    done = runner.invoke(app, ["day", str(here / "x.csv"), "--json"])
    assert done.exit_code == 1
    assert json.loads(done.stdout)["findings"]


def test_a_missing_file_is_wrong_usage(here):
    done = runner.invoke(app, ["day", "nowhere.csv"])
    assert done.exit_code == 2
    assert "nowhere.csv" in done.output


def test_the_demonstration_leaves_its_papers_and_its_own_records(here):
    done = runner.invoke(app, ["demo", "--brief"])
    assert done.exit_code == 0, done.output
    assert "Demonstration, invented data" in done.stdout
    assert (here / "out/demo.db").exists()
    assert not (here / "lodestarch.db").exists()
    for name in ("day-sheet.html", "wall-table.html", "wall-table.csv", "blank-bench-sheet.html", "day.json"):
        assert (here / "out" / name).stat().st_size > 200
    assert runner.invoke(app, ["demo", "--brief"]).exit_code == 0


def test_a_lab_makes_and_signs_its_own_profile(here):
    source = ["--source", "our printed copy, 7.2"]
    made = ["profile", "make", "our-14", "--from", "meal-14", *source, "--set", "agreement_limits=0:8"]
    assert runner.invoke(app, made).exit_code == 0
    body = json.loads(runner.invoke(app, ["profile", "show", "our-14", "--json"]).stdout)
    field = next(f for f in body["fields"] if f["key"] == "agreement_limits")
    assert field["value"] == [[0.0, 8.0]]
    assert field["provenance"] == "entered by the lab"
    signed = [
        "profile",
        "sign",
        "our-14",
        "agreement_limits",
        "--standard",
        "our printed copy",
        "--person",
        "Ada",
    ]
    assert "1 fields signed off" in runner.invoke(app, signed).stdout
    body = json.loads(runner.invoke(app, ["profile", "show", "our-14", "--json"]).stdout)
    field = next(f for f in body["fields"] if f["key"] == "agreement_limits")
    assert field["signed_off"]["person"] == "Ada"
    again = runner.invoke(app, made)
    assert "our-14@2" in again.stdout, again.output
    rows = ["ticket,sample,profile,run,position,seconds", "1,1,our-14,1,1,300", "1,1,our-14,1,2,327"]
    (here / "p.csv").write_text("\n".join(rows) + "\n")
    result = day(str(here / "p.csv"))["results"][0]
    assert (result["profile"], result["agreement"]) == ("our-14@2", "disagrees")


def test_a_profile_with_a_fault_is_not_kept(here):
    words = ["profile", "make", "odd", "--from", "meal-14", "--source", "x", "--set", "moisture_min_pct=20"]
    done = runner.invoke(app, words)
    assert done.exit_code == 1
    assert runner.invoke(app, ["profile", "show", "odd"]).exit_code != 0


@pytest.mark.parametrize("kind", ["bench-sheet", "sample-sheet", "terms", "mapping"])
def test_templates_come_out_as_bytes(kind, here):
    assert runner.invoke(app, ["template", kind, "-o", "t"]).exit_code == 0
    assert (here / "t").stat().st_size > 50


@pytest.mark.parametrize("kind", ["wall-table", "wall-table.csv", "wall-table.txt", "bench-sheet"])
def test_papers_come_out(kind, here):
    assert runner.invoke(app, ["paper", kind, "--profile", "meal-15", "-o", "p"]).exit_code == 0
    text = (here / "p").read_text("utf-8")
    if kind.startswith("wall-table"):
        assert "6.42" in text
