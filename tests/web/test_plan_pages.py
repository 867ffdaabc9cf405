"""Plan and Bins: what is entered, what the pages say of it, and what they refuse, at which field."""

from __future__ import annotations

import time

import pytest

from lodestarch.demo import harvest_plan
from lodestarch.demo.planning import keep_planning, planning_file
from lodestarch.method.blend import Lot, blend
from web.workbench import PERSON, Workbench

SITE = planning_file("receive", "site.toml").decode()
CARGO = planning_file("loadout", "cargo.toml").decode()
PLAN = harvest_plan().decode()


@pytest.fixture
def lab(tmp_path):
    bench = Workbench(tmp_path / "lab.db").sign_in()
    yield bench
    bench.records.close()


@pytest.fixture(scope="module")
def planning(tmp_path_factory):
    """The invented planning, kept once."""
    path = tmp_path_factory.mktemp("planning") / "kept.db"
    bench = Workbench(path)
    keep_planning(bench.records, person=PERSON, at=bench.clock())
    bench.records.close()
    return path


@pytest.fixture
def kept(tmp_path, planning):
    """A workbench over a copy of it."""
    bench = Workbench(tmp_path / "kept.db", blank=planning).sign_in()
    yield bench
    bench.records.close()


def api(lab, what):
    answer = lab.client.get(f"/api/v1/{what}")
    assert answer.status_code == 200, answer.text
    return answer.json()


def taken(lab, path, **body):
    answer = lab.enter(path, **body)
    assert answer.status_code == 201, answer.text
    return answer.json()


def planned(lab):
    """The allocation once the solver is through with it."""
    until = time.monotonic() + 60
    while not (found := api(lab, "plan/allocate"))["ready"]:
        assert time.monotonic() < until
    return found


def truck(lab, ticket):
    return next(t for t in api(lab, "plan/receive")["trucks"] if t["ticket"] == ticket)


# --- nothing yet ---


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("/bins", "No bin is kept yet."),
        ("/plan/receive", "No receiving site is kept yet."),
        ("/plan/loadout", "No cargo is kept yet."),
        ("/plan/allocate", "No plan problem is kept yet."),
    ],
)
def test_an_empty_page_says_what_to_do_first(lab, path, said):
    page = lab.client.get(path)
    assert page.status_code == 200
    assert f"<h1>{said}</h1>" in page.text
    assert 'data-entry="/api/v1/' in page.text
    assert lab.client.get(f"/api/v1{path}").status_code == (200 if path == "/bins" else 404)


def test_a_loading_sheet_without_a_plan_is_not_found(lab):
    assert lab.client.get("/plan/allocate/loading-sheet").status_code == 404
    assert lab.client.get("/plan/allocate/loading-sheet.pdf").status_code == 404


# --- the probe ---


def test_a_truck_gets_one_word_and_a_tested_one_stands_on_the_bench_s_list(lab):
    taken(lab, "/plan/receive/site", text=SITE, name="site.toml")
    taken(lab, "/plan/receive/trucks", ticket="9001", tonnes="24,5", field="Long Acre", variety="Sorrel")
    first = truck(lab, "9001")
    assert (first["word"], first["at_bench"], first["tonnes"]) == ("hold", True, 24.5)
    assert "9001" in [t["ticket"] for t in api(lab, "bench")["tickets"]]
    page = lab.client.get("/plan/receive").text
    assert '<span class="unseen">9001: </span>HOLD</p>' in page
    assert "1 truck waits for its result." in page


