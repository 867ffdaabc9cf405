"""A ticket's way over the bench: every arrow one use case, each entry exactly once."""

from __future__ import annotations

import pytest

from lodestarch.records.tables import Lowering, Moisture, PageEntry, Sample
from lodestarch.work.bench.choices import LIMITS, choose
from lodestarch.work.bench.correcting import Correction, ReadingKey, correct, judge_now, set_aside
from lodestarch.work.bench.entered import IdTaken
from lodestarch.work.bench.kept_days import kept_days, load_day
from lodestarch.work.bench.lowering import Lowered, lower, raise_lost
from lodestarch.work.bench.preparing import Ground, MoistureTyped, grind, measure, weigh
from lodestarch.work.bench.reading_in import QuickLine, ReadingsTyped, quick_line, read_in
from lodestarch.work.bench.receiving import Arrival, receive
from lodestarch.work.bench.state import bench_now
from lodestarch.work.office.tickets_answer import answer
from lodestarch.work.office.tickets_one import ticket_whole
from lodestarch.work.office.tickets_release import release_by_chemist, release_by_rule
from lodestarch.work.people.permissions import NotAllowed


def state(lab, code="8814"):
    return ticket_whole(lab.records, code)


def codes(entered):
    return [f.code for f in entered.findings]


def test_a_ticket_goes_from_station_to_station(lab):
    assert lab.do(receive, Arrival("8814", whose="Thornhollow Farm")).taken
    assert (state(lab).ticket.station, state(lab).ticket.whose) == ("grind", "Thornhollow Farm")
    assert bench_now(lab.records, at=lab.at()).next.what == "grind"
    assert lab.do(grind, "8814", Ground(ground_mass_g="300")).taken
    assert state(lab).ticket.station == "moisture"
    assert lab.do(measure, "8814", MoistureTyped("12,0")).taken
    ticket = state(lab).ticket
    assert (ticket.station, ticket.portion.mass_g) == ("weigh", 6.7)
    assert codes(lab.do(weigh, "8814", "1", "6.70")) == []
    assert codes(lab.do(weigh, "8814", "2", "7.10")) == ["portion-outside-band"]
    assert lab.do(weigh, "8814", "2", "6.72 g").taken
    assert [p.mass_g for p in state(lab).ticket.weighed] == [6.70, 6.72]
    assert bench_now(lab.records, at=lab.at()).next.what == "lower"
    assert lab.do(lower, "8814", Lowered("A")).taken
    now = bench_now(lab.records, at=lab.at())
    assert now.baths[0].tickets == ("8814",)
    assert now.next.what == "wait"
    assert bench_now(lab.records, at=lab.at()).next.what == "read"
    assert codes(lab.do(lower, "8814", Lowered("B"))) == ["ticket-in-bath"]
    assert lab.do(read_in, "8814", ReadingsTyped({"1": "287"})).taken
    assert state(lab).ticket.result is None, "the other tube is still in the bath"
    assert lab.do(read_in, "8814", ReadingsTyped({"2": "291"})).taken
    ticket = state(lab).ticket
    assert (ticket.station, ticket.result["seconds"], ticket.result["status"]) == (
        "judge",
        289,
        "preliminary",
    )
    assert [(r["mass_g"], r["bath"], r["moisture_pct"]) for r in ticket.readings] == [
        (6.70, "A", 12.0), (6.72, "A", 12.0)
    ]  # fmt: skip
    entered, count = lab.do(release_by_rule)
    assert entered.taken
    assert count == 1
    assert state(lab).ticket.station == "released"
    assert bench_now(lab.records, at=lab.at()).tickets == ()
    assert lab.records.verify().holds


def test_ticket_moisture_and_two_readings_in_one_line(lab):
    entered = lab.do(quick_line, QuickLine("8815", "14.0", ("<=62", "64")))
    assert entered.taken
    result = state(lab, "8815").ticket.result
    assert (result["tubes"], result["status"]) == (2, "preliminary")
    day = load_day(lab.records, kept_days(lab.records)[0].day_id)
    assert day.title == "Bench, 2026-07-14"
    assert (day.counts.samples, day.counts.readings) == (1, 2)
    assert day.results["seconds"].to_list() == [result["seconds"]]


