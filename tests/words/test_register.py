"""A line a sample, and what may be shown of them."""

from __future__ import annotations

import polars as pl
import pytest

from lodestarch.words.drawing.strip import strip_title
from lodestarch.words.findings import lacking
from lodestarch.words.register import (
    FILTERS,
    filtered,
    floor_of,
    ln_text,
    reading_state,
    register,
    strip_marks,
)
from web.example_day import LIMITS, empty_day, example_day

DAY = example_day()
LINES = {line.name: line for line in register(DAY)}


def test_every_sample_has_one_line_in_the_order_of_the_sheet():
    assert list(LINES) == DAY.results["sample"].to_list()
    assert register(empty_day()) == ()


@pytest.mark.parametrize(
    ("name", "outcome", "seconds", "waits"),
    [
        ("8801", "stands", "246", False),
        ("8805", "at the floor", "≤\u00a062", False),
        ("8810", "run again", "291", True),
        ("8815", "run again", "319", True),
        ("8821", "stands", ">\u00a0400", False),
        ("8829", "one tube", "301", False),
    ],
)
def test_lines_say_what_became_of_a_sample(name, outcome, seconds, waits):
    line = LINES[name]
    assert (line.outcome_words, line.seconds, line.waits) == (outcome, seconds, waits)


def test_a_held_result_shows_no_uncertainty():
    assert LINES["8815"].u == "–"
    assert LINES["8801"].u == "3"


def test_check_samples_are_named_and_loads_go_without_saying():
    assert (LINES["8808"].kind, LINES["8801"].kind) == ("check sample", "")


def test_a_line_counts_queries_but_not_notes():
    assert LINES["8810"].queries == 1
    assert LINES["8805"].queries == 0
    assert "2910" in LINES["8810"].query


def test_the_parts_of_a_register_add_up():
    heights = {which: filtered(DAY, which).height for which in FILTERS}
    assert heights["all"] == DAY.counts.samples
    assert heights["waiting"] == DAY.counts.run_again + DAY.counts.no_result
    assert heights["stand"] == DAY.counts.stand
    assert 0 < heights["queries"] < heights["all"]
    assert register(DAY, filtered(DAY, "waiting")) == tuple(x for x in LINES.values() if x.waits)


def test_liquefaction_numbers_carry_no_digit_that_u_does_not_allow():
    row = {"ln": 25.316, "u_s": 7.0, "kind": 0, "ln_low": None, "ln_high": None}
    assert ln_text(row) == "25.3"
    assert ln_text(row | {"u_s": 15.0}) == "25"
    assert ln_text(row | {"ln": 27.02, "u_s": None}) == "27.0"
    assert ln_text(row | {"ln": None, "kind": 1, "ln_low": 500.0}) == "≥\u00a0500"
    assert ln_text(row | {"ln": None, "kind": 2, "ln_high": 17.142}) == "<\u00a017.1"
    assert ln_text(row | {"ln": None}) == "–"


def test_states_of_readings_are_words():
    states = {reading_state(r) for r in DAY.readings.iter_rows(named=True)}
    assert states == {"stands", "run again", "set aside: stirrer hung up"}


def test_marks_leave_out_check_samples_and_what_is_held():
    marks = strip_marks(DAY, "/days/x/samples/{sample}")
    names = {m.name for m in marks}
    assert names.isdisjoint({"8808", "8810", "8815"})
    assert len(marks) == DAY.counts.samples - DAY.counts.run_again - DAY.counts.no_result - 3
    assert {m.href for m in marks if m.name == "8801"} == {"/days/x/samples/8801"}
    assert floor_of(DAY) == 62.0


def test_addresses_of_odd_sample_names_are_quoted():
    odd = DAY.results.with_columns(pl.lit("a/b ?#").alias("sample"))[:1]
    day = type("Day", (), {"results": odd, "samples": DAY.samples})
    assert strip_marks(day, "/s/{sample}")[0].href == "/s/a%2Fb%20%3F%23"


def test_the_title_of_the_picture_states_what_it_shows():
    title = strip_title(strip_marks(DAY), LIMITS)
    reach = sum(m.seconds >= 300 for m in strip_marks(DAY))
    assert title.startswith(f"{reach} of 51 results read 300 s or more (Quillmere);")


def test_every_finding_of_the_day_has_all_the_values_its_sentence_names():
    assert {f.code: lacking(f) for f in DAY.findings if lacking(f)} == {}
