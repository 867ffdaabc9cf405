"""Two labs, and a third."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.decide.referee import (
    HowRun,
    LabResult,
    Party,
    PaysRule,
    RefereeRule,
    Verdict,
    critical_difference,
    referee,
)

ALIKE = HowRun("14", 2, "none", 1010.0, 7.0)


def lab(value: float, how: HowRun = ALIKE, n: int = 1) -> LabResult:
    return LabResult(value, how, n)


def test_ninety_five_of_a_hundred_pairs_keep_the_critical_difference():
    rng = np.random.default_rng(1)
    s_r, s_R, n = 6.0, 11.0, 500_000
    between = np.sqrt(s_R**2 - s_r**2)
    first = between * rng.standard_normal(n) + s_r / np.sqrt(2) * rng.standard_normal(n)
    second = between * rng.standard_normal(n) + s_r * rng.standard_normal(n)
    kept = np.abs(first - second) <= critical_difference(s_r, s_R, 2, 1)
    assert kept.mean() == pytest.approx(0.95, abs=4 * 0.22 / np.sqrt(n))


def test_within_the_limit_the_mean_stands():
    got = referee(lab(310.0), lab(292.0), 6.0, 10.0, third_s=300.0, rule=RefereeRule.MEDIAN)
    assert (got.verdict, got.final_s, got.needs_third, got.pays) == (Verdict.AGREE, 301.0, False, None)
    assert got.p_larger == pytest.approx(0.203, abs=1e-3)


def test_beyond_it_a_third_is_wanted_and_decides():
    open_one = referee(lab(320.0), lab(280.0), 6.0, 10.0)
    assert (open_one.verdict, open_one.needs_third, open_one.final_s) == (Verdict.DIFFER, True, None)
    finals = {
        rule: referee(lab(320.0), lab(280.0), 6.0, 10.0, third_s=288.0, rule=rule).final_s
        for rule in RefereeRule
    }
    assert finals == {
        RefereeRule.REFEREE_FINAL: 288.0,
        RefereeRule.MEAN_OF_THREE: 296.0,
        RefereeRule.MEDIAN: 288.0,
        RefereeRule.MEAN_WITH_NEARER: 284.0,
    }
    with pytest.raises(NoAnswer):
        referee(lab(320.0), lab(280.0), 6.0, 10.0, third_s=288.0)


@pytest.mark.parametrize(
    ("third", "pays"), [(288.0, Party.FIRST), (315.0, Party.SECOND), (300.0, Party.BOTH)]
)
def test_who_was_farther_pays(third, pays):
    rule = RefereeRule.MEAN_WITH_NEARER
    got = referee(lab(320.0), lab(280.0), 6.0, 10.0, third_s=third, rule=rule)
    assert got.pays is pays
    if pays is Party.BOTH:
        assert got.final_s == 300.0


def test_runs_that_are_not_alike():
    as_is = referee(lab(310.0), lab(280.0, HowRun("as-is", 2, "none", 1010.0, 7.0)), 6.0, 10.0)
    assert as_is.verdict is Verdict.NOT_COMPARABLE
    assert as_is.final_s is None
    assert [(f.code, f.values["what"]) for f in as_is.findings] == [("referee-not-alike", "basis")]
    high = HowRun("14", 1, "by-instrument", 905.0, 7.0)
    told = referee(lab(310.0), lab(300.0, high), 6.0, 10.0)
    assert {f.values["what"] for f in told.findings} == {"tubes", "corrected"}
    assert told.verdict is Verdict.AGREE
    plain = referee(lab(310.0), lab(300.0, HowRun("14", 2, "none", 905.0, 7.0)), 6.0, 10.0)
    assert [f.code for f in plain.findings] == ["referee-pressures"]
    unknown = referee(lab(310.0, HowRun()), lab(300.0), 6.0, 10.0)
    assert {f.code for f in unknown.findings} == {"referee-not-stated"}


@pytest.mark.parametrize("args", [(6.0, 0.0), (12.0, 10.0), (-1.0, 10.0), (6.0, 10.0, 0, 1)])
def test_what_makes_no_sense_is_refused(args):
    with pytest.raises(OutOfRange):
        critical_difference(*args)


@pytest.mark.parametrize(
    ("paid_by", "pays"),
    [
        (PaysRule.LOSER, Party.FIRST),
        (PaysRule.SHARED, Party.BOTH),
        (PaysRule.FIRST, Party.FIRST),
        (PaysRule.SECOND, Party.SECOND),
    ],
)
def test_who_was_agreed_to_pay(paid_by, pays):
    """320 and 280 s, a third of 288 s: the first lab lies farther."""
    rule = RefereeRule.MEDIAN
    got = referee(lab(320.0), lab(280.0), 6.0, 10.0, third_s=288.0, rule=rule, paid_by=paid_by)
    assert got.pays is pays
    assert referee(lab(301.0), lab(300.0), 6.0, 10.0, paid_by=paid_by).pays is None