def test_the_word_stands_until_its_own_number_comes_from_the_bench(kept):
    before = {t["ticket"]: (t["word"], t["bin"]) for t in api(kept, "plan/receive")["trucks"]}
    assert before["7513"][0] == "hold"
    # Numbers of its neighbours move what is expected of it, and not the word.
    for ticket, seconds in (("7516", "402"), ("7517", "398")):
        taken(kept, f"/plan/receive/trucks/{ticket}/number", seconds=seconds)
    taken(kept, "/plan/receive/trucks", ticket="9002", tonnes="20")
    after = {t["ticket"]: (t["word"], t["bin"]) for t in api(kept, "plan/receive")["trucks"]}
    assert {k: after[k] for k in ("7512", "7513", "7514", "7518")} == {
        k: before[k] for k in ("7512", "7513", "7514", "7518")
    }
    # Its own sample, run at the bench under its ticket, ends the waiting.
    taken(kept, "/plan/receive/trucks", ticket="9003", tonnes="20", field="New Ground")
    assert truck(kept, "9003")["word"] == "hold"
    taken(kept, "/tickets/9003/moisture", moisture_pct="14")
    taken(kept, "/quick", ticket="9003", moisture_pct="14", seconds=["188", "192"])
    told = truck(kept, "9003")
    assert (told["word"], told["bin"], told["number"]["seconds"]) == ("dump", "5", 190)
    assert told["number"]["from_bench"] is True
    assert "Result 190\u00a0s: 5 takes it." in kept.client.get("/plan/receive").text


def test_a_field_is_named_by_its_number_and_a_dumped_truck_is_a_layer(kept):
    names = [t["field"] for t in api(kept, "plan/receive")["trucks"]]
    assert names[-1] == "Cottonwood"
    taken(kept, "/plan/receive/trucks", ticket="9004", tonnes="21.5", field="1", variety="kettle")
    assert (truck(kept, "9004")["field"], truck(kept, "9004")["variety"]) == ("Cottonwood", "Kettle")
    before = {b["bin"]: b["tonnes"] for b in api(kept, "bins")["bins"]}
    taken(kept, "/plan/receive/trucks/9004/dumped", bin="2")
    after = {b["bin"]: b for b in api(kept, "bins")["bins"]}
    assert after["2"]["tonnes"] == pytest.approx(before["2"] + 21.5)
    assert after["2"]["layers"][-1]["loads"] == ["9004"]
    assert "9004" not in [t["ticket"] for t in api(kept, "plan/receive")["trucks"]]
    taken(kept, "/plan/receive/trucks/7512/dumped", bin="")  # went away
    assert "7512" not in [t["ticket"] for t in api(kept, "plan/receive")["trucks"]]


def test_grain_that_leaves_a_bin_makes_room_at_the_probe(kept):
    def room(bin_id):
        return {b["bin"]: (b["holds_t"], b["room_t"]) for b in api(kept, "plan/receive")["bins"]}[bin_id]

    held, free = room("3")
    assert held + free == pytest.approx(1500)
    taken(kept, "/bins/out", bin="3", tonnes="100")
    taken(kept, "/bins/moved", bin="3", to="5", tonnes="50")
    assert room("3") == pytest.approx((held - 150, free + 150))
    assert sum(room("5")) == pytest.approx(1000)


def test_samples_of_so_many_loads_make_a_composite_that_moves_what_is_expected(lab):
    taken(lab, "/plan/receive/site", text=SITE, name="site.toml")
    taken(lab, "/plan/receive/mode", mode="composite", composite_of="3")
    assert "test the composite of every 3 loads" in lab.client.get("/plan/receive").text
    for ticket in ("1", "2", "3"):
        taken(lab, "/plan/receive/trucks", ticket=f"800{ticket}", tonnes="24", field="Bell")
        assert truck(lab, f"800{ticket}")["word"] == "dump"
        taken(lab, f"/plan/receive/trucks/800{ticket}/dumped", bin="3")
    found = api(lab, "plan/receive")
    assert found["composites"] == [
        {"number": 1, "tickets": ["8001", "8002", "8003"], "wanted": 3, "seconds": None}
    ]
    assert "composite-1" in [t["ticket"] for t in api(lab, "bench")["tickets"]]
    before = next(b for b in found["bins"] if b["bin"] == "3")["expected_s"]
    taken(lab, "/plan/receive/trucks/composite-1/number", seconds="190")
    after = next(b for b in api(lab, "plan/receive")["bins"] if b["bin"] == "3")["expected_s"]
    assert 190 < after < before - 20


