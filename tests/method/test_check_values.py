"""Derived and recalled check values: code against its formula, and against memory.

Published ones are in ``tests/outside``.
"""

from __future__ import annotations

import pytest

from lodestarch.method.bath import pressure_from_elevation_hpa
from lodestarch.method.blend import Lot, blend, share_to_reach
from lodestarch.method.correction import Correction, corrected_s
from lodestarch.method.judge import range_factor
from lodestarch.method.portion import portion_mass_g
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profile
from method.support import own, table

ROWS = {r["id"]: r for r in table("method_checks.csv")}
ELSEWHERE = {"retest", "mass5g", "slope300"}
"""Rows on sampling of trucks and on the slope by mass, which this room does not compute."""
RULES = {
    "A": "meal-15",
    "B": own("meal-15", portion_rule="dry-matter"),
    "C": own("meal-14", portion_rule="dry-matter"),
    "D": "meal-14",
    "A9": "rye-9g",
}


def wanted(key):
    return pytest.approx(float(ROWS[key]["expected"]), abs=float(ROWS[key]["tolerance"]))


def mass(key):
    rule, moisture = ROWS[key]["input"].split()
    profile = RULES[rule]
    constants = (shipped_profile(profile) if isinstance(profile, str) else profile).constants
    return portion_mass_g(float(moisture), constants, rounded=False)


def mixed(key):
    lots = [Lot(*(float(x) for x in part.split(":"))) for part in ROWS[key]["input"].split()]
    return blend(lots, cap_s=None, censoring=False).seconds_s


def test_every_row_has_a_known_provenance_and_is_used_here_or_named_as_belonging_elsewhere():
    here = {k for k, r in ROWS.items() if r["provenance"] != "published"} - ELSEWHERE
    assert here == {*DERIVED_BLENDS, *DERIVED_MASSES, "share300", "r2pct", "oldelev", "print640", "print820"}
    assert {r["provenance"] for r in ROWS.values()} == {"published", "derived", "recalled"}


DERIVED_BLENDS = ("blend1x", "blend2", "blend3", "blend4", "blend5")
DERIVED_MASSES = ("massA9", "massA9b", "massA12", "massB10", "massC10", "massC12", "massD12")


@pytest.mark.parametrize("key", DERIVED_BLENDS)
def test_derived_blends(key):
    assert mixed(key) == wanted(key)


@pytest.mark.parametrize("key", DERIVED_MASSES)
def test_derived_masses(key):
    assert mass(key) == wanted(key)


def test_derived_share_that_reaches_300():
    low, high, target = (float(x) for x in ROWS["share300"]["input"].split())
    assert share_to_reach(target, high, low).share_low == wanted("share300")


def test_derived_repeatability_limit_at_two_per_cent():
    assert round(range_factor(2), 2) * DEFAULT_SCATTER.sd_s(300.0) == wanted("r2pct")


def test_recalled_first_row_of_the_printed_table_fits_rule_a_and_not_rule_b():
    assert mass("print640") == wanted("print640")
    assert mass("print820") == wanted("print820")
    assert round(mass("print640") / 0.05) * 0.05 == pytest.approx(6.40)
    assert round(mass("print820") / 0.05) * 0.05 == pytest.approx(8.20)
    by_b = portion_mass_g(9.0, RULES["B"].constants, rounded=False)
    assert by_b == pytest.approx(6.538, abs=0.001)
    assert round(by_b / 0.05) * 0.05 != pytest.approx(6.40)


def test_recalled_elevation_rule_works_as_an_entered_form():
    entered = Correction("log-linear-elevation", (4.209093e-6,), "recalled, for this test alone")
    assert corrected_s(300.0, pressure_from_elevation_hpa(914.4), entered) == wanted("oldelev")
    assert corrected_s(300.0, 1013.25, entered) == pytest.approx(300.0)
