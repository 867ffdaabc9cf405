"""Ten wrong inputs a field of the forms with numbers: said at that field, and nothing written."""

from __future__ import annotations

import pytest

from web.workbench import Workbench

WRONG = ["abc", "1.2.3", "1.234,5", "-5", "--", "1e999", "12g5", "28 7 x", "\u221e", "<b>1</b>"]
FIELDS = [
    ("/tickets", {"ticket": "9001"}, "mass_g"),
    ("/quick", {"ticket": "9002", "seconds": ["287", "291"]}, "moisture_pct"),
    ("/tickets/8814/ground", {}, "ground_mass_g"),
    ("/tickets/8814/moisture", {}, "moisture_pct"),
    ("/tickets/8814/portions", {"position": "1"}, "mass_g"),
    ("/tickets/8814/lowerings", {"bath": "A"}, "pressure_hpa"),
    ("/tickets/8813/corrections", {"run": "2026-08-12", "position": "1", "reason": "slip"}, "seconds"),
    ("/tickets/8813/corrections", {"run": "2026-08-12", "position": "1", "reason": "slip"}, "mass_g"),
    ("/tickets/8813/corrections", {"run": "2026-08-12", "position": "1", "reason": "slip"}, "moisture_pct"),
    ("/tickets/8814/splits", {}, "mass_g"),
    ("/tickets/8814/retained", {"place": "shelf"}, "mass_g"),
    ("/tickets/8814/retained", {"place": "shelf", "mass_g": "5"}, "keep_days"),
    ("/tickets/8814/sent", {"laboratory": "x", "purpose": "y"}, "mass_g"),
    ("/retention-rules", {"applies_to": "load", "source": "x"}, "keep_days"),
]


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Workbench(tmp_path_factory.mktemp("wrong") / "lab.db").sign_in()
    assert made.enter("/tickets", ticket="8814").status_code == 201
    assert made.enter("/quick", ticket="8813", seconds=["287", "291"]).status_code == 201
    yield made
    made.records.close()


def said_at(lab, path, body, field):
    with lab.records.view() as view:
        before = view.head()
    answer = lab.enter(path, **body)
    with lab.records.view() as view:
        assert view.head() == before
    assert answer.status_code == 422, answer.text
    mine = [f for f in answer.json()["findings"] if f["where"].get("field") == field]
    assert mine, answer.text
    assert all(f["wrong"] and f["do"] for f in mine)


@pytest.mark.parametrize("text", WRONG)
@pytest.mark.parametrize(("path", "body", "field"), FIELDS, ids=[f"{p} {f}" for p, _, f in FIELDS])
def test_a_wrong_number_is_said_at_its_field(lab, path, body, field, text):
    said_at(lab, path, {**body, field: text}, field)


@pytest.mark.parametrize("text", WRONG)
def test_wrong_seconds_are_said_at_their_tube(lab, text):
    said_at(lab, "/tickets/8814/readings", {"seconds": {"1": text}}, "seconds")
    said_at(lab, "/quick", {"ticket": "9003", "seconds": ["287", text]}, "seconds")
