from __future__ import annotations

import csv
from collections import Counter
from datetime import UTC, datetime

import pytest

from lodestarch import demo
from lodestarch.demo.make_harvest import BENCH, SAMPLES, harvest_files
from lodestarch.demo.run import demo_order
from lodestarch.method.reading import CAUSES
from lodestarch.method.table import READINGS
from lodestarch.method.table import SAMPLES as SAMPLE_COLUMNS
from lodestarch.records.engine import open_records
from lodestarch.sheets.terms import read_terms
from lodestarch.words.findings import lacking, sentence
from lodestarch.work.bench.day import run_day


@pytest.fixture(scope="module")
def day(tmp_path_factory):
    def clock():
        return datetime(2024, 8, 21, 18, 0, tzinfo=UTC)

    with open_records(tmp_path_factory.mktemp("demo") / "lab.db", clock=clock) as records:
        return run_day(demo_order(), records=records, person="test", at=clock())


def place(finding):
    return finding.code, finding.severity.value, finding.where.source, finding.where.row


EXPECTED = {
    (e["code"], e["severity"], e["sheet"], e["row"]): (f["id"], e)
    for f in demo.faults()
    for e in f["finding"]
}


def test_the_list_of_faults_has_no_finding_twice():
    assert len(EXPECTED) == sum(len(f["finding"]) for f in demo.faults())


@pytest.mark.parametrize("key", EXPECTED, ids=lambda k: f"{k[0]}-{k[3]}")
def test_each_fault_is_found_once_at_its_row_and_at_its_sample(day, key):
    found = [f for f in day.findings if place(f) == key]
    assert len(found) == 1, EXPECTED[key][0]
    told = EXPECTED[key][1]
    if "run" in told:
        assert found[0].where.run == told["run"]
    elif not key[0].startswith("place") and not key[0].startswith(("row", "field")):
        assert found[0].where.sample == told["sample"]


def test_nothing_else_is_found_that_asks_for_anything(day):
    asked = Counter(place(f) for f in day.findings if f.severity.value != "note")
    wanted = Counter(k for k in EXPECTED if k[1] != "note")
    assert asked == wanted


def test_notes_are_those_of_the_faults(day):
    assert {place(f) for f in day.findings if f.severity.value == "note"} == {
        k for k in EXPECTED if k[1] == "note"
    }


def test_every_finding_of_the_day_says_what_is_wrong_and_what_to_do(day):
    for finding in day.findings:
        text = sentence(finding)
        assert text.wrong
        assert text.do
        assert lacking(finding) == ()


def test_a_tube_row_is_the_row_of_that_tube(day):
    lines = demo.bench_sheet().decode().splitlines()
    for (code, _, sheet, row), (_, told) in EXPECTED.items():
        if sheet == demo.BENCH_NAME and "sample" in told:
            assert f",{told['sample']}," in lines[row - 1], code


def test_the_day_is_as_large_as_it_says(day):
    c = day.counts
    assert c.samples == 66
    assert c.at_floor == 5
    assert c.readings == len(demo.bench_sheet().splitlines()) - 2  # header, and the unreadable row
    assert len(day.refused) == 1
    assert c.stand + c.at_floor + c.screen + c.run_again + c.no_result == c.samples


def test_the_check_materials_are_read_and_every_check_sample_has_its_target(day):
    assert [m.material_id for m in demo.check_materials()] == ["CW-310", "CM-220"]
    assert not [f for f in day.findings if f.code.startswith("check")]


def test_there_are_two_check_materials_three_times(day):
    checks = day.samples.filter(day.samples["kind"] == "check")
    assert checks.height == 6
    assert checks["material"].n_unique() == 2


def test_the_worn_stirrer_is_the_one_that_wears(day):
    (found,) = [f for f in day.findings if f.code == "place-drifts"]
    assert (found.values["place_kind"], found.values["place"]) == ("stirrer", "S6")


# --- the files ---


def test_the_script_makes_the_files_that_are_shipped(tmp_path):
    from importlib.resources import files

    for name, data in harvest_files().items():
        assert files("lodestarch.demo").joinpath("harvest", name).read_bytes() == data, name


def test_another_seed_makes_another_day_with_the_same_slips():
    other = harvest_files(seed=1)
    assert other["bench.csv"] != demo.bench_sheet()
    assert other["faults.toml"].count(b"[[fault]]") == len(demo.faults())


def test_the_sheets_have_the_columns_of_the_format():
    assert set(BENCH) == set(READINGS) - {"row", "kind", "position_stated", "row_text"}
    assert set(SAMPLES) == set(SAMPLE_COLUMNS) - {"row", "row_text"}


def test_names_are_marked_invented_and_bins_are_six():
    rows = list(csv.DictReader(demo.sample_sheet().decode().splitlines()))
    assert {r["bin"] for r in rows if r["kind"] == "load"} == {f"bin-{i}" for i in range(1, 7)}
    assert sum(r["kind"] == "load" for r in rows) == 60
    assert "invented" in demo.TITLE
    assert "invented" in demo.LAB
    assert b"invented" in demo.terms()


def test_causes_are_from_the_pick_list():
    rows = csv.DictReader(demo.bench_sheet().decode().splitlines())
    assert {r["set_aside_cause"] for r in rows} - {""} <= set(CAUSES)


def test_the_terms_are_read_without_a_finding_and_name_the_bins_of_the_loads():
    read = read_terms(demo.terms(), demo.TERMS_NAME)
    assert read.findings == ()
    assert len(read.terms.buyers) == 4
    assert all("invented" in b.name for b in read.terms.buyers)
    assert {b.id for b in read.terms.bins} == {f"bin-{i}" for i in range(1, 7)}


def test_no_bin_holds_more_than_it_can(day):
    tonnes = {b.bin_id: b.tonnes_tested + b.tonnes_untested for b in day.bins}
    capacity = {b.id: b.capacity_t for b in read_terms(demo.terms(), demo.TERMS_NAME).terms.bins}
    assert set(tonnes) == set(capacity)
    assert all(tonnes[b] <= capacity[b] for b in tonnes)
