"""Every rule of law with a case that fires and a near miss that does not."""

from __future__ import annotations

from datetime import date

import pytest

from lodestarch.common.errors import UnknownName
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.law import (
    JURISDICTIONS,
    LawEffect,
    LawLot,
    Mixing,
    law_of,
    law_on_lot,
    law_on_mix,
    lots_for_mixing,
)

AFTER, BEFORE = date(2024, 7, 1), date(2024, 6, 30)


def lot(material="wheat", heated=False, **factors):
    return LawLot("a", material, factors, heated)


OTHER = LawLot("b", "wheat", {"don_mg_kg": 0.1, "aflatoxin_ug_kg": 1.0, "t2_ht2_ug_kg": 1.0})
FACTOR_CASES = {
    # rule: (jurisdiction, use, day, fires, near miss)
    "us-aflatoxin": ("US", "food", AFTER, lot(aflatoxin_ug_kg=20.1), lot(aflatoxin_ug_kg=20.0)),
    "us-aflatoxin-blend": ("US", "feed", AFTER, lot(aflatoxin_ug_kg=20.1), lot(aflatoxin_ug_kg=20.0)),
    "us-aflatoxin-feed": ("US", "feed", AFTER, lot(aflatoxin_ug_kg=20.1), lot(aflatoxin_ug_kg=20.0)),
    "us-don": ("US", "food", AFTER, lot(don_mg_kg=1.01), lot(don_mg_kg=1.0)),
    "us-don-feed": ("US", "feed", AFTER, lot(don_mg_kg=5.1), lot(don_mg_kg=4.9)),
    "eu-don": ("EU", "food", AFTER, lot(don_mg_kg=1.01), lot("durum", don_mg_kg=1.01)),
    "eu-don-before": ("EU", "food", BEFORE, lot(don_mg_kg=1.26), lot(don_mg_kg=1.24)),
    "eu-don-oats": ("EU", "food", AFTER, lot("oats", don_mg_kg=1.76), lot("oats", don_mg_kg=1.74)),
    "eu-don-durum": ("EU", "food", AFTER, lot("durum", don_mg_kg=1.51), lot("durum", don_mg_kg=1.5)),
    "eu-t2-ht2": ("EU", "food", AFTER, lot(t2_ht2_ug_kg=51.0), lot("barley", t2_ht2_ug_kg=51.0)),
    "eu-t2-ht2-barley": (
        "EU", "food", AFTER, lot("barley", t2_ht2_ug_kg=151.0), lot("barley", t2_ht2_ug_kg=149.0)),
    "eu-mixing": ("EU", "food", AFTER, lot(don_mg_kg=1.01), lot(don_mg_kg=1.0)),
    "eu-mixing-t2": ("EU", "food", AFTER, lot(t2_ht2_ug_kg=51.0), lot(t2_ht2_ug_kg=50.0)),
    "gb-don": ("GB", "food", AFTER, lot(don_mg_kg=1.26), lot(don_mg_kg=1.25)),
    "gb-don-durum": ("GB", "food", AFTER, lot("durum", don_mg_kg=1.8), lot("durum", don_mg_kg=1.7)),
    "heat-disclosed": ("AU", "food", AFTER, lot(heated=True), lot()),
}  # fmt: skip
ACT_CASES = {
    # rule: (jurisdiction, lots, forbidden, near miss)
    "us-kinds": ("US", (lot(), LawLot("b", "rye")), Mixing(), Mixing(declared_mixed_grain=True)),
    "us-readd": ("US", (lot(), OTHER), Mixing(added=("dockage",)), Mixing(added=("oil",))),
    "us-water": ("US", (lot(), OTHER), Mixing(added=("water",)), Mixing(added=("water",), purpose="milling")),
    "eu-detox": (
        "EU",
        (lot(don_mg_kg=0.2), OTHER),
        Mixing(added=("chemical detoxification",)),
        Mixing(added=("heat",)),
    ),
}


def met(verdicts):
    return {v.rule.id for v in verdicts}


def test_every_rule_has_its_cases():
    every = {r.id for j in JURISDICTIONS for r in law_of(j)}
    assert every == set(FACTOR_CASES) | set(ACT_CASES)


@pytest.mark.parametrize("rule", FACTOR_CASES)
def test_a_rule_fires_and_its_near_miss_does_not(rule):
    jurisdiction, use, on, fires, miss = FACTOR_CASES[rule]
    assert rule in met(law_on_lot(fires, jurisdiction, use, on))
    assert rule not in met(law_on_lot(miss, jurisdiction, use, on))


@pytest.mark.parametrize("rule", ACT_CASES)
def test_an_act_is_forbidden_and_its_near_miss_is_not(rule):
    jurisdiction, lots, forbidden, allowed = ACT_CASES[rule]
    assert rule in met(law_on_mix(lots, jurisdiction, forbidden))
    assert rule not in met(law_on_mix(lots, jurisdiction, allowed))


def test_blending_the_same_kind_to_adjust_quality_is_permitted():
    assert law_on_mix([lot(), OTHER], "US") == ()


def test_what_exceeds_is_left_out_before_anything_is_averaged():
    """The mean of the two would lie under the limit: 0.65 mg/kg."""
    bad = LawLot("bad", "wheat", {"don_mg_kg": 1.2})
    left, barred = lots_for_mixing([bad, OTHER], "EU", on=AFTER)
    assert [x.id for x in left] == ["b"]
    assert met(barred) == {"eu-don", "eu-mixing"}


def test_a_lot_by_itself_meets_no_rule_on_mixing():
    bad = LawLot("bad", "wheat", {"don_mg_kg": 1.2})
    assert met(law_on_mix([bad], "EU", on=AFTER)) == {"eu-don"}


def test_what_was_not_confirmed_never_excludes():
    for jurisdiction in JURISDICTIONS:
        for rule in law_of(jurisdiction):
            if rule.provenance.value == "recalled":
                assert rule.effect in {LawEffect.WARN, LawEffect.NO_BLEND}, rule.id
            assert rule.source
            assert rule.factor is None or rule.factor in FACTORS


def test_an_unknown_value_meets_no_rule_and_an_unknown_jurisdiction_is_named():
    assert law_on_lot(lot(), "EU") == ()
    with pytest.raises(UnknownName, match="EU"):
        law_of("XX")
