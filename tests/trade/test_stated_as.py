"""An offer's own units and bases: protein, test weight, shrink; checked by hand against the definitions."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lodestarch.sheets.terms import read_terms
from lodestarch.trade.offer import StatedAs
from lodestarch.trade.outlets import Grain, outlets_of
from lodestarch.trade.stated_as import factors_there, paid_part

HEAD = (
    'terms = 1\ncurrency = "USD"\n[[buyer]]\nid = "b"\nname = "B"\n'
    '[[delivery_point]]\nid = "p"\nbuyer = "b"\n'
    'name = "P"\nfreight = 0\nfreight_unit = "USD/t"\n'
)
SCHEDULE = (
    '[[schedule]]\nid = "s"\nfactor = "{factor}"\nunit = "USD/t"\non_boundary = "better"\n'
    '[[schedule.part]]\nshape = "steps"\nbelow = {below}\nstep = 1\ndiscount = 10\n'
)
BID = (
    '[[bid]]\nid = "o"\nbuyer = "b"\ndelivery_point = "p"\nprice = 200\nprice_unit = "USD/t"\n'
    "schedules = {used}\n"
)


def price(more="", *, factor="protein_pct", below=12.0, used='["s"]', factors=None, basis=None):
    text = HEAD + SCHEDULE.format(factor=factor, below=below) + BID.format(used=used) + more
    terms = read_terms(text.encode(), "t.toml").terms
    (outlet,) = outlets_of(terms, Grain(None, None, factors or {}, basis)).outlets
    return float(outlet.curve.money.at(300.0)), outlet


def test_protein_is_held_against_the_offers_own_basis():
    """13.6 % of dry matter is 11.968 % at 12 % moisture: one started step below 12."""
    given_dry = {"factors": {"protein_pct": 13.6}, "basis": 0.0}
    assert price("protein_basis_pct = 12\n", **given_dry)[0] == 190.0
    assert price("protein_basis_pct = 0\n", **given_dry)[0] == 200.0
    assert price("protein_basis_pct = 12\n", factors={"protein_pct": 12.0}, basis=12.0)[0] == 200.0


def test_test_weight_by_the_convention_that_the_offer_names():
    """60 lb/bu is 78.94 kg/hl by the United States line for wheat and 77.23 by arithmetic."""
    asked = {"factor": "test_weight_kg_hl", "below": 78.0, "factors": {"test_weight_lb_bu": 60.0}}
    assert price('test_weight_by = "us-wheat"\n', **asked)[0] == 200.0
    assert price('test_weight_by = "arithmetic"\n', **asked)[0] == 190.0
    plain, outlet = price(**asked)
    assert (plain, outlet.missing) == (200.0, ("test_weight_kg_hl",))


def test_wetter_grain_is_paid_for_its_mass_at_the_stated_moisture():
    """16.5 % to 15.5 %: 100 - 100 x 83.5/84.5 = 1.1834 % of water."""
    shrink = "shrink_to_pct = 15.5\n"
    wet = {"used": "[]", "factors": {"moisture_pct": 16.5}}
    assert price(shrink, **wet)[0] == pytest.approx(200.0 * 83.5 / 84.5)
    with_handling = price(shrink + "shrink_handling_pct = 0.5\n", **wet)[0]
    assert with_handling == pytest.approx(200.0 * (83.5 / 84.5 - 0.005))
    assert price(shrink, used="[]", factors={"moisture_pct": 15.5})[0] == 200.0
    unknown, outlet = price(shrink, used="[]")
    assert (unknown, outlet.missing) == (200.0, ("moisture_pct",))


def test_handling_without_the_moisture_that_it_goes_with_is_asked_for():
    text = HEAD + BID.format(used="[]") + "shrink_handling_pct = 0.5\n"
    found = read_terms(text.encode(), "t.toml").findings
    assert [(f.code, f.where.field) for f in found if f.code == "terms-key-missing"] == [
        ("terms-key-missing", "bid o, shrink_to_pct")
    ]


@given(st.floats(5.0, 30.0), st.floats(5.0, 25.0), st.floats(0.0, 10.0))
def test_the_part_that_is_paid_never_rises_with_moisture(moisture, to, handling):
    stated = StatedAs(shrink_to_pct=to, shrink_handling_pct=handling)
    here, wetter = (paid_part({"moisture_pct": m}, stated) for m in (moisture, moisture + 1.0))
    assert 0.0 <= wetter <= here <= 1.0


@given(st.floats(5.0, 20.0), st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_there_and_back_is_the_same_protein(protein, here, there):
    once = factors_there({"protein_pct": protein}, StatedAs(protein_basis_pct=there), here)
    back = factors_there(once, StatedAs(protein_basis_pct=here), there)
    assert back["protein_pct"] == pytest.approx(protein)
