"""Outcomes that would be unsafe to give out are held, and each says why."""

from __future__ import annotations

import pytest

from lodestarch.common.findings import NOWHERE, Severity
from lodestarch.method.correction import Correction, correction_findings
from lodestarch.method.reading import State
from lodestarch.method.shipped import shipped_profile
from method.support import codes, day, group, own, row, said, states, tubes

CORRECTING = {"correction_form": "proportional", "correction_coefficients": "0.009"}


def severity_of(judged, code):
    (finding,) = [f for f in judged.findings if f.code == code]
    return finding.severity


def test_a_correction_is_not_made_where_nobody_says_what_the_instrument_did():
    profile = own("meal-14", **CORRECTING)
    judged = day(*tubes("300", "304", pressure_hpa=950.0), profile=profile)
    assert row(judged)["status"] == "held"
    assert row(judged)["correction"] == "not stated"
    assert row(judged)["mean_s"] == 302.0
    assert severity_of(judged, "correction-not-stated") is Severity.STOP


def test_a_correction_is_made_where_the_instrument_made_none():
    profile = own("meal-14", **CORRECTING)
    judged = day(*tubes("300", "304", pressure_hpa=950.0, corrected_by_instrument=False), profile=profile)
    # Derived: proportional form, 302 (1 + 0.009 (95.0 - 101.325)).
    assert row(judged)["mean_s"] == pytest.approx(302 * (1 + 0.009 * (95.0 - 101.325)))
    assert "correction-not-stated" not in [f.code for f in judged.findings]


def test_a_moisture_that_the_method_does_not_cover_holds_the_result():
    judged = day(*tubes("300", "304", moisture_pct=17.0, mass_g=7.0), profile=shipped_profile("meal-14"))
    assert row(judged)["status"] == "held"
    assert severity_of(judged, "moisture-above-method") is Severity.STOP
    as_is = day(*tubes("300", "304", moisture_pct=17.0, mass_g=7.0), profile=shipped_profile("as-is"))
    assert row(as_is)["status"] == "preliminary"


def test_a_bound_well_above_the_floor_does_not_count():
    judged = day(*tubes("<=200", "204"), profile=shipped_profile("meal-14"))
    assert states(judged)[0] == (State.RUN_AGAIN, "bound-above-floor")
    assert row(judged)["status"] == "held"
    assert severity_of(judged, "bound-above-floor") is Severity.STOP
    assert "at-floor" not in codes(judged)
    other_floor = day(*tubes("<=64", "<=64"), profile=shipped_profile("meal-14"))
    assert "bound-above-floor" not in codes(other_floor)


def test_nobody_can_test_until_it_passes_under_fresh_pair_alone():
    alone = own("meal-15", disagreement_rule="fresh-pair-alone")
    # A pair that agreed counts with every later one; a pair that disagreed gives way.
    assert said(group("270", "274", "302", "306", profile=alone, runs=[1, 1, 2, 2])) == "preliminary 288"
    assert said(group("250", "310", "302", "306", profile=alone, runs=[1, 1, 2, 2])) == "preliminary 304"


def test_what_a_rule_leaves_out_does_not_read_as_standing():
    alone = own("meal-15", disagreement_rule="fresh-pair-alone")
    first = tubes("250", "310", run="1")
    second = [{**t, "position": f"2{t['position']}", "run": "2"} for t in tubes("302", "306")]
    judged = day(*first, *second, profile=alone)
    assert row(judged)["seconds"] == 304.0
    left = (State.SET_ASIDE, "left-out-by-rule")
    assert states(judged) == [left, left, (State.STANDS, None), (State.STANDS, None)]


def test_a_correction_three_times_the_published_size_stops_a_profile():
    # Published: more than 30 units at 3,000 ft, level not stated (Delwiche 2019).
    def size(c):
        return {f.code: f.severity for f in correction_findings(Correction("proportional", (c,)), NOWHERE)}

    assert size(0.0095) == {}
    assert size(0.025) == {"correction-size": Severity.CHECK}
    assert size(0.05) == {"correction-size": Severity.STOP}


def test_a_bare_id_means_the_version_in_force():
    newer = own("meal-15", agreement_limits=((0.0, 1.0),))
    judged = day(
        *tubes("300", "310", profile="meal-15"),
        profile=shipped_profile("meal-15"),
        profiles={"meal-15": newer},
    )
    assert row(judged)["profile"] == newer.name
