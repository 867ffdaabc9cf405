"""Buyers and terms in Set-up: typed in, dropped in, withdrawn; every version stays; page Price reads them."""

from __future__ import annotations

import re
from html import unescape

import pytest

from lodestarch import demo
from lodestarch.records.tables import Terms, TermsVersion
from lodestarch.work.office.terms_kept import standing_terms
from web.workbench import Workbench

BUYER = {"id": "harrow", "name": "Harrow Mill", "lab_sd_s": "9"}
POINT = {"id": "siding", "buyer": "harrow", "name": "Siding", "freight": "4,20", "freight_unit": "USD/t"}
STEPS = {
    "id": "fn", "factor": "fn_s", "unit": "USD/t", "on_boundary": "better",
    "part[1].shape": "steps", "part[1].below": "300", "part[1].step": "25", "part[1].discount": "9",
}  # fmt: skip
CONTRACT = {
    "id": "c", "buyer": "harrow", "delivery_point": "siding", "material": "wheat", "price": "230",
    "price_unit": "USD/t", "schedules": "fn", "clause[1].factor": "fn_s", "clause[1].judged": "per-load",
    "clause[1].at_least": "300",
}  # fmt: skip


@pytest.fixture
def bench(tmp_path):
    bench = Workbench(tmp_path / "lab.db").sign_in()
    yield bench
    bench.records.close()


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def typed(bench, kind, name, fields, do="keep"):
    return bench.client.post(f"/setup/terms/{kind}/{name}", data={**fields, "do": do})


def all_typed(bench):
    for kind, name, fields in (
        ("file", "all", {"currency": "USD", "jurisdiction": "US", "retest_cost": "12"}),
        ("buyer", "new", BUYER),
        ("delivery_point", "new", POINT),
        ("schedule", "new", STEPS),
        ("contract", "new", CONTRACT),
    ):
        answer = typed(bench, kind, name, fields)
        assert answer.status_code == 303, words(answer.text)


def test_terms_typed_in_field_by_field_are_priced_by(bench):
    assert "No terms are kept yet" in bench.client.get("/setup/terms").text
    assert "Enter buyers and terms" in words(bench.client.get("/price").text)
    all_typed(bench)
    page = words(bench.client.get("/setup/terms").text)
    assert "Contracts: 1, bids: 0 (t5)" in page
    assert page.count("typed") == 5, "every entry made a version of its own"
    priced = words(bench.client.get("/price", params={"seconds": "310", "u": "9"}).text)
    assert "Best: Harrow Mill" in priced
    assert "Offers t5, from typed" in priced


def test_a_new_version_never_overwrites(bench):
    all_typed(bench)
    assert typed(bench, "contract", "c", CONTRACT | {"price": "240"}).status_code == 303
    with bench.records.view() as view:
        assert [r.key for r in view.all(TermsVersion)] == ["t1", "t2", "t3", "t4", "t5", "t6"]
        said = [r.document for r in view.all(Terms, terms_id="c")]
        assert ['"price":230' in text for text in said] == [True, False]
        assert standing_terms(view, "t5").tables["contract"][0]["price"] == 230.0
        assert standing_terms(view).tables["contract"][0]["price"] == 240.0
    # The same again is no new version, and an entry that says the same keeps its row.
    assert typed(bench, "contract", "c", CONTRACT | {"price": "240"}).status_code == 303
    with bench.records.view() as view:
        assert len(view.all(TermsVersion)) == 6
        assert len(view.all(Terms, terms_id="harrow")) == 1


def test_an_entry_that_stands_comes_back_into_its_fields(bench):
    all_typed(bench)
    page = bench.client.get("/setup/terms/contract/c").text
    assert 'name="price" type="text" value="230"' in page
    assert 'name="clause[1].at_least" type="text" value="300"' in page
    assert '<option value="harrow" selected>' in page
    page = bench.client.get("/setup/terms/schedule/fn").text
    assert 'name="part[1].discount" type="text" value="9"' in page


@pytest.mark.parametrize("name", ["terms.toml", "terms"])
def test_a_file_dropped_in(bench, name):
    file = {"file": (name, demo.terms())}
    assert bench.client.post("/setup/terms", files=file).status_code == 303
    page = words(bench.client.get("/setup/terms").text)
    assert "quillmere-24-3" in page
    priced = bench.client.get("/price", params={"seconds": "310", "u": "9"}).text
    assert "Best: Quillmere Milling" in words(priced)
    assert "invented" in words(priced)


