"""A sheet of any header, mapped by looking; last year's harvest in one go."""

from __future__ import annotations

import io
import re
from html import unescape

import openpyxl
import pytest

from web.workbench import Workbench

SHEET = "Probe;Datum;FZ [s];H2O\n8814;x;287;14,0\n8814;x;291;14,0\n8815;y;340;13,4\n"
CHOSEN = {"Probe": "sample", "FZ [s]": "seconds", "H2O": "moisture_pct"}


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Workbench(tmp_path_factory.mktemp("paste") / "lab.db").sign_in()
    yield made
    made.records.close()


def fields_of(page):
    """What the page sends if nothing is changed."""
    fields = {
        unescape(name): unescape(value)
        for name, value in re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)"', page)
    }
    for name, inner in re.findall(r'<select name="(column\.\d+)"[^>]*>(.*?)</select>', page, flags=re.DOTALL):
        chosen = re.search(r'<option value="([^"]*)" selected', inner)
        fields[name] = chosen[1] if chosen else ""
    return fields


def choose(page, chosen):
    fields = fields_of(page)
    for name, header in list(fields.items()):
        if name.startswith("header.") and header in chosen:
            fields["column." + name.removeprefix("header.")] = chosen[header]
    return fields


def day_of(lab, answer):
    assert answer.status_code == 303, answer.text[:2000]
    return lab.client.get("/api/v1" + answer.headers["location"]).json()


def test_a_strange_header_is_asked_for_and_read_as_chosen(lab):
    looked = lab.client.post("/paste", data={"rows": SHEET, "title": "one"})
    assert looked.status_code == 200
    assert "Say which column is: sample, seconds." in looked.text
    assert "<td>287</td>" in looked.text
    day = day_of(lab, lab.client.post("/paste", data={**choose(looked.text, CHOSEN), "title": "one"}))
    assert [(r["sample"], r["seconds"], r["moisture_pct"]) for r in day["results"]] == [
        ("8814", 289, 14.0),
        ("8815", 340, 13.4),
    ]


def test_a_choice_that_is_not_enough_is_asked_again_with_what_was_chosen(lab):
    looked = lab.client.post("/paste", data={"rows": SHEET})
    again = lab.client.post("/paste", data=choose(looked.text, {"Probe": "sample"}))
    assert again.status_code == 422
    assert "Say which column is: seconds." in again.text
    assert fields_of(again.text)["column.0"] == "sample"
    twice = lab.client.post("/paste", data=choose(looked.text, {**CHOSEN, "Datum": "sample"}))
    assert twice.status_code == 422
    assert "Said of two columns: sample." in twice.text


def test_a_workbook_goes_along_in_the_page(lab):
    book, out = openpyxl.Workbook(), io.BytesIO()
    for row in (["Probe", "FZ [s]"], ["9001", 301], ["9001", 309]):
        book.active.append(row)
    book.save(out)
    looked = lab.client.post("/paste", files={"file": ("last year.xlsx", out.getvalue())})
    assert "last year.xlsx" in looked.text
    day = day_of(lab, lab.client.post("/paste", data=choose(looked.text, CHOSEN)))
    assert [(r["sample"], r["seconds"]) for r in day["results"]] == [("9001", 305)]


def test_a_plain_sheet_is_read_at_once_and_looked_at_where_wanted(lab):
    plain = "sample,seconds\n9101,287\n9101,291\n"
    looked = lab.client.post("/paste", data={"rows": plain, "look": "yes"})
    assert looked.status_code == 200
    assert "The sheet as it will be read." in looked.text
    day = day_of(lab, lab.client.post("/paste", data=fields_of(looked.text)))
    assert day["counts"]["readings"] == 2
    assert lab.client.post("/paste", data={"rows": plain.replace("9101", "9102")}).status_code == 303


def test_a_harvest_in_one_go(lab):
    rows = [f"h{n:05d};{250 + n % 150 + tube};14,0" for n in range(2000) for tube in (0, 4)]
    looked = lab.client.post("/paste", data={"rows": "\n".join(["Probe;FZ [s];H2O", *rows])})
    assert "4000 rows" in looked.text
    day = day_of(lab, lab.client.post("/paste", data=choose(looked.text, CHOSEN)))
    assert (day["counts"]["samples"], day["counts"]["readings"]) == (2000, 4000)


HEADERS = ['"drop"', "a = b", "[columns]", "\\", "'quoted'", "<b>bold</b>", "𝔘nicode", "{{7*7}}", "x" * 300]


@pytest.mark.parametrize("header", HEADERS)
def test_any_header_can_be_chosen(lab, header):
    name = f"n{HEADERS.index(header)}"
    rows = f"{name}\t287\n{name}\t291\n"
    quoted = '"' + header.replace('"', '""') + '"'
    looked = lab.client.post("/paste", data={"rows": f"Probe\t{quoted}\n{rows}"})
    assert "<b>bold</b>" not in looked.text
    day = day_of(
        lab, lab.client.post("/paste", data=choose(looked.text, {"Probe": "sample", header: "seconds"}))
    )
    assert day["results"][0]["seconds"] == 289


@pytest.mark.parametrize("kept", ["", "not base64 !", "AAAA", "=", "\u00e9"])
def test_what_the_page_kept_and_was_changed_is_no_fault(lab, kept):
    answer = lab.client.post("/paste", data={"kept": kept, "kept_name": "../../x", "column.0": "sample"})
    assert answer.status_code in {200, 422}
