"""Bench control over records of its own: registered, run, failed, held, cleared with a cause."""

from __future__ import annotations

import json

import pytest

from web.workbench import Workbench


@pytest.fixture
def lab(tmp_path):
    bench = Workbench(tmp_path / "lab.db").sign_in()
    yield bench
    bench.records.close()


MATERIAL = {
    "name": "CM-220", "lot": "7", "form": "meal", "target_s": "220", "u_s": "4", "source": "mean of 20 runs",
    "expires_on": "2027-01-31",
}  # fmt: skip


def enter(lab, path, **body):
    return lab.enter(f"/control/{path}", **body)


def check(lab, first, second, bath="A"):
    answer = enter(lab, "check-samples", material="cm-220", bath=bath, seconds=[first, second])
    assert answer.status_code == 201, answer.text
    return answer.json()["sample"]


def load(lab, ticket, bath="A"):
    for path, body in (
        ("", {"ticket": ticket}),
        (f"/{ticket}/ground", {}),
        (f"/{ticket}/moisture", {"moisture_pct": "12.0"}),
        (f"/{ticket}/lowerings", {"bath": bath}),
        (f"/{ticket}/readings", {"seconds": {"1": "287", "2": "291"}}),
    ):
        answer = lab.enter(f"/tickets{path}", **body)
        assert answer.status_code == 201, answer.text


def control(lab):
    return lab.client.get("/api/v1/control").json()


def test_empty_records_say_what_to_do(lab):
    text = lab.client.get("/control").text
    assert "Nothing watches this bench yet." in text
    assert "Register a check material" in text
    assert control(lab)["verdict"] == "unwatched"


def test_from_a_material_to_a_hold_and_its_cause(lab):
    assert enter(lab, "materials", **MATERIAL).status_code == 201
    assert control(lab)["verdict"] == "check-first"
    check(lab, "219", "222")
    assert control(lab)["verdict"] == "check-first"  # bath B has had none in this shift
    check(lab, "221", "222", bath="B")
    load(lab, "8814")
    load(lab, "8815", bath="B")
    good = control(lab)
    assert [d["bath"] for d in good["checks_due"]] == []
    assert good["verdict"] == "run"
    failed = check(lab, "249", "252")
    stopped = control(lab)
    assert stopped["verdict"] == "stop"
    assert [b["run"] for b in stopped["baths"]] == [False, True]
    assert stopped["baths"][0]["points_to"] == "bath"
    assert stopped["hold"]["failed"] == [failed]
    assert [h["sample"] for h in stopped["hold"]["held"]] == ["8814"]
    page = lab.client.get("/control").text
    assert "Stop bath A: check these three, in this order." in page
    ticket = lab.client.get("/api/v1/tickets/8814").json()
    assert ticket["result"]["status"] == "held"
    assert lab.enter("/release-by-rule").json()["released"] == 0
    assert lab.enter("/tickets/8814/release", reason="the grower waits").status_code == 422
    assert enter(lab, "causes", check=failed, cause="").status_code == 422
    assert enter(lab, "causes", check=failed, cause="bath A was off the boil").status_code == 201
    lifted = control(lab)
    assert lifted["hold"]["failed"] == []
    assert lifted["hold"]["held"] == []
    assert [c["cause"] for c in lifted["causes"]] == ["bath A was off the boil"]
    assert lifted["verdict"] == "check-first"
    assert lifted["checks_due"][0]["reasons"] == ["after-cause"]
    check(lab, "218", "222")
    assert control(lab)["verdict"] == "run"
    assert lab.client.get("/api/v1/tickets/8814").json()["result"]["status"] == "preliminary"
    assert lab.records.verify().holds


def test_a_check_sample_without_seconds_waits_like_a_ticket(lab):
    enter(lab, "materials", **MATERIAL)
    answer = enter(lab, "check-samples", material="CM-220", bath="A", seconds=[])
    code = answer.json()["sample"]
    assert [t["ticket"] for t in lab.client.get("/api/v1/bench").json()["tickets"]] == [code]
    lab.enter(f"/tickets/{code}/lowerings", bath="B")
    assert lab.enter(f"/tickets/{code}/readings", seconds={"1": "260", "2": "262"}).status_code == 201
    assert control(lab)["hold"]["failed"] == [code]


def test_a_slip_in_a_check_sample_put_right_lifts_what_it_held(lab):
    enter(lab, "materials", **MATERIAL)
    code = check(lab, "249", "252")
    run = lab.client.get(f"/api/v1/tickets/{code}").json()["readings"][0]["run"]
    for position, seconds in (("1", "219"), ("2", "222")):
        answer = lab.enter(
            f"/tickets/{code}/corrections", run=run, position=position, seconds=seconds, reason="misread"
        )
        assert answer.status_code == 201, answer.text
    now = control(lab)
    assert not (now["hold"] or {}).get("failed")
    assert all(b["run"] for b in now["baths"])


def test_the_list_of_the_shift_and_upkeep(lab):
    shift = lab.client.get("/api/v1/shift").json()["shift"]
    for one in shift["items"]:
        value = "1013.2" if one["unit"] == "pressure_hpa" else ""
        assert enter(lab, "shift", item=one["item"], value=value).status_code == 201
    done = lab.client.get("/api/v1/shift").json()["shift"]["items"]
    assert all(one["done_at"] and one["by"] == "Ann Example" and one["in_order"] for one in done)
    assert "Start of shift: done." in lab.client.get("/shift").text
    assert enter(lab, "upkeep", item="stirrers", place="A", note="two replaced").status_code == 201
    assert enter(lab, "intervals", item="stirrers", every_days="14", source="own records").status_code == 201
    line = next(u for u in lab.client.get("/api/v1/shift").json()["upkeep"] if u["item"] == "stirrers")
    assert (line["due"], line["every_days"], line["provenance"]) == (False, 14.0, "entered by the lab")
    assert line["days_left"] == pytest.approx(14.0, abs=0.1)


