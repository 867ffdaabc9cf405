"""A finding in three short parts."""

from __future__ import annotations

import json

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.words.findings import (
    as_json,
    grouped,
    lacking,
    no_answer,
    sentence,
    severity_word,
    where_text,
)

TENFOLD = Finding(
    "reading-tenfold",
    Where(source="day.csv", row=31, field="seconds", ticket="8814", sample="8814", position="2"),
    Severity.STOP,
    {"seconds": 2910.0, "partner_s": 291.0},
)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_a_query_says_where_what_and_what_to_do():
    text = sentence(TENFOLD)
    assert (text.where, text.place) == ("Ticket 8814, tube 2", "row 31 of day.csv, seconds")
    assert plain(text.wrong) == "2910 s, ten times or a tenth of its partner (291 s)"
    assert text.do.startswith("Look at the instrument's own record")
    assert text.severity is Severity.STOP
    assert plain(str(text)).startswith("Ticket 8814, tube 2 (row 31 of day.csv, seconds): 2910 s, ten times")


def test_places_in_words():
    assert where_text(Where()) == "This day"
    assert where_text(Where(row=4, field="run_at")) == "Row 4, time of the run"
    assert where_text(Where(row=117, run="B-15", field="pressure_hpa")) == "Run B-15"
    assert where_text(Where(source="mine@2", field="floor_s")) == "mine@2, floor"
    assert where_text(Where(ticket="8814", sample="A7")) == "Ticket 8814, sample A7"
    assert where_text(Where(sample="A7", run="2026-08-03", position="1")) == "Sample A7, tube 1"
    assert where_text(Where(sample="A7", run="second", position="1")) == "Sample A7, run second, tube 1"


def test_a_thing_that_no_place_knows_is_named_by_the_catalogue():
    values = {"place_kind": "stirrer", "place": "S4", "difference_s": 9.0, "difference_pct": 3.1, "pairs": 40}
    text = sentence(Finding("place-runs-high", Where(row=80), Severity.CHECK, values))
    assert text.where == "Stirrer S4"
    assert plain(text.wrong) == "reads 9 s (3.1 %) higher than its partners over 40 pairs"


def test_words_stand_for_codes_among_the_values():
    aside = Finding("set-aside", Where(sample="A"), Severity.NOTE, {"seconds": 201.0, "cause": "hang-up"})
    assert plain(sentence(aside).wrong) == "201 s set aside: the stirrer hung up"
    pair = {"readings": "287, 341", "spread_s": 54.0, "limit_s": 31.4, "next": "third-tube"}
    assert sentence(Finding("pair-disagrees", values=pair)).do.startswith("Run a third tube")


def test_a_missing_value_is_a_dash_and_is_told():
    bare = Finding("reading-tenfold", values={"seconds": 2910.0})
    assert lacking(bare) == ("partner_s",)
    assert "(– s)" in plain(sentence(bare).wrong)
    assert lacking(TENFOLD) == ()


def test_queries_that_ask_for_the_same_thing_stand_together_gravest_first():
    note = Finding("at-floor", Where(sample="B"), Severity.NOTE, {"floor_s": 62.0})
    long = Finding(
        "reading-too-long", Where(sample="C"), Severity.STOP, {"seconds": 6000.0, "longest_s": 900.0}
    )
    groups = grouped([note, TENFOLD, long])
    assert [(g.severity, len(g.queries)) for g in groups] == [(Severity.STOP, 2), (Severity.NOTE, 1)]
    assert [q.where for q in groups[0].queries] == ["Ticket 8814, tube 2", "Sample C"]


def test_json_carries_code_words_and_numbers():
    out = as_json(TENFOLD)
    assert list(out) == ["code", "severity", "where", "place", "wrong", "do", "values"]
    assert out["where"] == {
        "source": "day.csv", "row": 31, "field": "seconds",
        "ticket": "8814", "sample": "8814", "position": "2",
    }  # fmt: skip
    infinite = Finding("reading-tenfold", values={"seconds": float("nan"), "partner_s": float("inf")})
    assert json.loads(json.dumps(as_json(infinite), allow_nan=False))["values"] == {
        "seconds": None, "partner_s": None,
    }  # fmt: skip


def test_why_there_is_no_answer():
    text = no_answer(NoAnswer("reach-above-both", target_s=420.0, best_s=400.0))
    assert plain(text.wrong) == "420 s lies above the better lot, which reads 400 s as an ingredient"


def test_every_severity_has_its_heading():
    assert len({severity_word(s) for s in Severity}) == 3
