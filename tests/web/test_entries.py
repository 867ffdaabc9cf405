"""What is entered through the API: once, by somebody, from a page of ours, with faults at their fields."""

from __future__ import annotations

import json

import pytest

from lodestarch.records.engine import open_records
from lodestarch.web.app import create_app
from lodestarch.web.kept import KeptDays
from web.client import TestClient
from web.workbench import Workbench


@pytest.fixture
def lab(tmp_path):
    bench = Workbench(tmp_path / "lab.db")
    yield bench
    bench.records.close()


def test_a_ticket_by_the_api_from_reception_to_the_phone(lab):
    lab.sign_in()
    assert lab.enter("/tickets", ticket="8814", whose="Thornhollow Farm").status_code == 201
    assert lab.enter("/tickets/8814/ground").status_code == 201
    assert lab.enter("/tickets/8814/moisture", moisture_pct="12.0").status_code == 201
    bench = lab.client.get("/api/v1/bench").json()
    assert bench["next"] == {"what": "weigh", "ticket": "8814", "bath": ""}
    assert bench["tickets"][0]["portion"]["mass_g"] == 6.7
    for position in ("1", "2"):
        assert lab.enter("/tickets/8814/portions", position=position, mass_g="6.70").status_code == 201
    assert lab.enter("/tickets/8814/lowerings", bath="A").status_code == 201
    assert lab.enter("/tickets/8814/readings", seconds={"1": "287", "2": "291"}).status_code == 201
    assert lab.enter("/release-by-rule").json()["released"] == 1
    assert lab.enter("/tickets/8814/answers", asked_by="Thornhollow Farm").status_code == 201
    ticket = lab.client.get("/api/v1/tickets/8814").json()
    assert (ticket["station"], ticket["result"]["seconds"], ticket["released"]) == ("released", 289, True)
    assert ticket["answers"][0]["said"] == ticket["read_out"]
    assert ticket["read_out"].startswith("8814 · 289")
    assert lab.records.verify().holds


def test_the_same_entry_again_is_taken_once(lab):
    lab.sign_in()
    line = {"ticket": "8814", "moisture_pct": "14", "seconds": ["287", "291"]}
    first = lab.enter("/quick", "the-same-id", **line)
    again = lab.enter("/quick", "the-same-id", **line)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json()["again"] is True
    assert len(lab.client.get("/api/v1/tickets/8814").json()["readings"]) == 2
    other = lab.enter("/quick", "the-same-id", **{**line, "moisture_pct": "13"})
    assert other.status_code == 409


def test_a_fault_names_its_field_and_says_what_to_do(lab):
    lab.sign_in()
    answer = lab.enter("/quick", ticket="8814", moisture_pct="140", seconds=["2b7", "291"])
    assert answer.status_code == 422
    said = {f["where"]["field"]: f for f in answer.json()["findings"]}
    assert set(said) == {"moisture_pct", "seconds"}
    assert said["seconds"]["where"]["position"] == "1"
    assert all(f["wrong"] and f["do"] for f in said.values())
    assert lab.client.get("/api/v1/tickets/8814").status_code == 404


def test_nobody_is_nobody_and_the_entry_can_be_sent_later(lab):
    line = {"ticket": "8814", "seconds": ["287", "291"]}
    assert lab.enter("/quick", "waits-for-a-name", **line).status_code == 401
    lab.sign_in()
    assert lab.enter("/quick", "waits-for-a-name", **line).status_code == 201


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Sec-Fetch-Site": "none"}, 403),
        ({"Origin": "http://elsewhere.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Sec-Fetch-Site": "same-origin"}, 201),
        ({"Origin": "http://lab"}, 201),
        ({}, 201),
    ],
)
def test_only_a_page_of_ours_may_enter_something(lab, headers, status):
    lab.sign_in()
    key = {"Idempotency-Key": "entry-from-a-page"}
    answer = lab.client.post("/api/v1/tickets", json={"ticket": "8814"}, headers={**key, **headers})
    assert answer.status_code == status
    assert (lab.client.get("/api/v1/tickets/8814").status_code == 200) == (status == 201)


def test_what_is_too_large_or_does_not_say_how_large_is_refused(lab):
    lab.sign_in()
    headers = {"Idempotency-Key": "entry-too-large", "Content-Type": "application/json"}
    large = lab.client.post(
        "/api/v1/tickets", content=b" ", headers={**headers, "Content-Length": "99999999"}
    )
    assert large.status_code == 413

    def endless():
        yield b'{"ticket": "8814"}'

    assert lab.client.post("/api/v1/tickets", content=endless(), headers=headers).status_code == 411
    assert lab.client.put("/api/v1/tickets", json={}).status_code == 405


def test_an_entry_needs_an_id_and_no_field_that_nobody_knows(lab):
    lab.sign_in()
    assert lab.client.post("/api/v1/tickets", json={"ticket": "8814"}).status_code == 422
    assert lab.enter("/tickets", "short", ticket="8814").status_code == 422
    assert lab.enter("/tickets", ticket="8814", price="1").status_code == 422
    assert lab.client.get("/api/v1/tickets/8814").status_code == 404


