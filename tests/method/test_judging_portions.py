"""Masses and moistures beside the portion that the profile wants."""

from __future__ import annotations

import pytest

from lodestarch.common.findings import Severity
from lodestarch.method.reading import State
from lodestarch.method.shipped import shipped_profile
from method.support import MEAL, codes, day, row, states, tubes


def test_a_mass_off_the_portion_is_run_again():
    judged = day(
        {"sample": "A", "seconds": "287", "position": "1", "moisture_pct": 12.0, "mass_g": 6.80},
        {"sample": "A", "seconds": "310", "position": "2", "moisture_pct": 12.0, "mass_g": 7.20},
    )
    assert states(judged) == [(State.STANDS, None), (State.RUN_AGAIN, "mass-off-portion")]
    assert row(judged)["status"] == "held"
    (finding,) = [f for f in judged.findings if f.code == "mass-off-portion"]
    assert finding.severity is Severity.STOP
    assert finding.values == {
        "mass_g": 7.2,
        "portion_g": 6.8,
        "low_g": pytest.approx(6.75),
        "high_g": pytest.approx(6.85),
        "moisture_pct": 12.0,
    }
    assert judged.readings["portion_g"].to_list() == [6.8, 6.8]


@pytest.mark.parametrize(("mass_g", "stands"), [(6.75, True), (6.85, True), (6.74, False), (6.86, False)])
def test_the_tolerance_includes_its_ends(mass_g, stands):
    judged = day(*tubes("287", "290", moisture_pct=12.0, mass_g=mass_g))
    assert (judged.readings["state"] == State.STANDS.value).all() == stands


def test_portions_of_seven_grams_as_is_are_not_comparable():
    judged = day(*tubes("287", "290", moisture_pct=10.0, mass_g=7.0))
    r = row(judged)
    assert r["comparable_key"] == MEAL.as_is_key != MEAL.comparable_key
    assert r["status"] == "preliminary"
    (finding,) = [f for f in judged.findings if f.code == "portion-as-is"]
    assert (finding.severity, finding.values) == (
        Severity.CHECK,
        {"base_mass_g": 7.0, "portion_g": 6.61, "moisture_pct": 10.0},
    )


def test_seven_grams_at_the_basis_are_both_and_comparable():
    judged = day(*tubes("287", "290", moisture_pct=14.0, mass_g=7.0))
    assert row(judged)["comparable_key"] == MEAL.comparable_key
    assert codes(judged) == []


def test_one_tube_as_is_and_one_by_the_rule_do_not_pair():
    judged = day(
        {"sample": "A", "seconds": "287", "position": "1", "moisture_pct": 10.0, "mass_g": 6.61},
        {"sample": "A", "seconds": "290", "position": "2", "moisture_pct": 10.0, "mass_g": 7.00},
    )
    assert states(judged) == [(State.STANDS, None), (State.RUN_AGAIN, "mass-off-portion")]
    assert (row(judged)["status"], row(judged)["comparable_key"]) == ("held", MEAL.comparable_key)


def test_a_tube_set_aside_does_not_hide_that_the_others_were_weighed_as_is():
    judged = day(
        *tubes("287", "290", moisture_pct=10.0, mass_g=7.0),
        {
            "sample": "A",
            "seconds": "250",
            "position": "3",
            "moisture_pct": 10.0,
            "mass_g": 6.61,
            "set_aside_cause": "lumps",
        },
    )
    assert row(judged)["comparable_key"] == MEAL.as_is_key


def test_the_as_is_profile_takes_seven_grams_and_checks_them_without_a_moisture():
    as_is = shipped_profile("as-is")
    fine = day(*tubes("287", "290", moisture_pct=10.0, mass_g=7.0), profile=as_is)
    assert (codes(fine), row(fine)["comparable_key"]) == ([], as_is.comparable_key)
    assert as_is.comparable_key == as_is.as_is_key
    off = day(*tubes("287", "290", moisture_pct=None, mass_g=6.6), profile=as_is)
    assert codes(off) == ["mass-off-portion", "mass-off-portion"]


def test_findings_on_moisture_carry_the_numbers_of_the_tube_they_are_about():
    judged = day(
        {"sample": "A", "seconds": "287", "position": "1", "moisture_pct": 12.0, "mass_g": 6.8},
        {"sample": "A", "seconds": "290", "position": "2", "moisture_pct": 21.0, "mass_g": 6.8},
    )
    (finding,) = [f for f in judged.findings if f.code == "moisture-above-method"]
    assert (finding.values["moisture_pct"], finding.where.row) == (21.0, 3)


@pytest.mark.parametrize(
    ("moisture_pct", "code"), [(16.5, "moisture-above-method"), (7.5, "moisture-below-method")]
)
def test_a_moisture_outside_the_method_is_told_once_a_sample(moisture_pct, code):
    judged = day(*tubes("287", "290", moisture_pct=moisture_pct))
    assert codes(judged) == [code]
    assert judged.readings["portion_g"].to_list() == [None, None]


def test_a_missing_moisture_is_told_also_when_the_whole_day_lacks_it():
    some = day(*tubes("287", "290"), *tubes("300", "301", sample="B", moisture_pct=None))
    assert codes(some) == ["moisture-missing"]
    assert some.findings[0].where.sample == "B"
    whole = day(*tubes("287", "290", moisture_pct=None), *tubes("300", "301", sample="B", moisture_pct=None))
    assert codes(whole) == ["moisture-missing", "moisture-missing"]


def test_a_day_with_neither_mass_nor_moisture_says_so_once():
    judged = day(
        *tubes("287", "290", moisture_pct=None, mass_g=None),
        *tubes("300", "301", sample="B", moisture_pct=None, mass_g=None),
    )
    (finding,) = [f for f in judged.findings if f.code == "portions-not-stated"]
    assert (finding.values["readings"], finding.severity) == (4, Severity.NOTE)
    assert codes(judged) == []