def test_where_testing_brings_nothing_the_rule_says_so(lab):
    one_grade = SITE[: SITE.index("[[grade]]")].replace("otherwise_t = 185", "otherwise_t = 229.99")
    one_grade += "[[grade]]\nat_least_s = 120\nprice_t = 230\n" + SITE[SITE.index("[[bin]]") :]
    taken(lab, "/plan/receive/site", text=one_grade, name="site.toml")
    page = lab.client.get("/plan/receive").text
    assert "Test none" in page


# --- bins ---


def test_bins_are_layers_until_turned_and_read_what_the_blend_law_says(lab):
    taken(lab, "/bins", bin="A", capacity_t="100")
    taken(lab, "/bins", bin="B")
    taken(lab, "/bins/in", bin="A", ticket="1", tonnes="30", seconds="400", u_s="6")
    taken(lab, "/bins/in", bin="a", ticket="2", tonnes="30", seconds="220", u_s="6")
    found = {b["bin"]: b for b in api(lab, "bins")["bins"]}["A"]
    assert found["seconds"] == pytest.approx(blend([Lot(400.0, 1.0), Lot(220.0, 1.0)]).seconds_s)
    assert (found["turned"], found["low_s"], found["high_s"]) == (False, 220, 400)
    taken(lab, "/bins/turned", bin="A")
    taken(lab, "/bins/moved", bin="A", to="B", tonnes="20")
    after = {b["bin"]: b for b in api(lab, "bins")["bins"]}
    assert (after["A"]["tonnes"], after["B"]["tonnes"]) == pytest.approx((40, 20))
    assert after["B"]["seconds"] == pytest.approx(found["seconds"])
    assert after["A"]["turned"]
    page = lab.client.get("/bins").text
    assert "2 bins hold 60\u00a0t; all of it is tested." in page
    move = next(m for m in api(lab, "bins")["movements"] if m["kind"] == "move")
    taken(lab, "/bins/corrections", movement=move["movement"], tonnes="0", reason="typed twice")
    assert [b["tonnes"] for b in api(lab, "bins")["bins"]] == pytest.approx([60, 0])
    assert lab.records.verify().holds


def test_u_of_a_turned_bin_is_the_parts_own_carried_through_the_law(lab):
    taken(lab, "/bins", bin="A")
    for ticket in ("1", "2"):
        taken(lab, "/bins/in", bin="A", ticket=ticket, tonnes="30", seconds="300", u_s="8")
    (one,) = api(lab, "bins")["bins"]
    assert one["u_s"] == pytest.approx(8 / 2**0.5)


# --- the allocation ---


def test_a_settled_draw_is_kept_in_the_plan_and_can_be_taken_back(kept):
    before = planned(kept)
    assert before["answer"]["thumb"]["ahead"] > 1000
    taken(kept, "/plan/allocate/draws", bin="bin-2", to="quillmere-24-3", tonnes="200")
    after = planned(kept)
    moved = {(m["from"], m["to"]): m["amount"] for m in after["answer"]["plan"]}
    assert moved["bin-2", "quillmere-24-3"] == pytest.approx(200)
    assert after["answer"]["objective"] <= before["answer"]["objective"] + 1e-6
    assert (after["back"], after["forth"]) == (1, 0)
    page = kept.client.get("/plan/allocate").text
    assert "bin-2 to quillmere-24-3, tonnes, settled" in page
    taken(kept, "/plan/allocate/back")
    again = planned(kept)
    assert again["settled"] == []
    assert again["answer"]["objective"] == pytest.approx(before["answer"]["objective"])
    taken(kept, "/plan/allocate/forth")
    assert planned(kept)["settled"][0]["tonnes"] == 200
    taken(kept, "/plan/allocate/draws", bin="bin-2", to="quillmere-24-3", tonnes="")
    assert planned(kept)["settled"] == []


