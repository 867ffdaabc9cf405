"""The sentence on top of a day."""

from __future__ import annotations

from dataclasses import fields

from lodestarch.common.findings import Finding, Severity
from lodestarch.method.day_counts import DayCounts
from lodestarch.words.day import day_sentence


def counts(**given: int) -> DayCounts:
    return DayCounts(**{f.name: given.get(f.name, 0) for f in fields(DayCounts)})


STOP = Finding("no-standing-reading", severity=Severity.STOP)
NOTE = Finding("at-floor", severity=Severity.NOTE, values={"floor_s": 62.0})


def test_what_waits_comes_first():
    day = counts(stand=50, at_floor=3, screen=2, run_again=4, no_result=1, samples=60)
    said = day_sentence(day, [STOP, STOP, NOTE])
    assert said.waiting == "5 of 60 samples are waiting: 4 to run again and 1 without a reading that counts."
    assert said.rest == "50 stand, 3 at the floor, 2 with one tube only."
    assert said.queries == "2 queries to settle first."


def test_one_is_singular():
    said = day_sentence(counts(stand=1, run_again=1, samples=2), [STOP])
    assert said.waiting == "1 of 2 samples is waiting to be run again."
    assert said.queries == "1 query to settle first."


def test_one_kind_of_waiting_needs_no_list():
    assert day_sentence(counts(run_again=5, samples=9), []).waiting == (
        "5 of 9 samples are waiting to be run again."
    )
    assert day_sentence(counts(no_result=2, samples=9), []).waiting == (
        "2 of 9 samples are waiting: none of their readings counts."
    )


def test_a_quiet_day_and_an_empty_one():
    assert str(day_sentence(counts(stand=3, samples=3), [NOTE])) == (
        "Nothing is waiting: every sample has its result. 3 stand. No query to settle first."
    )
    assert str(day_sentence(counts(), [])) == "No sample on this sheet yet."
