# ruff: noqa: E501 - a case a line, however long
"""Terms as a sheet: the same values as from TOML, and findings at row and column."""

from __future__ import annotations

import io
import re
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lodestarch.sheets.mapping import read_mapping
from lodestarch.sheets.templates import terms_csv
from lodestarch.sheets.terms import read_terms
from lodestarch.sheets.terms_columns import ROWS, TERMS_COLUMNS
from lodestarch.trade.schedule import Action, Band, Cliff, Side, Steps, Table

DOCS = (Path(__file__).parents[2] / "docs" / "terms.md").read_text("utf-8")


def example(kind: str) -> str:
    return re.findall(rf"```{kind}\n(.*?)```", DOCS, re.DOTALL)[0]


def sheet(*rows: dict[str, str]) -> bytes:
    names = list(dict.fromkeys(name for row in rows for name in row))
    lines = [",".join(names), *(",".join(row.get(n, "") for n in names) for row in rows)]
    return ("\n".join(lines) + "\n").encode()


FILE = {"table": "file", "currency": "USD"}
BUYER = {"table": "buyer", "id": "mill", "name": "Mill"}
POINT = {"table": "delivery_point", "id": "gate", "buyer": "mill", "name": "Gate"}
STEPS = {
    "table": "schedule",
    "id": "fn",
    "factor": "fn_s",
    "unit": "ct/bu",
    "on_boundary": "better",
    "shape": "steps",
    "below": "300",
    "step": "25",
    "discount": "25",
    "down_to": "250",
}
REJECT = {"table": "schedule", "id": "fn", "shape": "cliff", "below": "250", "action": "reject"}
CONTRACT = {
    "table": "contract",
    "id": "c",
    "buyer": "mill",
    "delivery_point": "gate",
    "material": "wheat",
    "price": "6.35",
    "price_unit": "USD/bu",
    "schedules": "fn",
    "factor": "fn_s",
    "judged": "per-load",
    "at_least": "300",
}
SOUND = (FILE, BUYER, POINT, STEPS, REJECT, CONTRACT)


def told(*rows: dict[str, str]) -> list[tuple[str, int | None, str | None]]:
    return [(f.code, f.where.row, f.where.field) for f in read_terms(sheet(*rows), "t.csv").findings]


def with_(index: int, **changes: str) -> tuple[dict[str, str], ...]:
    rows = [dict(row) for row in SOUND]
    rows[index].update(changes)
    return tuple(rows)


def test_a_sound_sheet():
    assert told(*SOUND) == []
    terms = read_terms(sheet(*SOUND), "t.csv").terms
    assert terms.schedule("fn").parts == (
        Steps(300.0, Side.BELOW, 25.0, 25.0, 250.0),
        Cliff(250.0, Side.BELOW, Action.REJECT),
    )
    assert terms.contracts[0].price.value == 6.35
    assert terms.contracts[0].clauses[0].at_least == 300.0


def test_the_example_of_the_docs_says_the_same_in_both_forms():
    toml, rows = read_terms(example("toml").encode(), "t.toml"), read_terms(example("csv").encode(), "t.csv")
    assert rows.findings == toml.findings == ()
    assert rows.terms == toml.terms


def test_bands_a_row_each_make_one_table():
    rows = (
        {
            "table": "schedule",
            "id": "fn",
            "factor": "fn_s",
            "unit": "share",
            "on_boundary": "worse",
            "stated_to": "1",
            "from": "275",
            "to": "",
            "discount": "0",
        },
        {"table": "schedule", "id": "fn", "from": "250", "to": "274", "discount": "0.05"},
        {"table": "schedule", "id": "fn", "from": "", "to": "249", "action": "reject"},
    )
    read = read_terms(sheet(FILE, *rows), "t.csv")
    assert read.findings == ()
    bands = (Band(275.0, None, 0.0, None), Band(250.0, 274.0, 0.05, None), Band(None, 249.0, None, None))
    assert read.terms.schedule("fn").parts == (Table(bands),)


def test_an_offer_may_state_its_buyer_and_place_in_its_own_row():
    row = CONTRACT | {
        "schedules": "",
        "buyer": "harrow",
        "delivery_point": "",
        "buyer_name": "Harrow Mill",
        "place": "Siding",
        "distance_km": "60",
        "freight": "4",
        "freight_unit": "USD/t",
        "lab_sd_s": "9",
    }
    again = CONTRACT | {"table": "bid", "id": "b", "schedules": "", "buyer": "harrow", "delivery_point": ""}
    read = read_terms(sheet(FILE, row, again), "t.csv")
    assert read.findings == ()
    assert (read.terms.buyer("harrow").name, read.terms.buyer("harrow").lab_sd_s) == ("Harrow Mill", 9.0)
    assert (read.terms.delivery_point("harrow").name, read.terms.delivery_point("harrow").distance_km) == (
        "Siding",
        60.0,
    )
    assert [o.delivery_point_id for o in (*read.terms.contracts, *read.terms.bids)] == ["harrow", "harrow"]


def test_layers_of_a_bin_and_lists():
    bin_ = {"table": "bin", "id": "3", "capacity_t": "400", "tonnes": "180", "layer_t": "100", "fn_s": "312"}
    more = {"table": "bin", "id": "3", "layer_t": "80", "fn_s": "290", "fn_u_s": "8"}
    buyer = BUYER | {"accepts_profiles": "meal-14; meal-15"}
    terms = read_terms(sheet(FILE, bin_, more, buyer), "t.csv").terms
    assert [(layer.tonnes, layer.factors["fn_s"]) for layer in terms.bin("3").layers] == [
        (100.0, 312.0),
        (80.0, 290.0),
    ]
    assert terms.bin("3").tonnes == 180.0
    assert terms.buyer("mill").accepts_profiles == ("meal-14", "meal-15")