def test_draws_that_leave_no_plan_show_what_would_have_to_give_way(kept):
    # A low bin settled into a contract with a floor: the floor cannot hold any more.
    taken(kept, "/plan/allocate/draws", bin="bin-5", to="quillmere-24-3", tonnes="270")
    found = planned(kept)["answer"]
    assert found["ended"] == "infeasible"
    assert ("pin", "bin-5") in [(r["kind"], r["bin"]) for r in found["relaxations"]]
    page = kept.client.get("/plan/allocate").text
    assert "No plan keeps everything that is asked." in page
    assert 'data-let-go="bin-5"' in page
    assert kept.client.get("/plan/allocate/loading-sheet.pdf").status_code == 404


def test_the_reasons_stand_beside_the_plan_as_sentences(kept):
    until = time.monotonic() + 60
    while "still being worked out" in (page := kept.client.get("/plan/allocate").text) or (
        "Looking for a plan" in page
    ):
        assert time.monotonic() < until
    for said in (
        "more than the rule of thumb",
        "It is predicted to read",
        "make it at the lab that decides (91\u00a0%)",
        "Aim here: 318\u00a0s",
        "one more tonne in it would bring",
        "With one bin fewer the best plan brings",
        "Proven: no plan brings more.",
        "bin-6 to quillmere-24-3, dunveth-24-11, sallowbeck-24-1: at the floor",
    ):
        assert said in page, said


def test_the_loading_sheet_is_a_page_and_a_paper(kept):
    page = kept.client.get("/plan/allocate/loading-sheet").text
    assert "Stop if it reads under 300\u00a0s." in page
    assert "520\u00a0t in 20 loads of 26\u00a0t" in page
    for size in ("a4", "letter"):
        paper = kept.client.get(f"/plan/allocate/loading-sheet.pdf?paper={size}")
        assert paper.headers["content-type"] == "application/pdf"
        assert paper.content.startswith(b"%PDF-")


# --- the cargo ---


def test_a_sublot_and_its_result_move_the_figures_and_can_be_taken_back(kept):
    before = api(kept, "plan/loadout")
    assert [b["number"] for b in before["bands"]][:2] == [6, 7]
    taken(kept, "/plan/loadout/results", number="6", seconds="319")
    after = api(kept, "plan/loadout")
    assert after["running"][5]["result_s"] == 319
    assert after["bands"][0]["number"] == 7
    assert after["forecast"]["odds"] != before["forecast"]["odds"]
    taken(kept, "/plan/loadout/sublots", tonnes="500", shares="1:70 2:30")
    assert api(kept, "plan/loadout")["sublots"][-1] == {
        "number": 8, "tonnes": 500, "shares": {"1": 0.7, "2": 0.3}, "result_s": None
    }  # fmt: skip
    taken(kept, "/plan/loadout/taken-back", number="8", reason="typed for another vessel")
    assert [s["number"] for s in api(kept, "plan/loadout")["sublots"]] == [1, 2, 3, 4, 5, 6, 7]
    taken(kept, "/plan/loadout/sublots", tonnes="400", shares="1")
    assert api(kept, "plan/loadout")["sublots"][-1]["number"] == 8
    assert kept.records.verify().holds


def test_a_replay_shows_only_what_was_known_then(kept):
    page = kept.client.get("/plan/loadout?step=3").text
    assert "step 3 of 12: sublot 3 loaded" in page
    assert "none tested yet" in page
    assert "loaded, not yet tested" not in page
    later = kept.client.get("/plan/loadout?step=4").text
    assert "sublot 1: 318\u00a0s" in later
    assert "1 tested, 2 not yet" in later
    for odd in ("0", "999", "x", "-1", ""):
        assert kept.client.get("/plan/loadout", params={"step": odd}).status_code == 200


# --- what is refused, and where ---