def test_upkeep_that_moves_results_asks_for_a_check_sample_and_stands_on_the_chart(lab):
    enter(lab, "materials", **MATERIAL)
    for bath in ("A", "B"):
        check(lab, "219", "222", bath=bath)
    load(lab, "8814")
    assert control(lab)["verdict"] == "run"
    enter(lab, "upkeep", item="bath-water", place="A")
    due = control(lab)
    assert [(d["bath"], d["reasons"]) for d in due["checks_due"]] == [("A", ["after-change"])]
    assert [m["item"] for m in due["charts"][0]["upkeep"]] == ["bath-water"]
    assert "U1" in lab.client.get("/control").text


def test_blind_duplicates_get_a_verdict_from_three_pairs_on(lab):
    for ticket, seconds in (("1", ("300", "304")), ("2", ("250", "247")), ("3", ("410", "401"))):
        lab.enter("/quick", ticket=ticket, moisture_pct="14", seconds=list(seconds))
        assert enter(lab, "blind", ticket=ticket, blind=f"9{ticket}").status_code == 201
    assert control(lab)["blind"] == []
    for ticket, seconds in (("91", ("302", "299")), ("92", ("249", "252")), ("93", ("404", "408"))):
        lab.enter("/quick", ticket=ticket, moisture_pct="14", seconds=list(seconds))
    blind = control(lab)["blind"]
    assert [(b["pairs"], b["sign_off"]["n"]) for b in blind] == [(3, 3)]
    assert abs(blind[0]["sign_off"]["bias_s"]) < 5.0


WRONG = [
    ("materials", {**MATERIAL, "name": ""}, "name"),
    ("materials", {**MATERIAL, "lot": " "}, "lot"),
    ("materials", {**MATERIAL, "form": "flour"}, "form"),
    ("materials", {**MATERIAL, "target_s": "2200"}, "target_s"),
    ("materials", {**MATERIAL, "target_s": "about 220"}, "target_s"),
    ("materials", {**MATERIAL, "u_s": "0"}, "u_s"),
    ("materials", {**MATERIAL, "u_s": "90"}, "u_s"),
    ("materials", {**MATERIAL, "source": ""}, "source"),
    ("materials", {**MATERIAL, "expires_on": "next year"}, "expires_on"),
    ("check-samples", {"material": "CX", "bath": "A"}, "material"),
    ("check-samples", {"material": "CM-220", "bath": "Z", "seconds": ["220", "221"]}, "bath"),
    ("check-samples", {"material": "CM-220", "bath": "A", "seconds": ["2b0", "221"]}, "seconds"),
    ("check-samples", {"material": "CM-220", "bath": "A", "moisture_pct": "140"}, "moisture_pct"),
    ("upkeep", {"item": "coffee"}, "item"),
    ("upkeep", {"item": "tubes", "done_at": "soon"}, "done_at"),
    ("upkeep", {"item": "tubes", "done_at": "2126-01-01"}, "done_at"),
    ("upkeep", {"item": "tubes", "done_at": "25:10"}, "done_at"),
    ("intervals", {"item": "tubes", "source": "us"}, "every_days"),
    ("intervals", {"item": "tubes", "every_runs": "1.5", "source": "us"}, "every_runs"),
    ("intervals", {"item": "tubes", "every_days": "-3", "source": "us"}, "every_days"),
    ("intervals", {"item": "tubes", "every_days": "3"}, "source"),
    ("shift", {"item": "station-pressure"}, "value"),
    ("shift", {"item": "station-pressure", "value": "30"}, "value"),
    ("shift", {"item": "bath-boil", "held": "no"}, "note"),
    ("shift", {"item": "lunch"}, "item"),
    ("causes", {"check": "CM-220-1", "cause": "off the boil"}, "check"),
    ("plan", {"every_runs": "0", "shift_starts": "6:00"}, "every_runs"),
    ("plan", {"every_runs": "20", "shift_starts": "dawn"}, "shift_starts"),
    ("blind", {"ticket": "none", "blind": "9"}, "ticket"),
]


def test_wrong_entries_get_a_message_at_their_field_and_change_nothing(lab):
    enter(lab, "materials", **MATERIAL)
    before = json.dumps({k: v for k, v in control(lab).items() if k != "at"}, sort_keys=True)
    for path, body, field in WRONG:
        answer = enter(lab, path, **body)
        assert answer.status_code == 422, (path, body, answer.text)
        found = answer.json()["findings"]
        assert field in {f["where"].get("field") for f in found}, (path, body, found)
        assert all(f["wrong"] and f["do"] for f in found)
    assert json.dumps({k: v for k, v in control(lab).items() if k != "at"}, sort_keys=True) == before


def test_an_analyst_enters_checks_and_upkeep_but_lifts_no_hold(lab):
    enter(lab, "materials", **MATERIAL)
    failed = check(lab, "249", "252")
    with lab.records.unit("Ann Example", lab.clock()) as unit:
        unit.add_person("Bea Bench", ("analyst",))
    lab.client.cookies.clear()
    lab.sign_in("Bea Bench")
    assert enter(lab, "causes", check=failed, cause="off the boil").status_code == 403
    assert enter(lab, "materials", **MATERIAL).status_code == 403
    assert enter(lab, "upkeep", item="tubes").status_code == 201
    assert enter(lab, "shift", item="bath-boil").status_code == 201