def test_rows_pasted_from_a_spreadsheet_are_added_to_what_stands(bench):
    all_typed(bench)
    header = ("table", "id", "buyer", "delivery_point", "material", "price", "price_unit", "currency")
    bid = ("bid", "spot", "harrow", "siding", "wheat", "221", "USD/t", "")
    rows = "\n".join("\t".join(r) for r in (header, ("file", *[""] * 6, "USD"), bid))
    assert bench.client.post("/setup/terms", data={"rows": rows}).status_code == 303
    assert "Contracts: 1, bids: 1" in words(bench.client.get("/setup/terms").text)


def test_nothing_of_a_file_is_kept_while_something_in_it_cannot_be_taken(bench):
    rows = "table,id,name,currency,price\nfile,,,USD,\nbuyer,a,A,,\ncontract,c,,,six\n"
    answer = bench.client.post("/setup/terms", data={"rows": rows})
    assert answer.status_code == 422
    assert "Row 4 of pasted, price" in words(answer.text)
    assert "table,id,name,currency,price" in answer.text, "what was pasted stays"
    with bench.records.view() as view:
        assert view.all(TermsVersion) == []


def test_withdrawn_it_stands_no_more_and_stays_in_the_earlier_versions(bench):
    all_typed(bench)
    refused = typed(bench, "buyer", "harrow", BUYER, do="withdraw")
    assert refused.status_code == 422, "a contract names it"
    assert typed(bench, "contract", "c", CONTRACT, do="withdraw").status_code == 303
    assert "Contracts: 0" in words(bench.client.get("/setup/terms").text)
    with bench.records.view() as view:
        assert len(standing_terms(view, "t5").tables["contract"]) == 1


def test_one_more_row_is_offered_and_nothing_is_kept(bench):
    all_typed(bench)
    page = typed(bench, "schedule", "fn", STEPS, do="more").text
    assert 'name="part[3].shape"' in page
    assert 'name="part[4].shape"' not in page


WRONG = {
    "price in words": (CONTRACT | {"price": "six"}, "price", "not a number"),
    "a limit out of reach": (CONTRACT | {"clause[1].at_least": "3000"}, "clause[1].at_least", "outside"),
    "a thousands mark": (CONTRACT | {"quantity_bu": "20,000"}, "quantity_bu", "not a number"),
    "a unit of nobody": (CONTRACT | {"price_unit": "USD/barrel"}, "price_unit", "not one of"),
    "no buyer": (CONTRACT | {"buyer": ""}, "buyer", "needed"),
    "a buyer who is not there": (CONTRACT | {"buyer": "mil"}, "buyer", "not in the file"),
    "a day that there is not": (CONTRACT | {"delivery_from": "31.02.2031"}, "delivery_from", "not a date"),
    "ends before it begins": (
        CONTRACT | {"delivery_from": "2031-09-01", "delivery_to": "2031-08-01"},
        "delivery_to",
        "before it begins",
    ),
    "an id with blanks": (CONTRACT | {"id": "my contract"}, "id", "cannot be an id"),
    "a rule of nobody": (CONTRACT | {"retest_rule": "best"}, "retest_rule", "not one of"),
    "a schedule that is not there": (CONTRACT | {"schedules": "fn protein"}, "schedules", "not in the file"),
    "days to appeal by halves": (CONTRACT | {"appeal_days": "2.5"}, "appeal_days", "whole number"),
}


def test_wrong_inputs_are_told_at_their_fields_and_stay_in_them(bench):
    all_typed(bench)
    for name, (fields, field, said) in WRONG.items():
        answer = typed(bench, "contract", "c", fields)
        assert answer.status_code == 422, name
        at = re.search(
            rf'name="{re.escape(field)}"[^>]*aria-invalid="true"[^>]*aria-describedby="([^"]+)"', answer.text
        )
        assert at, name
        told = re.search(rf'id="{re.escape(at[1])}"[^>]*>([^<]+)<', answer.text)
        assert said in unescape(told[1]), name
    schedule = typed(
        bench,
        "schedule",
        "fn",
        STEPS
        | {
            "part[1].down_to": "260",
            "part[2].shape": "cliff",
            "part[2].below": "250",
            "part[2].action": "reject",
        },
    )
    assert "nothing is stated between 250 and 260" in words(schedule.text)
    with bench.records.view() as view:
        assert len(view.all(TermsVersion)) == 5


def test_who_may_not_change_terms(bench):
    all_typed(bench)
    with bench.records.unit("Ann Example", bench.clock()) as unit:
        unit.add_person("Ria Receiver", ("receiver",))
    bench.sign_in("Ria Receiver")
    answer = typed(bench, "contract", "c", CONTRACT | {"price": "999"})
    assert answer.status_code == 422
    assert "merchant" in words(answer.text)


def test_addresses_of_nothing_lead_back_to_the_list(bench):
    assert bench.client.get("/setup/terms/contract/none").status_code == 303
    assert bench.client.get("/setup/terms/soup/new").status_code == 303