TRUCK = {"ticket": "9100", "tonnes": "24"}
WRONG = [
    ("/plan/receive/trucks", {**TRUCK, "ticket": ""}, "ticket", "ticket-empty"),
    ("/plan/receive/trucks", {**TRUCK, "ticket": "7400"}, "ticket", "load-known"),
    ("/plan/receive/trucks", {**TRUCK, "ticket": "a/b"}, "ticket", "ticket-odd-sign"),
    ("/plan/receive/trucks", {**TRUCK, "tonnes": ""}, "tonnes", "amount-empty"),
    ("/plan/receive/trucks", {**TRUCK, "tonnes": "2b"}, "tonnes", "entry-no-number"),
    ("/plan/receive/trucks", {**TRUCK, "tonnes": "0"}, "tonnes", "amount-odd"),
    ("/plan/receive/trucks", {**TRUCK, "tonnes": "2400"}, "tonnes", "truck-heavy"),
    ("/plan/receive/trucks", {**TRUCK, "field": "x" * 61}, "field", "entry-too-long"),
    ("/plan/receive/trucks", {**TRUCK, "variety": "x" * 61}, "variety", "entry-too-long"),
    ("/plan/receive/trucks", {**TRUCK, "to_come": "1.5"}, "to_come", "count-odd"),
    ("/plan/receive/trucks/7513/number", {"seconds": "2b7"}, "seconds", "seconds-unread"),
    ("/plan/receive/trucks/7513/number", {"seconds": "29"}, "seconds", "result-outside"),
    ("/plan/receive/trucks/none/number", {"seconds": "290"}, "ticket", "load-unknown"),
    ("/plan/receive/trucks/7513/dumped", {"bin": "9"}, "bin", "entry-no-choice"),
    ("/plan/receive/trucks/7400/dumped", {"bin": "1"}, "ticket", "load-lies"),
    ("/plan/receive/mode", {"mode": "sometimes"}, "mode", "entry-no-choice"),
    ("/plan/receive/mode", {"mode": "composite", "composite_of": "1"}, "composite_of", "composite-odd"),
    ("/plan/receive/site", {"text": " "}, "site", "plan-text-empty"),
    ("/bins", {"bin": "1"}, "bin", "bin-known"),
    ("/bins", {"bin": ""}, "bin", "ticket-empty"),
    ("/bins", {"bin": "x", "capacity_t": "much"}, "capacity_t", "entry-no-number"),
    ("/bins/in", {"bin": "9", "ticket": "n", "tonnes": "1"}, "bin", "entry-no-choice"),
    ("/bins/in", {"bin": "1", "ticket": "7400", "tonnes": "1"}, "ticket", "load-lies"),
    ("/bins/in", {"bin": "1", "ticket": "n", "tonnes": "-4"}, "tonnes", "entry-no-number"),
    ("/bins/in", {"bin": "1", "ticket": "n", "tonnes": "4", "seconds": "x"}, "seconds", "seconds-unread"),
    ("/bins/in", {"bin": "1", "ticket": "n", "tonnes": "4", "u_s": "x"}, "u_s", "entry-no-number"),
    ("/bins/moved", {"bin": "1", "to": "1", "tonnes": "4"}, "to", "bin-same"),
    ("/bins/moved", {"bin": "1", "to": "2", "tonnes": "9999"}, "tonnes", "bin-holds-less"),
    ("/bins/turned", {"bin": ""}, "bin", "entry-no-choice"),
    ("/bins/out", {"bin": "5", "tonnes": "300"}, "tonnes", "bin-holds-less"),
    ("/bins/corrections", {"movement": "m1", "tonnes": "4"}, "reason", "reason-empty"),
    ("/bins/corrections", {"movement": "m0", "tonnes": "4", "reason": "r"}, "movement", "movement-unknown"),
    ("/plan/allocate/draws", {"bin": "x", "to": "pellanor-spot", "tonnes": "1"}, "bin", "entry-no-choice"),
    ("/plan/allocate/draws", {"bin": "bin-1", "to": "x", "tonnes": "1"}, "to", "entry-no-choice"),
    ("/plan/allocate/draws", {"bin": "bin-1", "to": "pellanor-spot", "tonnes": "1,2,3"}, "tonnes",
     "entry-no-number"),
    ("/plan/allocate/draws", {"bin": "bin-1", "to": "pellanor-spot", "tonnes": "411"}, "tonnes",
     "pin-more-than-there"),
    ("/plan/allocate/draws", {"bin": "bin-6", "to": "quillmere-24-3", "tonnes": "10"}, "tonnes",
     "pin-barred"),
    ("/plan/allocate/time", {"time_s": "0"}, "time_s", "amount-odd"),
    ("/plan/allocate/time", {"time_s": "9999"}, "time_s", "plan-time-odd"),
    ("/plan/allocate/back", {}, "plan", "plan-no-step"),
    ("/plan/allocate/problem", {"text": ""}, "problem", "plan-text-empty"),
    ("/plan/loadout/sublots", {"tonnes": "", "shares": "1"}, "tonnes", "amount-empty"),
    ("/plan/loadout/sublots", {"tonnes": "500", "shares": ""}, "shares", "shares-unread"),
    ("/plan/loadout/sublots", {"tonnes": "500", "shares": "9"}, "shares", "entry-no-choice"),
    ("/plan/loadout/sublots", {"tonnes": "5000", "shares": "1"}, "tonnes", "sublot-more-than-cargo"),
    ("/plan/loadout/sublots", {"tonnes": "500", "shares": "1", "number": "7"}, "number", "sublot-known"),
    ("/plan/loadout/sublots", {"tonnes": "500", "shares": "1", "number": "x"}, "number",
     "sublot-number-odd"),
    ("/plan/loadout/results", {"number": "99", "seconds": "300"}, "number", "sublot-unknown"),
    ("/plan/loadout/results", {"number": "6", "seconds": ""}, "seconds", "seconds-unread"),
    ("/plan/loadout/taken-back", {"number": "6"}, "reason", "reason-empty"),
    ("/plan/loadout/cargo", {"text": ""}, "cargo", "plan-text-empty"),
]  # fmt: skip


