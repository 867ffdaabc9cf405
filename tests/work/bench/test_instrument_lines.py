"""Lines heard: kept as they came in any case, readings where a tube in a bath is meant."""

from __future__ import annotations

import pytest

from lodestarch.work.bench.instrument_lines import (
    LineTyped,
    describe_line,
    hear,
    heard_lately,
    lines_described,
    try_pattern,
)
from lodestarch.work.bench.lowering import Lowered, lower
from lodestarch.work.bench.receiving import Arrival, receive
from lodestarch.work.office.tickets_one import ticket_whole

PATTERN = "No {ticket} T{position}: {seconds} s"


@pytest.fixture
def bench(lab):
    assert lab.do(describe_line, LineTyped("bench one", PATTERN)).taken
    assert lab.do(receive, Arrival("8814")).taken
    assert lab.do(lower, "8814", Lowered("A")).taken
    return lab


def readings(lab, code="8814"):
    return {r["position"]: r["seconds"] for r in ticket_whole(lab.records, code).ticket.readings}


def test_a_pair_comes_in_by_the_line_and_is_judged(bench):
    assert bench.do(hear, "bench one", "No 8814 T2:  291 s").sample == "8814"
    assert ticket_whole(bench.records, "8814").ticket.station == "bath"
    assert bench.do(hear, "bench one", "No 8814 T1:  287 s").sample == "8814"
    ticket = ticket_whole(bench.records, "8814").ticket
    assert readings(bench) == {"1": 287.0, "2": 291.0}
    assert ticket.result["mean_s"] == 289.0
    assert [h.text for h in heard_lately(bench.records)] == ["No 8814 T1:  287 s", "No 8814 T2:  291 s"]
    assert bench.records.verify().holds


def test_the_same_line_sent_again_counts_once(bench):
    sent = bench.sent("one-line")
    assert bench.do(hear, "bench one", "No 8814 T1: 287 s", sent=sent).again is False
    assert bench.do(hear, "bench one", "No 8814 T1: 287 s", sent=sent).again is True
    assert len(heard_lately(bench.records)) == 1


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("self test passed", "heard-unread"),
        ("", "heard-unread"),
        ("No 9999 T1: 287 s", "heard-no-ticket"),
        ("No 8814 T3: 287 s", "heard-no-tube"),
        ("No 8814 T1: 2b7 s", "heard-seconds"),
    ],
)
def test_a_line_that_is_no_reading_is_kept_as_it_came(bench, text, code):
    entered = bench.do(hear, "bench one", text)
    assert entered.taken
    assert [f.code for f in entered.findings] == [code]
    (kept,) = heard_lately(bench.records)
    assert (kept.text, kept.sample) == (text, None)
    assert readings(bench) == {}


def test_a_line_of_a_tube_that_is_read_already_changes_nothing(bench):
    bench.do(hear, "bench one", "No 8814 T1: 287 s")
    again = bench.do(hear, "bench one", "No 8814 T1: 300 s")
    assert [f.code for f in again.findings] == ["heard-no-tube"]
    assert readings(bench) == {"1": 287.0}


def test_a_line_without_position_is_of_the_first_tube_in_the_bath(bench):
    bench.do(describe_line, LineTyped("bench two", "{ticket} {seconds}"))
    bench.do(hear, "bench two", "8814 287")
    bench.do(hear, "bench two", "8814 >400")
    assert readings(bench) == {"1": 287.0, "2": 400.0}


def test_a_mass_alone_is_kept_and_nothing_else(bench):
    bench.do(describe_line, LineTyped("balance", "ST,+ {mass_g} g"))
    assert [f.code for f in bench.do(hear, "balance", "ST,+  6.95 g").findings] == ["heard-waits"]
    assert heard_lately(bench.records)[0].read == {"mass_g": "6.95"}


@pytest.mark.parametrize(
    ("name", "pattern", "code"),
    [("", PATTERN, "line-name"), ("x" * 41, PATTERN, "line-name"), ("a", "{x}", "pattern-field")],
)
def test_what_cannot_be_described_is_said(lab, name, pattern, code):
    entered = lab.do(describe_line, LineTyped(name, pattern))
    assert (entered.taken, [f.code for f in entered.findings]) == (False, [code])


def test_a_line_that_nobody_described_is_not_taken(lab):
    entered = lab.do(hear, "bench one", "No 8814 T1: 287 s")
    assert (entered.taken, entered.findings[0].code) == (False, "line-unknown")


def test_an_empty_pattern_takes_a_line_away(lab):
    lab.do(describe_line, LineTyped("bench one", PATTERN))
    assert [one.name for one in lines_described(lab.records)] == ["bench one"]
    lab.do(describe_line, LineTyped("bench one", " "))
    assert lines_described(lab.records) == ()


def test_trying_keeps_nothing(lab):
    tried, found = try_pattern(PATTERN, "No 8814 T1: 287 s\n\nself test\n")
    assert found == ()
    assert [one.read for one in tried] == [{"ticket": "8814", "position": "1", "seconds": "287"}, None]
    assert try_pattern("{x}", "a")[1][0].code == "pattern-field"
