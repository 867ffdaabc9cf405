from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lodestarch.common.provenance import Provenance
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.money_unit import PER, POUND_KG, POUNDS_PER_BUSHEL, MoneyUnit, parse_money_unit
from lodestarch.trade.schedule import (
    Action,
    Band,
    Cliff,
    Premium,
    Schedule,
    Side,
    Slope,
    Steps,
    Table,
    Window,
    discount_starts,
)
from lodestarch.trade.schedule_check import schedule_troubles

B, A = Side.BELOW, Side.ABOVE


def schedule(*parts, stated_to=0.0):
    return Schedule("s", "s", "fn_s", None, "better", stated_to, parts, None, None, Provenance.INVENTED)


def troubles(*parts, stated_to=0.0):
    found = schedule_troubles(schedule(*parts, stated_to=stated_to))
    return [(t.kind, t.part, t.other, t.low, t.high) for t in found]


def bands(*ends, discounts=None):
    amounts = discounts or [i + 1.0 for i in range(len(ends))]
    return Table(tuple(Band(low, high, discount=d) for (low, high), d in zip(ends, amounts, strict=True)))


@pytest.mark.parametrize(
    "parts",
    [
        (Steps(300, B, 25, 25),),
        (Steps(300, B, 25, 25, end=250), Cliff(250, B, Action.REJECT)),
        (Cliff(250, B, Action.REJECT), Premium(350, A, 5), Steps(300, B, 25, 25, end=250)),
        (Slope(320, B, 0.4, most=30),),
        (Slope(320, B, 0.4, end=300), Slope(300, B, 0.8)),
        (Slope(15, A, 2, per=0.5),),
        (Window(120, 180, Action.DISCOUNT, 40.0),),
        (Window(120, 180, Action.REJECT), Steps(150, B, 5, 1, end=120)),
        (bands((275, 300), (250, 275), (None, 250)),),
        (bands((None, 4), (4, 7), (7, None), discounts=[0.0, 2.0, 4.0]),),
        (bands((275, 300), (250, 275)), Cliff(250, B, Action.REJECT)),
    ],
)
def test_schedules_that_fit(parts):
    assert troubles(*parts) == []


def test_a_published_table_in_whole_seconds_touches_to_one_second():
    """Crop-insurance factors of a year, notice of 30 August 2019, read in a secondary copy."""
    table = bands((275, 299), (250, 274), (225, 249), (200, 224), discounts=[0.052, 0.086, 0.121, 0.155])
    assert troubles(table, stated_to=1) == [("open", "part 1 band 4", "", 200, 200)]
    assert [t[0] for t in troubles(table)] == ["gap", "gap", "gap", "open"]


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        (
            (Steps(300, B, 25, 25, end=260), Cliff(250, B, Action.REJECT)),
            [("gap", "part 2", "part 1", 250, 260)],
        ),
        (
            (Steps(300, B, 25, 25, end=240), Cliff(250, B, Action.REJECT)),
            [("overlap", "part 2", "part 1", 240, 250)],
        ),
        ((Steps(300, B, 25, 25), Steps(280, B, 25, 30)), [("overlap", "part 2", "part 1", -math.inf, 280)]),
        ((Steps(300, B, 25, 25, end=250),), [("open", "part 1", "", 250, 250)]),
        ((Premium(350, A, 5, end=400),), [("open", "part 1", "", 400, 400)]),
        ((Premium(290, A, 5), Steps(300, B, 25, 25)), [("overlap", "part 2", "part 1", 290, 300)]),
        ((Steps(300, B, 25, 25, end=350),), [("order", "part 1", "", 300, 350)]),
        ((Slope(15, A, 2, end=14),), [("order", "part 1", "", 15, 14)]),
        ((Window(180, 120, Action.REJECT),), [("order", "part 1", "", 180, 120)]),
        ((bands((300, 275), (250, 275)),), [("order", "part 1 band 1", "", 300, 275)]),
        (
            (bands((275, 300), (225, 250), (250, 275)),),
            [("sequence", "part 1 band 3", "part 1 band 2", 250, 225)],
        ),
        (
            (bands((275, 300), (250, 270), (None, 250)),),
            [("gap", "part 1 band 2", "part 1 band 1", 270, 275)],
        ),
        (
            (bands((275, 300), (250, 280), (None, 250)),),
            [("overlap", "part 1 band 2", "part 1 band 1", 275, 280)],
        ),
    ],
)
def test_what_does_not_fit_is_named_by_part_and_band(parts, expected):
    assert troubles(*parts) == expected