WRONG = {
    "price in words": (with_(5, price="six"), ("terms-key-type", 7, "price")),
    "quantity with a thousands mark": (with_(5, quantity_bu='"20,000"'), ("terms-key-type", 7, "quantity_bu")),
    "day that there is not": (with_(5, delivery_from="31.02.2031"), ("terms-key-type", 7, "delivery_from")),
    "unit of nobody": (with_(5, price_unit="USD/barrel"), ("terms-unit-unknown", 7, "price_unit")),
    "buyer who is not there": (with_(2, buyer="mil"), ("terms-id-unknown", 4, "buyer")),
    "no id": (with_(1, id=""), ("terms-key-missing", 3, "id")),
    "a row of what": ((*SOUND, {"table": "offer", "id": "x"}), ("terms-row-table", 8, "table")),
    "a gap between bands": (with_(3, down_to="260"), ("terms-schedule-gap", 6, None)),
    "another unit in a later band": (with_(4, unit="USD/t"), ("terms-units-mixed", 6, "unit")),
    "steps below zero": (with_(3, step="-25"), ("terms-out-of-range", 5, "step")),
    "a limit out of reach": (with_(5, at_least="3000"), ("terms-out-of-range", 7, "at_least")),
    "price said twice": ((*SOUND, {"table": "contract", "id": "c", "price": "6.53"}), ("terms-stated-twice", 8, "price")),
    "no currency": (SOUND[1:], ("terms-key-missing", None, None)),
    "a column of another table": (with_(1, price="6"), ("terms-key-unknown", 3, "price")),
    "a column of nobody": (with_(5, colour="red"), ("sheet-column-unknown", 1, "colour")),
    "a mill that has a row of its own": (with_(5, buyer_name="Other"), ("terms-key-unknown", 7, "buyer_name")),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_wrong_inputs_are_told_at_row_and_column(name: str):
    rows, (code, row, field) = WRONG[name]
    found = told(*rows)
    if row is None:
        assert code in {c for c, _, _ in found}
    else:
        assert (code, row, field) in found


def test_a_price_said_twice_refuses_the_contract_and_no_other():
    read = read_terms(sheet(*SOUND, {"table": "contract", "id": "c", "price": "6.53"}), "t.csv")
    assert read.terms.contracts == ()
    assert read.terms.buyer("mill") is not None


def test_decimals_as_the_sheet_writes_them():
    row = CONTRACT | {"price": "6,125", "schedules": "", "at_least": "300"}
    rows = (
        sheet(FILE, BUYER, POINT, row).decode().replace("6,125", "6§125").replace(",", ";").replace("§", ",")
    )
    read = read_terms(rows.encode(), "t.csv")
    assert read.findings == ()
    assert read.terms.contracts[0].price.value == 6.125


def test_a_workbook_says_the_same():
    book = openpyxl.Workbook()
    for line in sheet(*SOUND).decode().splitlines():
        book.active.append([float(c) if re.fullmatch(r"\d+(\.\d+)?", c) else c for c in line.split(",")])
    out = io.BytesIO()
    book.save(out)
    read = read_terms(out.getvalue(), "offers.xlsx")
    assert read.findings == ()
    assert read.terms == read_terms(sheet(*SOUND), "t.csv").terms


def test_header_names_of_others():
    theirs = sheet(*SOUND).decode().replace("price_unit", "Per what").replace("table", "Kind of row", 1)
    mapping = read_mapping(b'[columns]\n"Kind of row" = "table"\n"Per what" = "price_unit"\n', "m.toml")
    assert mapping.findings == ()
    read = read_terms(theirs.encode(), "t.csv", mapping=mapping.columns)
    assert read.terms == read_terms(sheet(*SOUND), "t.csv").terms


def test_told_from_toml_by_content_where_the_name_says_nothing():
    assert read_terms(sheet(*SOUND), "offers").terms is not None
    assert read_terms(example("toml").encode(), "offers").terms is not None


def test_the_blank_sheet_has_every_column_and_no_row():
    header = terms_csv().decode().strip().split(",")
    assert header == [c.name for c in TERMS_COLUMNS]
    assert [f.code for f in read_terms(terms_csv(), "t.csv").findings][:1] == ["sheet-no-rows"]


def test_every_column_stands_in_the_docs():
    assert [c.name for c in TERMS_COLUMNS if not re.search(rf"\b{c.name}\b", DOCS)] == []
    assert [kind for kind in ROWS if f"`{kind}`" not in DOCS] == []


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.lists(
            st.sampled_from(
                [
                    "",
                    "file",
                    "schedule",
                    "contract",
                    "fn",
                    "300",
                    "-1",
                    "1e9",
                    "steps",
                    "USD",
                    "=A1",
                    '"',
                    "x\n",
                ]
            ),
            min_size=6,
            max_size=6,
        ),
        max_size=6,
    )
)
def test_whatever_stands_in_the_cells_is_told_and_never_raises(rows: list[list[str]]):
    text = "table,id,shape,from,below,currency\n" + "\n".join(",".join(r) for r in rows)
    read = read_terms(text.encode(), "t.csv")
    assert read.terms is not None or read.findings