def test_a_password_is_asked_for_where_there_is_one(lab):
    lab.sign_in()
    form = {"name": "Rec Eiver", "roles": "receiver", "password": "harvest moon over it"}
    assert lab.client.post("/setup/people", data=form).status_code == 303
    lab.client.cookies.clear()
    assert lab.client.post("/sign-in", data={"name": "Rec Eiver"}).status_code == 422
    wrong = lab.client.post("/sign-in", data={"name": "Rec Eiver", "password": "guess"})
    assert wrong.status_code == 422
    assert "do not go together" in wrong.text
    assert lab.client.post("/sign-in", data={"name": "Nobody Known"}).status_code == 422
    right = {"name": "Rec Eiver", "password": "harvest moon over it", "to": "//elsewhere.example"}
    answer = lab.client.post("/sign-in", data=right)
    assert (answer.status_code, answer.headers["location"]) == (303, "/bench")
    assert lab.enter("/tickets", ticket="8814").status_code == 201
    refused = lab.enter("/tickets/8814/moisture", moisture_pct="14")
    assert refused.status_code == 403
    assert "analyst" in refused.json()["detail"]
    # A name alone is not believed where there is a password.
    (name,) = [c for c in lab.client.cookies if c.startswith("lodestarch_person")]
    lab.client.cookies.clear()
    lab.client.cookies.set(name, "name.p2")
    assert lab.enter("/tickets", ticket="8815").status_code == 401


def test_people_are_added_by_the_keeper_with_what_is_wrong_said(lab):
    lab.sign_in()
    for form, said in (
        ({"name": "", "roles": "analyst"}, "no name is typed"),
        ({"name": "ann example", "roles": "analyst"}, "works here already"),
        ({"name": "Bo"}, "not one of the choices"),
        ({"name": "Bo", "roles": "analyst", "password": "12345678"}, "among the first"),
        ({"name": "Bo", "roles": "analyst", "password": "short"}, "At least 8"),
    ):
        answer = lab.client.post("/setup/people", data=form)
        assert answer.status_code == 422
        assert said in answer.text
    assert '<th scope="row">Bo</th>' not in lab.client.get("/setup").text


def test_the_benchs_choices_are_kept_and_read_out(lab):
    lab.sign_in()
    typed = {"profile": "meal-14", "baths": "North, South", "limits": "Quillmere 300\nAldersby 220-340"}
    assert lab.enter("/setup/bench", **typed).status_code == 201
    wrong = lab.enter("/setup/bench", **{**typed, "limits": "Quillmere 30000", "baths": " , "})
    assert {f["where"]["field"] for f in wrong.json()["findings"]} == {"limits", "baths"}
    lab.enter("/quick", ticket="8814", moisture_pct="14", seconds=["287", "291"])
    said = lab.client.get("/api/v1/tickets/8814").json()
    assert said["profile"] == "meal-14@1"
    assert said["read_out"].replace("\xa0", " ") == (
        "8814 · 289, limits 220 to 340 and 300, two tubes, 14 % mb, preliminary"
    )
    assert [b["name"] for b in lab.client.get("/api/v1/bench").json()["baths"]] == ["North", "South"]


def test_a_sheet_that_is_pasted_becomes_a_day(lab):
    lab.sign_in()
    empty = lab.client.post("/paste", data={"rows": " "})
    assert (empty.status_code, "nothing is pasted" in empty.text) == (422, True)
    # What has no known header is shown with a choice over each column; nothing of it is kept meanwhile.
    nonsense = lab.client.post("/paste", data={"rows": "once upon a time"})
    assert (nonsense.status_code, "once upon a time" in nonsense.text, "<select" in nonsense.text) == (
        200,
        True,
        True,
    )
    assert "once upon" not in lab.client.get("/tickets").text
    rows = "sample\tseconds\tmoisture_pct\n9001\t287\t14\n9001\t291\t14\n9002\t2b9\t14"
    answer = lab.client.post("/paste", data={"rows": rows, "title": "Last year"})
    assert answer.status_code == 303
    page = lab.client.get(answer.headers["location"]).text
    assert "Last year" in page
    assert "289" in page
    file = {"file": ("../../old.csv", b"sample,seconds\n9003,300\n9003,310\n", "text/csv")}
    assert lab.client.post("/paste", files=file).status_code == 303


def test_a_browser_outlives_a_restart_of_the_server(tmp_path):
    path, at = tmp_path / "lab.db", Workbench(tmp_path / "other.db").clock
    cookies = {}
    for start in ("first", "second"):
        with open_records(path, clock=at) as records:
            app = create_app(KeptDays(records), token=start, allowed_hosts=["lab"], records=records, clock=at)
            client = TestClient(app, base_url="http://lab", follow_redirects=False, cookies=cookies)
            if start == "first":
                assert client.get("/sign-in").status_code == 403
                assert client.get("/sign-in?token=first").status_code == 303
            assert client.get("/sign-in").status_code == 200
            cookies = dict(client.cookies)
            stranger = TestClient(app, base_url="http://lab", cookies={next(iter(cookies)): "made-up"})
            assert stranger.get("/sign-in").status_code == 403


def test_everything_of_the_api_is_in_its_description(lab):
    described = lab.client.get("/api/v1/openapi.json").json()
    posts = {path for path, methods in described["paths"].items() if "post" in methods}
    assert len(posts) >= 14
    for path in posts:
        names = {p["name"] for p in described["paths"][path]["post"]["parameters"]}
        assert "Idempotency-Key" in names, path
    assert json.dumps(described)
