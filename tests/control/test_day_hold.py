"""What failed checks hold, by bath and mill, over days."""

from __future__ import annotations

from datetime import datetime, timedelta

import polars as pl
import pytest

from lodestarch.control.check_outcomes import CHECK_OUTCOMES
from lodestarch.control.day_hold import LOWERINGS, day_hold, mark_held
from lodestarch.method.table import RESULTS, conform

SIX = datetime(2031, 8, 1, 6, 0)  # noqa: DTZ001 - the bench's own clock


def lowered(*rows: tuple[str, str | None, str | None, float | None]) -> pl.DataFrame:
    """Sample, bath, mill, hours after six."""
    body = [
        (s, f"T{s}", bath, mill, None if h is None else SIX + timedelta(hours=h), "")
        for s, bath, mill, h in rows
    ]
    return pl.DataFrame(body, schema=LOWERINGS, orient="row")


def outcomes(*rows: tuple[str, str]) -> pl.DataFrame:
    body = [(s, "CM", None, 220.0, 220.0, 0, 2, 220.0, 0.0, outcome) for s, outcome in rows]
    return pl.DataFrame(body, schema=CHECK_OUTCOMES, orient="row")


DAY = lowered(
    ("good", "A", None, 0), ("one", "A", None, 1), ("elsewhere", "B", None, 1.5), ("two", "A", None, 2),
    ("off", "A", None, 3), ("after", "A", None, 4), ("again", "A", None, 5), ("safe", "A", None, 6),
)  # fmt: skip


def test_results_between_the_good_checks_of_that_bath_are_held_in_order_of_time():
    found = day_hold(DAY, outcomes(("good", "good"), ("off", "off"), ("again", "good")), {})
    assert [h.sample for h in found.held] == ["one", "two", "after"]
    assert {h.checks for h in found.held} == {("off",)}
    assert found.failed == ("off",)


def test_a_cause_lifts_the_hold_and_a_cause_for_a_good_check_is_a_finding():
    checks = outcomes(("good", "good"), ("off", "off"))
    found = day_hold(DAY, checks, {"off": "bath low, refilled", "good": "no reason"})
    assert found.held == ()
    assert found.cleared == (("off", "bath low, refilled"),)
    assert {f.code for f in found.findings} == {"hold-cleared", "hold-clears-nothing"}
    assert day_hold(DAY, checks, {"off": "  "}).held != ()


def test_a_check_ground_here_speaks_for_its_mill_in_every_bath():
    rows = lowered(
        ("good", "A", "M1", 0), ("mine", "B", "M1", 1), ("other", "B", "M2", 1), ("off", "A", "M1", 2)
    )
    found = day_hold(rows, outcomes(("good", "good"), ("off", "off")), {})
    assert [h.sample for h in found.held] == ["mine"]


def test_without_a_good_check_before_the_doubt_reaches_back_and_is_said():
    found = day_hold(DAY, outcomes(("off", "off")), {})
    assert [h.sample for h in found.held] == ["good", "one", "two", "after", "again", "safe"]
    assert [f.code for f in found.findings] == ["hold-no-good-before"]


@pytest.mark.parametrize("missing", ["bath", "time"])
def test_a_result_that_cannot_be_shown_to_lie_outside_is_held(missing):
    stray = ("stray", None, None, 1.0) if missing == "bath" else ("stray", "A", None, None)
    rows = pl.concat([DAY, lowered(stray)])
    found = day_hold(rows, outcomes(("good", "good"), ("off", "off"), ("again", "good")), {})
    assert "stray" in [h.sample for h in found.held]
    assert ("hold-time-missing" in {f.code for f in found.findings}) == (missing == "time")


def test_a_check_whose_own_pair_disagrees_neither_holds_nor_frees():
    held = day_hold(DAY, outcomes(("good", "good"), ("off", "off"), ("again", "unsettled")), {}).held
    assert [h.sample for h in held] == ["one", "two", "after", "safe"]
    assert day_hold(DAY, outcomes(("good", "good"), ("off", "unsettled")), {}).held == ()


def test_held_results_of_this_sheet_have_no_estimate_and_others_stay():
    found = day_hold(DAY, outcomes(("good", "good"), ("off", "off")), {})
    results = conform(
        pl.DataFrame(
            {"sample": ["one", "elsewhere"], "status": ["preliminary"] * 2, "tubes": [2, 2],
             "estimate_s": [280.0, 281.0], "estimate_u_s": [4.0, 4.0]}
        ),
        RESULTS,
    )  # fmt: skip
    marked = mark_held(results, found)
    assert marked["status"].to_list() == ["held", "preliminary"]
    assert marked["estimate_s"].to_list() == [None, 281.0]
