"""Units of the trade, each against its source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.trade.grain_units import (
    PROTEIN_BASES,
    TEST_WEIGHT,
    mass_at_moisture,
    protein_at,
    water_shrink_pct,
    weight_by_volume,
    weight_by_volume_back,
)
from lodestarch.trade.money_unit import MoneyUnit, amount_per_tonne, kg_in


@pytest.mark.parametrize(
    ("grain", "kg", "per_t"),
    [
        ("wheat", 27.2155, 36.7437),
        ("rye", 25.4012, 39.3683),
        ("maize", 25.4012, 39.3683),
        ("barley", 21.7724, 45.9296),
        ("oats", 14.5150, 68.8945),
    ],
)
def test_bushels_are_masses(grain, kg, per_t):
    """Legal weights read in a secondary copy; conversions derived."""
    assert kg_in("bu", grain) == pytest.approx(kg, abs=6e-5)
    assert 1000.0 / kg_in("bu", grain) == pytest.approx(per_t, abs=6e-5)


def test_a_dollar_by_bushel_and_by_hundredweight():
    assert amount_per_tonne(1.0, MoneyUnit("USD", False, "bu"), "wheat") == pytest.approx(36.74, abs=5e-3)
    assert amount_per_tonne(25.0, MoneyUnit("USD", True, "bu"), "wheat") == pytest.approx(9.19, abs=5e-3)
    assert amount_per_tonne(10.0, MoneyUnit("USD", False, "cwt"), None) == pytest.approx(220.462, abs=5e-4)
    assert amount_per_tonne(1.0, MoneyUnit("USD", False, "bu"), "triticale") is None
    assert amount_per_tonne(1.0, MoneyUnit("USD", False, "mi"), "wheat") is None


@pytest.mark.parametrize(
    ("convention", "given_value", "value", "provenance"),
    [
        ("us-wheat", 60.0, 78.94, Provenance.SECONDARY_COPY),  # FGIS-PN-97-5 as reprinted
        ("arithmetic", 60.0, 77.23, Provenance.DERIVED),
        ("us-durum", 60.0, 78.15, Provenance.RECALLED),
        ("ca-wheat", 380.0, 77.9327, Provenance.PUBLISHED),  # Canadian Grain Commission
        ("ca-durum", 380.0, 77.5172, Provenance.PUBLISHED),
        ("ca-rye", 350.0, 72.0516, Provenance.PUBLISHED),
        ("ca-avery", 78.0, 62.55, Provenance.PUBLISHED),
        ("ca-winchester", 380.0, 58.976, Provenance.PUBLISHED),
    ],
)
def test_test_weight_by_every_convention(convention, given_value, value, provenance):
    assert weight_by_volume(given_value, convention) == pytest.approx(value, abs=6e-3)
    assert TEST_WEIGHT[convention].provenance is provenance


def test_the_arithmetic_line_is_a_pound_over_a_winchester_bushel():
    litres = 35.23907017  # 2150.42 cubic inches of 16.387064 mL
    assert TEST_WEIGHT["arithmetic"].per == pytest.approx(0.45359237 / litres * 100.0, abs=5e-5)


@given(st.sampled_from(sorted(TEST_WEIGHT)), st.floats(30.0, 500.0))
def test_test_weight_there_and_back(convention, value):
    assert weight_by_volume_back(weight_by_volume(value, convention), convention) == pytest.approx(value)


def test_an_unknown_convention_is_named():
    with pytest.raises(UnknownName, match="us-wheat"):
        weight_by_volume(60.0, "us")


def test_protein_bases_of_the_markets():
    assert {k: b.moisture_pct for k, b in PROTEIN_BASES.items()} == {
        "us-wheat": 12.0, "us-flour": 14.0, "eu": 0.0, "au": 11.0, "ca": 13.5,
    }  # fmt: skip
    assert PROTEIN_BASES["ca"].provenance is Provenance.RECALLED
    assert protein_at(12.0, 12.0, 0.0) == pytest.approx(13.636, abs=5e-4)
    assert protein_at(protein_at(11.4, 13.5, 0.0), 0.0, 13.5) == pytest.approx(11.4)


def test_shrink_by_the_point():
    """1.183 % drying to 15.5 %, 1.156 % to 13.5 % (derived)."""
    assert water_shrink_pct(16.5, 15.5) == pytest.approx(1.183, abs=5e-4)
    assert water_shrink_pct(14.5, 13.5) == pytest.approx(1.156, abs=5e-4)
    assert water_shrink_pct(14.5, 13.5, handling_pct=0.5) == pytest.approx(1.656, abs=5e-4)


def test_overdrying_as_an_extension_sheet_counts_it():
    """Wheat sold at 10.5 instead of 13.5 % loses about 12 ct/bu at 3.50 (NDSU Extension, secondary copy)."""
    gained = mass_at_moisture(1.0, 10.5, 13.5) - 1.0
    assert 3.50 * gained / (1.0 + gained) * (100 - 10.5) / (100 - 13.5) == pytest.approx(0.1214, abs=5e-4)
    assert pytest.approx(0.117, abs=5e-4) == 3.50 * 3.0 / 89.5


@pytest.mark.parametrize("call", [(16.0, 17.0), (100.0, 12.0), (-1.0, -2.0)])
def test_shrink_outside_its_range_is_refused(call):
    with pytest.raises(OutOfRange):
        water_shrink_pct(*call)
