"""Schedules and prices from public sources, with their boundaries."""

from __future__ import annotations

import pytest

from lodestarch.common.provenance import Provenance
from lodestarch.sheets.terms import read_terms
from lodestarch.trade.effect import Standing
from lodestarch.trade.net_price import net_prices
from lodestarch.trade.outlets import Grain, outlets_of
from lodestarch.trade.price_curve import price_curve
from lodestarch.trade.schedule_check import schedule_troubles

HISTORICAL = """
terms = 1
currency = "USD"
title = "Historical: crop-insurance factors of 2019"

[[buyer]]
id = "insurance-2019"
name = "Crop insurance, notice of 30 August 2019"
[[delivery_point]]
id = "p"
buyer = "insurance-2019"
name = "none"
freight = 0
freight_unit = "USD/t"
load_t = 20.0

[[schedule]]
id = "historical-2019-fn"
name = "Historical: falling number, wheat, 2019"
factor = "fn_s"
unit = "share"
on_boundary = "better"
stated_to = 1
valid_from = 2019-08-30
source = "crop-insurance agency, notice of 30 August 2019"
provenance = "secondary copy"
  [[schedule.part]]
  shape = "table"
  bands = [
    { from = 275, to = 299, discount = 0.052 },
    { from = 250, to = 274, discount = 0.086 },
    { from = 225, to = 249, discount = 0.121 },
    { from = 200, to = 224, discount = 0.155 },
  ]

[[schedule]]
id = "historical-2019-don"
name = "Historical: DON, 2019"
factor = "don_mg_kg"
unit = "share"
on_boundary = "better"
stated_to = 0.1
source = "crop-insurance agency, second notice"
provenance = "secondary copy"
  [[schedule.part]]
  shape = "table"
  bands = [
    { from = 2.1, to = 3.0, discount = 0.224 },
    { from = 3.1, to = 4.0, discount = 0.310 },
    { from = 4.1, to = 5.0, discount = 0.394 },
    { from = 5.1, to = 10.0, discount = 0.450 },
  ]

[[bid]]
id = "b"
buyer = "insurance-2019"
delivery_point = "p"
material = "wheat"
price = 100.0
price_unit = "USD/t"
schedules = ["historical-2019-fn", "historical-2019-don"]
combine = "additive"
"""


@pytest.fixture(scope="module")
def terms():
    read = read_terms(HISTORICAL.encode(), "historical.toml")
    assert {f.code for f in read.findings} <= {"terms-schedule-open", "terms-clause-missing"}
    return read.terms


def at(terms, seconds, don=None):
    bid = terms.bids[0]
    factors = {} if don is None else {"don_mg_kg": don}
    curve = price_curve(bid, [terms.schedule(s) for s in bid.schedule_ids], factors, "USD").curve
    return float(curve.money.at(seconds)) if curve.standing_at(seconds) is Standing.PAID else None


@pytest.mark.parametrize(
    ("seconds", "factor"),
    [
        (300, 0.0), (299, 0.052), (275, 0.052), (274, 0.086), (250, 0.086), (249, 0.121), (225, 0.121),
        (224, 0.155), (200, 0.155),
    ],
)  # fmt: skip
def test_the_crop_insurance_table_of_2019_at_every_boundary(terms, seconds, factor):
    """Crop-insurance agency, notice of 30 August 2019, read in a secondary copy: not in force."""
    assert at(terms, float(seconds)) == pytest.approx(100.0 * (1.0 - factor))


def test_below_200_the_notice_goes_by_the_actual_price_so_none_is_given(terms):
    assert at(terms, 199.0) is None
    schedule = terms.schedule("historical-2019-fn")
    assert schedule.provenance is Provenance.SECONDARY_COPY
    assert [t.kind for t in schedule_troubles(schedule)] == ["open"]


@pytest.mark.parametrize(
    ("don", "factor"),
    [(2.0, 0.0), (2.1, 0.224), (3.0, 0.224), (3.1, 0.31), (5.0, 0.394), (5.1, 0.45), (10.0, 0.45)],
)
def test_don_factors_of_the_second_notice(terms, don, factor):
    assert at(terms, 310.0, don) == pytest.approx(100.0 * (1.0 - factor))


def test_shares_one_after_the_other(terms):
    """The notice does not let sprout and falling number both be taken; DON is another matter."""
    assert at(terms, 280.0, 2.5) == pytest.approx(100.0 * (1 - 0.052) * (1 - 0.224))


def test_at_a_number_without_a_price_nothing_is_evaluated(terms):
    outlets = outlets_of(terms, Grain("wheat", None, {"don_mg_kg": 0.1}), None).outlets
    got = net_prices(outlets, [180.0, 250.0], 4.0, 20.0, turned_away_per_t=0.0)
    assert got.p_not_stated[0, 0] > 0.99
    assert got.net_per_t[0, 0] != got.net_per_t[0, 0]  # not a number
    assert got.net_per_t[1, 0] == pytest.approx(100.0 * (1 - (0.086 + 0.121) / 2), abs=1.5)


def test_discounts_of_the_northwest_in_2013():
    """About 25 ct/bu for 25 s below 300: Capital Press, 29 August 2013; 9.19 $/t (derived)."""
    text = HISTORICAL.replace(
        'unit = "share"\non_boundary = "better"\nstated_to = 1', 'unit = "ct/bu"\non_boundary = "better"'
    )
    start, end = text.index("  [[schedule.part]]"), text.index('[[schedule]]\nid = "historical-2019-don"')
    steps = '  [[schedule.part]]\n  shape = "steps"\n  below = 300\n  step = 25\n  discount = 25\n\n'
    made = read_terms((text[:start] + steps + text[end:]).encode(), "x").terms
    assert at(made, 300.0) - at(made, 299.0) == pytest.approx(9.19, abs=5e-3)
    assert at(made, 300.0) - at(made, 274.0) == pytest.approx(18.37, abs=5e-3)
