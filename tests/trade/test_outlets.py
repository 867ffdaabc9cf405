from __future__ import annotations

from datetime import date

import pytest

from lodestarch.demo import terms as demo_terms
from lodestarch.sheets.terms import read_terms
from lodestarch.trade.haul import fee_of_test, haul_of
from lodestarch.trade.money_unit import MoneyUnit
from lodestarch.trade.outlets import Grain, Stands, outlets_of
from lodestarch.trade.terms import DeliveryPoint
from trade.made import INVENTED

WHEAT = Grain("wheat", "soft white", {"moisture_pct": 13.0})
DAY = date(2024, 8, 21)


def made(change=lambda text: text, grain=WHEAT, on=DAY):
    read = read_terms(change(demo_terms().decode()).encode(), "terms.toml")
    return outlets_of(read.terms, grain, on)


def codes(found):
    return [(f.code, f.values.get("reason")) for f in found.findings]


def test_contracts_stand_before_bids_with_room_haul_and_lab():
    got = made()
    assert [o.is_contract for o in got.outlets] == [True, True, True, False]
    mill = got.outlets[0]
    assert mill.room_t == 520.0
    assert mill.haul.per_t == pytest.approx(22 * 4.10 / 26.0)
    assert (mill.deciding.sd_s, mill.deciding.u_bias_s) == (11.0, 5.0)
    assert mill.limit.low_report_s == 299.5
    assert got.outlets[1].fee == 9.0  # 18, shared
    assert got.outlets[3].decides_here
    assert codes(got) == []


def test_offers_of_another_class_or_that_have_ended_are_left_out():
    assert [o.offer_id for o in made(grain=Grain("wheat", "hard red spring", {})).outlets] == [
        "pellanor-spot"
    ]
    assert made(grain=Grain("rye", None, {})).outlets == ()
    assert "pellanor-spot" not in [o.offer_id for o in made(on=date(2024, 9, 5)).outlets]


def test_a_window_that_opens_later_is_marked():
    got = made(on=date(2024, 8, 16))
    later = {o.offer_id: o.opens_on for o in got.outlets if o.stands is Stands.LATER}
    assert later == {"sallowbeck-24-1": date(2024, 8, 20), "pellanor-spot": date(2024, 8, 19)}


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda t: t.replace("freight = 4.10\n", "", 1).replace('freight_unit = "USD/mi"\n', "", 1),
         "price-freight-missing"),
        (lambda t: t.replace('test_fee_unit = "USD/test"', 'test_fee_unit = "USD/load"'), "price-fee-unit"),
        (lambda t: t.replace("price = 6.31", ""), "price-missing"),
        (lambda t: t.replace("valid_from = 2024-08-01", "valid_from = 2024-08-01\nvalid_to = 2024-08-20", 1),
         "price-schedule-out-of-date"),
        (lambda t: t.replace("down_to = 250", "down_to = 260", 1), "price-schedule-unread"),
    ],
)  # fmt: skip
def test_an_offer_that_cannot_be_priced_says_why_and_the_others_are_priced(change, reason):
    got = made(change)
    assert ("price-not-evaluated", reason) in codes(got)
    assert len(got.outlets) == 3


def test_a_lab_of_which_nothing_is_stated_is_told_where_its_report_moves_the_price():
    got = made(lambda t: t.replace("lab_sd_s = 11", ""))
    assert [(f.code, f.values["offer"]) for f in got.findings] == [("price-lab-unknown", "quillmere-24-3")]
    assert got.outlets[0].deciding is None


def test_a_factor_that_is_not_known_is_told():
    got = made(grain=Grain("wheat", "soft white", {}))
    assert [(f.code, f.values["factor"]) for f in got.findings] == [("price-factor-missing", "moisture_pct")]


@pytest.mark.parametrize(
    ("freight", "unit", "per_t"),
    [
        (4.1, MoneyUnit("USD", False, "mi"), 22 * 4.1 / 26.0),
        (2.5, MoneyUnit("USD", False, "km"), 22 * 1.609344 * 2.5 / 26.0),
        (90.0, MoneyUnit("USD", False, "load"), 90.0 / 26.0),
        (10.0, MoneyUnit("USD", True, "bu"), 0.1 * 1000 / 27.2155422),
        (3.5, MoneyUnit("USD", False, "t"), 3.5),
        (0.2, MoneyUnit("USD", False, "cwt"), 0.2 * 1000 / 45.359237),
    ],
)
def test_freight_by_distance_load_and_mass(freight, unit, per_t):
    point = DeliveryPoint("p", "b", "P", 22 * 1.609344, freight, unit, 26.0, INVENTED)
    assert haul_of(point, "wheat").per_t == pytest.approx(per_t)


def test_freight_that_lacks_a_part_is_no_freight():
    mile = MoneyUnit("USD", False, "mi")
    assert haul_of(DeliveryPoint("p", "b", "P", None, 4.1, mile, 26.0, INVENTED), "wheat") is None
    assert haul_of(DeliveryPoint("p", "b", "P", 30.0, 4.1, mile, None, INVENTED), "wheat") is None
    assert haul_of(DeliveryPoint("p", "b", "P", 30.0, None, None, 26.0, INVENTED), "wheat") is None


def test_the_fee_is_the_sellers_part():
    terms = read_terms(demo_terms(), "t").terms
    buyer = terms.buyer("dunveth")
    offer = terms.contracts[1]
    assert fee_of_test(buyer, offer) == 9.0
    assert fee_of_test(terms.buyer("quillmere"), terms.contracts[0]) == 0.0