@pytest.mark.parametrize(
    ("line", "code", "field"),
    [
        (QuickLine("", "14", ("287",)), "ticket-empty", "ticket"),
        (QuickLine("8" * 41, "14", ("287",)), "ticket-too-long", "ticket"),
        (QuickLine("88/14", "14", ("287",)), "ticket-odd-sign", "ticket"),
        (QuickLine("8814", "1,4,0", ("287",)), "entry-no-number", "moisture_pct"),
        (QuickLine("8814", "140", ("287",)), "value-illegal", "moisture_pct"),
        (QuickLine("8814", "14", ("2b7",)), "seconds-unread", "seconds"),
        (QuickLine("8814", "14", ("", " ")), "seconds-none", "seconds"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_nothing_is_written(lab, line, code, field):
    entered = lab.do(quick_line, line)
    assert not entered.taken
    assert [(f.code, f.where.field) for f in entered.findings] == [(code, field)]
    with lab.records.view() as view:
        assert view.all(Sample) == []
        assert view.all(Moisture) == []
        assert view.all(PageEntry) == []


def test_an_entry_sent_again_is_taken_once_and_another_under_its_id_never(lab):
    sent = lab.sent("one")
    line = QuickLine("8814", "14", ("287", "291"))
    first, second = lab.do(quick_line, line, sent=sent), lab.do(quick_line, line, sent=sent)
    assert (first.taken, first.again, second.taken, second.again) == (True, False, True, True)
    assert second.sample == "8814"
    assert len(state(lab).ticket.readings) == 2
    with pytest.raises(IdTaken):
        lab.do(quick_line, line, sent=lab.sent("one", body="1"))
    with lab.records.view() as view:
        assert len(view.all(Moisture)) == 1


def test_a_pair_that_disagrees_is_held_and_a_fresh_pair_settles_it(lab):
    lab.do(quick_line, QuickLine("8814", "14", ("250", "330")))
    ticket = state(lab).ticket
    assert ticket.result["status"] == "held"
    assert ticket.keeps == ("held",)
    assert codes(lab.do(release_by_chemist, "8814", "good enough")) == ["release-held"]
    assert lab.do(quick_line, QuickLine("8814", "", ("287", "291"))).taken
    ticket = state(lab).ticket
    assert (ticket.result["status"], ticket.result["seconds"]) == ("preliminary", 289)
    assert {r["run"] for r in ticket.readings} == {"2026-07-14", "2026-07-14 no. 2"}


def test_a_slip_is_put_right_with_its_reason_and_stays_to_be_seen(lab):
    lab.do(quick_line, QuickLine("8814", "14", ("287", "2910")))
    assert state(lab).ticket.result["status"] == "held"
    key = ReadingKey("2026-07-14", "2")
    assert codes(lab.do(correct, "8814", key, Correction(seconds="291"))) == ["reason-empty"]
    typed = Correction(seconds="291", reason="one nought too many; the print says 291")
    assert lab.do(correct, "8814", key, typed).taken
    whole = state(lab)
    assert whole.ticket.result["seconds"] == 289
    assert [r["seconds"] for r in whole.earlier] == [2910]
    assert any(c.reason and "nought" in c.reason for c in whole.changes)
    assert lab.records.verify().holds


def test_a_reading_is_set_aside_only_with_its_cause(lab):
    lab.do(quick_line, QuickLine("8814", "14", ("287", "150")))
    key = ReadingKey("2026-07-14", "2")
    assert codes(lab.do(set_aside, "8814", key, "bad luck", "")) == ["cause-empty"]
    assert codes(lab.do(set_aside, "8814", key, "other", "")) == ["reason-empty"]
    assert codes(lab.do(set_aside, "8814", ReadingKey("x", "9"), "lumps", "")) == ["reading-unknown"]
    assert lab.do(set_aside, "8814", key, "lumps", "").taken
    ticket = state(lab).ticket
    assert ticket.result["set_aside"] == 1
    assert ticket.result["status"] == "held"


def test_one_tube_screens_and_wants_its_second_only_near_a_step(lab):
    with lab.records.unit("Ann Example", lab.at()) as unit:
        choose(unit, LIMITS, [{"name": "Quillmere", "at_least_s": 300.0, "at_most_s": None}])
    for code, seconds in (("8814", "291"), ("8815", "390")):
        lab.do(receive, Arrival(code))
        lab.do(measure, code, MoistureTyped("14"))
        assert lab.do(lower, code, Lowered("A", tubes=1)).taken
        assert lab.do(read_in, code, ReadingsTyped({"1": seconds})).taken
    near, far = state(lab, "8814").ticket, state(lab, "8815").ticket
    assert near.result["status"] == far.result["status"] == "screen"
    assert (near.near_step_s, far.near_step_s) == (300.0, None)
    assert near.keeps == ("one-tube",)
    assert bench_now(lab.records, at=lab.at()).next.ticket == "8814"
    assert codes(lab.do(release_by_chemist, "8815", "")) == ["release-reason"]
    assert lab.do(release_by_chemist, "8815", "far from every step").taken


def test_a_tube_that_gave_nothing_is_taken_out_and_the_other_judged(lab):
    lab.do(receive, Arrival("8814"))
    lab.do(lower, "8814", Lowered("A"))
    assert codes(lab.do(judge_now, "8814")) == ["readings-none"]
    lab.do(read_in, "8814", ReadingsTyped({"1": "287"}))
    assert codes(lab.do(raise_lost, "8814", " ")) == ["reason-empty"]
    assert lab.do(raise_lost, "8814", "tube broke").taken
    assert codes(lab.do(raise_lost, "8814", "again")) == ["ticket-not-in-bath"]
    assert lab.do(judge_now, "8814").taken
    with lab.records.view() as view:
        assert sorted(one.ended for one in view.all(Lowering)) == ["lost", "read"]
    assert state(lab).ticket.result["status"] == "screen"


def test_what_is_read_out_is_kept_with_who_asked(lab):
    lab.do(quick_line, QuickLine("8814", "14", ("287", "291")))
    assert codes(lab.do(answer, "8814", "", "phone")) == ["asked-by-empty"]
    assert lab.do(answer, "8814", "Thornhollow Farm", "phone").taken
    lab.do(release_by_rule)
    assert lab.do(answer, "8814", "thornhollow farm", "text").taken
    said = state(lab).answers
    assert [(s.whom, s.how) for s in said] == [("Thornhollow Farm", "phone"), ("Thornhollow Farm", "text")]
    assert said[0].said.endswith("preliminary")
    assert said[1].said.endswith("released")
    with lab.records.view() as view:
        (issued,) = view.issued_from("8814")
    assert len(issued.copies) == 1


def test_a_correction_after_the_release_wants_another_release_with_a_reason(lab):
    lab.do(quick_line, QuickLine("8814", "14", ("287", "291")))
    lab.do(release_by_rule)
    typed = Correction(seconds="281", reason="read from the wrong line")
    assert lab.do(correct, "8814", ReadingKey("2026-07-14", "1"), typed).taken
    assert state(lab).ticket.station == "judge"
    assert codes(lab.do(release_by_chemist, "8814", "")) == ["release-reason"]
    assert lab.do(release_by_chemist, "8814", "reading corrected").taken
    assert state(lab).ticket.station == "released"


def test_who_may_not_is_refused_and_nothing_is_written(lab):
    with lab.records.unit("Ann Example", lab.at()) as unit:
        unit.add_person("Rec Eiver", ("receiver",))
    assert lab.do(receive, Arrival("8814"), person="Rec Eiver").taken
    for use_case, *parts in (
        (measure, "8814", MoistureTyped("14")),
        (quick_line, QuickLine("8814", "14", ("287",))),
        (release_by_chemist, "8814", ""),
        (release_by_rule,),
    ):
        with pytest.raises(NotAllowed):
            lab.do(use_case, *parts, person="Rec Eiver")
    assert state(lab).ticket.moisture is None


def test_the_time_of_the_page_is_believed_only_where_it_can_be(lab):
    early = lab.clock().replace(year=2020)
    lab.do(receive, Arrival("8814"), sent=lab.sent(made_at=early))
    now = lab.clock()
    lab.do(receive, Arrival("8815"), sent=lab.sent(made_at=now))
    with lab.records.view() as view:
        assert view.get(Sample, "8814").received_at.startswith("2026-07-14")
        assert view.get(Sample, "8815").received_at.startswith(now.isoformat()[:19])


def test_a_ticket_that_is_known_is_not_received_twice(lab):
    assert lab.do(receive, Arrival("8814")).taken
    assert codes(lab.do(receive, Arrival("8814"))) == ["ticket-known"]
    assert codes(lab.do(receive, Arrival("8815", kind="lorry", mass_g="heavy"))) == [
        "entry-no-choice", "entry-no-number"
    ]  # fmt: skip
    assert codes(lab.do(measure, "9999", MoistureTyped("14"))) == ["ticket-unknown"]