def test_what_is_wrong_is_told_at_its_field_and_nothing_is_written(kept):
    with kept.records.view() as view:
        before = view.head()
    amiss = []
    for path, body, field, code in WRONG:
        answer = kept.enter(path, **body)
        said = answer.json()
        found = [(f["where"].get("field"), f["code"]) for f in said["findings"]]
        if answer.status_code != 422 or said["taken"] or (field, code) not in found:
            amiss.append((path, body, answer.status_code, found))
        amiss += [f for f in said["findings"] if not (f["wrong"] and f["do"])]
    assert amiss == []
    with kept.records.view() as view:
        assert view.head() == before


def test_a_file_with_a_fault_is_not_kept_and_says_where(lab):
    for path, text, word in (
        ("/plan/allocate/problem", PLAN.replace("tonnes = 410", "tonnes = yes"), "terms-unreadable"),
        ("/plan/receive/site", SITE.replace("loads = 300", "loads = 0"), "terms-key-range"),
        ("/plan/loadout/cargo", CARGO.replace('"destination"', '"elsewhere"'), "terms-key-choice"),
    ):
        answer = lab.enter(path, text=text, name="mine.toml")
        assert answer.status_code == 422, answer.text
        assert answer.json()["findings"], word
    assert lab.client.get("/api/v1/plan/allocate").status_code == 404


def test_who_may_not_plan_is_told_who_may(lab):
    from lodestarch.work.people.staff import add_staff

    assert add_staff(lab.records, "Ben Example", ["analyst"], "", person=PERSON, at=lab.clock()) == ()
    lab.sign_in("Ben Example")
    answer = lab.enter("/plan/allocate/problem", text=PLAN, name="plan.toml")
    assert answer.status_code == 403
    assert "merchant" in answer.json()["detail"]


def test_the_invented_site_says_that_it_is_invented(kept):
    for path in ("/plan/receive", "/plan/loadout", "/plan/allocate"):
        assert "Demonstration, invented data" in kept.client.get(path).text


def test_a_bin_that_gave_more_than_it_held_is_told_and_taken(kept):
    answer = kept.enter("/plan/loadout/sublots", tonnes="700", shares="3")
    assert answer.status_code == 201
    again = kept.enter("/plan/loadout/sublots", tonnes="700", shares="3")
    assert [f["code"] for f in again.json()["findings"]] == ["sublot-overdraws"]
    assert "more was drawn than it held" in kept.client.get("/plan/loadout").text