@given(st.lists(st.integers(62, 600), min_size=2, max_size=8, unique=True), st.booleans())
def test_bands_that_touch_fit_whatever_their_ends_and_direction(ends, down):
    ends = sorted(ends)
    pairs = [(None, ends[0]), *pairwise(ends)]
    amounts = [float(len(pairs) - i) for i in range(len(pairs))]
    if down:
        pairs, amounts = pairs[::-1], amounts[::-1]
    assert troubles(bands(*pairs, discounts=amounts)) == []


@given(st.lists(st.integers(62, 600), min_size=3, max_size=8, unique=True), st.data())
def test_a_band_taken_out_of_the_middle_leaves_one_gap(ends, data):
    ends = sorted(ends)
    pairs = [(None, ends[0]), *pairwise(ends)]
    out = data.draw(st.integers(1, len(pairs) - 2))
    kept = pairs[:out] + pairs[out + 1 :]
    amounts = [float(len(kept) - i) for i in range(len(kept))]
    assert [(t[0], t[3], t[4]) for t in troubles(bands(*kept, discounts=amounts))] == [("gap", *pairs[out])]


@pytest.mark.parametrize(
    ("part", "starts"),
    [
        (Steps(300, B, 25, 25), ((B, 300),)),
        (Slope(15, A, 2), ((A, 15),)),
        (Premium(350, A, 5), ()),
        (Window(120, 180, Action.REJECT), ((B, 120), (A, 180))),
        (bands((275, 300), (250, 275), (None, 250)), ((B, 300),)),
        (bands((None, 4), (4, 7), (7, None), discounts=[0.0, 2.0, 4.0]), ((A, 4),)),
        (Table((Band(350, None, premium=5.0),)), ()),
    ],
)
def test_where_discounts_start(part, starts):
    assert discount_starts(part) == starts


@pytest.mark.parametrize("per", PER)
def test_money_units(per):
    assert parse_money_unit(f"EUR/{per}", "USD") == MoneyUnit("EUR", hundredths=False, per=per)
    unit = parse_money_unit(f"ct/{per}", "USD")
    assert unit == MoneyUnit("USD", hundredths=True, per=per)
    assert str(unit) == f"ct/{per}"


@pytest.mark.parametrize("text", ["", "USD", "USD/", "usd/bu", "USD/bushel", "$/bu", "USD/bu ", "USD//t"])
def test_what_is_no_money_unit(text):
    assert parse_money_unit(text, "USD") is None


def test_bushels_by_mass_against_tables_in_kilograms():
    """Legal weights and kilograms per bushel, read in a secondary copy."""
    kg = {m: round(lb * POUND_KG, 4) for m, lb in POUNDS_PER_BUSHEL.items()}
    assert kg == {
        "wheat": 27.2155,
        "durum": 27.2155,
        "rye": 25.4012,
        "maize": 25.4012,
        "barley": 21.7724,
        "oats": 14.515,
    }


def test_factors_carry_their_units():
    assert FACTORS["fn_s"].unit == "s"
    assert (FACTORS["moisture_pct"].low, FACTORS["moisture_pct"].high) == (5.0, 30.0)
    assert all(f.low < f.high and f.key == k for k, f in FACTORS.items())
