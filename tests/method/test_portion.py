from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Severity, Where
from lodestarch.method.portion import RULES, moisture_findings, portion, portion_mass_g, wall_table
from lodestarch.method.profile_fields import FIELDS
from lodestarch.method.shipped import shipped_profile, shipped_profiles
from method.support import own, table

WIDE = {"moisture_min_pct": 8.0, "moisture_max_pct": 18.0}
RULE = {
    "A": own("meal-15", **WIDE),
    "B": own("meal-15", portion_rule="dry-matter", **WIDE),
    "C": own("meal-14", portion_rule="dry-matter", **WIDE),
    "D": own("meal-14", **WIDE),
    "A9": own("rye-9g", **WIDE),
}
"""The candidate rules under the letters of the check values, over the moistures that these cover."""

ROWS = ((9.0, 6.40), (12.0, 6.70), (15.0, 7.00))
PASTED = own("meal-15", portion_rule="table", portion_table=ROWS)


@pytest.mark.parametrize("row", table("method_portions.csv"), ids=lambda r: f"{r['M_pct']} %")
@pytest.mark.parametrize("rule", RULE)
def test_derived_mass_columns(rule, row):
    mass = portion_mass_g(float(row["M_pct"]), RULE[rule].constants, rounded=False)
    assert mass == pytest.approx(float(row[rule]), abs=0.0005001)


@pytest.mark.parametrize("rule", ["A", "B"])
def test_derived_columns_rounded_to_a_twentieth_of_a_gram(rule):
    rounded = own("meal-15", portion_rule=RULE[rule].constants.portion_rule, portion_step_g=0.05, **WIDE)
    for row in table("method_portions.csv"):
        assert portion_mass_g(float(row["M_pct"]), rounded.constants) == pytest.approx(
            float(row[f"{rule}_r"])
        )


def test_shipped_profiles_use_the_rules_their_titles_say():
    assert portion_mass_g(9.0, shipped_profile("meal-15").constants) == 6.42
    assert portion_mass_g(12.0, shipped_profile("meal-14").constants) == 6.80
    assert portion_mass_g(9.0, shipped_profile("rye-9g").constants) == 8.21
    assert portion_mass_g(12.0, shipped_profile("flour-14").constants) == 6.80


@pytest.mark.parametrize("moisture_pct", [8.0, 11.3, 16.0])
def test_as_is_weighs_the_base_mass_whatever_the_moisture(moisture_pct):
    assert portion_mass_g(moisture_pct, shipped_profile("as-is").constants) == 7.0


@pytest.mark.parametrize(
    "profile", [p for p in shipped_profiles() if p.profile_id != "as-is"], ids=lambda p: p.name
)
def test_at_its_basis_a_profile_weighs_its_base_mass(profile):
    c = profile.constants
    assert portion_mass_g(c.moisture_basis_pct, c) == c.base_mass_g


def test_the_rule_is_dry_matter_to_total_water():
    c = shipped_profile("meal-15").constants
    for moisture_pct in (8.0, 12.0, 16.0):
        mass = portion_mass_g(moisture_pct, c, rounded=False)
        water_in_meal = mass * moisture_pct / 100.0
        # At the basis: 5.95 g of dry matter to 25 mL added and 1.05 g in the meal.
        assert (mass - water_in_meal) / (c.water_ml + water_in_meal) == pytest.approx(5.95 / 26.05, rel=1e-12)


@pytest.mark.parametrize("profile", [*shipped_profiles(), PASTED], ids=lambda p: p.name)
def test_no_mass_is_extrapolated(profile):
    wall = wall_table(profile)
    low, high = wall[0].moisture_pct, wall[-1].moisture_pct
    for moisture_pct in (low - 0.01, high + 0.01, math.nan, math.inf):
        with pytest.raises(OutOfRange) as met:
            portion_mass_g(moisture_pct, profile.constants)
        assert (met.value.low, met.value.high) == (low, high)
        with pytest.raises(OutOfRange):
            portion(moisture_pct, profile)


def test_a_pasted_table_is_read_at_its_rows_and_linearly_between():
    c = PASTED.constants
    for moisture_pct, mass_g in ROWS:
        assert portion_mass_g(moisture_pct, c) == mass_g
    assert portion_mass_g(10.0, c) == 6.50
    assert portion_mass_g(13.5, c) == 6.85
    assert portion_mass_g(np.array([9.0, 10.0, 13.5]), c).tolist() == [6.40, 6.50, 6.85]


def test_a_pasted_table_ends_where_its_rows_end_although_the_window_is_wider():
    assert PASTED.constants.moisture_max_pct == 16.0
    with pytest.raises(OutOfRange, match="legal is 9 to 15"):
        portion_mass_g(15.5, PASTED.constants)
    narrow = own("meal-15", portion_rule="table", portion_table=((5.0, 6.1), (20.0, 7.6)))
    with pytest.raises(OutOfRange, match="legal is 8 to 16"):
        portion_mass_g(17.0, narrow.constants)


def test_a_portion_carries_its_band_and_its_rule():
    p = portion(10.0, shipped_profile("meal-15"))
    assert (p.mass_g, p.low_g, p.high_g) == (6.51, 6.46, 6.56)
    assert p.unrounded_g == pytest.approx(6.510, abs=0.0005)
    assert (p.rule, p.base_mass_g, p.moisture_basis_pct, p.water_ml) == (
        "dry-matter-to-total-water",
        7.0,
        15.0,
        25.0,
    )
    assert p.profile == "meal-15@1"
    assert portion(10.0, shipped_profile("as-is")).moisture_basis_pct is None


def test_rules_are_those_that_a_profile_may_name():
    assert set(RULES) == set(FIELDS["portion_rule"].choices)


@pytest.mark.parametrize("profile", shipped_profiles(), ids=lambda p: p.name)
def test_the_wall_has_a_row_for_every_tenth_of_the_window(profile):
    wall = wall_table(profile)
    assert [p.moisture_pct for p in wall] == [round(8.0 + i / 10.0, 1) for i in range(81)]
    masses = [p.mass_g for p in wall]
    assert masses == sorted(masses)
    assert all(p.low_g < p.mass_g < p.high_g for p in wall)


@pytest.mark.parametrize(("low", "high", "last"), [(8.05, 16.0, 15.95), (8.0, 15.96, 15.9), (9.0, 9.3, 9.3)])
def test_the_wall_stays_inside_a_window_of_any_width(low, high, last):
    wall = wall_table(own("meal-15", moisture_min_pct=low, moisture_max_pct=high))
    assert wall[0].moisture_pct == low
    assert wall[-1].moisture_pct == last


WHERE = Where(field="moisture_pct")


@pytest.mark.parametrize(
    ("moisture_pct", "code"), [(16.1, "moisture-above-method"), (7.9, "moisture-below-method")]
)
def test_outside_the_window_there_is_a_path_instead_of_a_mass(moisture_pct, code):
    (finding,) = moisture_findings(moisture_pct, shipped_profile("meal-14"), WHERE)
    assert (finding.code, finding.severity, finding.where) == (code, Severity.STOP, WHERE)
    assert finding.values == {
        "moisture_pct": moisture_pct,
        "low_pct": 8.0,
        "high_pct": 16.0,
        "profile": "meal-14@1",
    }


def test_inside_the_window_there_is_nothing_to_say():
    assert moisture_findings(8.0, shipped_profile("meal-14"), WHERE) == ()
    assert moisture_findings(16.0, shipped_profile("meal-14"), WHERE) == ()
    assert moisture_findings(8.5, PASTED, WHERE)[0].code == "moisture-below-method"
