# ruff: noqa: E501 - a case a line, however long
from __future__ import annotations

import json
import re
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lodestarch.common.findings import Severity
from lodestarch.common.provenance import Provenance
from lodestarch.sheets.templates import terms_toml
from lodestarch.sheets.terms import read_terms
from lodestarch.sheets.terms_keys import (
    BAND,
    BID,
    BIN,
    BUYER,
    CLAUSE,
    CONTRACT,
    DELIVERY_POINT,
    LAYER,
    PARTS,
    SCHEDULE,
    TOP,
)
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.limits import Limit
from lodestarch.trade.offer import Judged, Mass, WhoseNumber
from lodestarch.trade.schedule import Action, Cliff, Side, Steps
from lodestarch.trade.terms import limits_of

DOCS = Path(__file__).parents[2] / "docs" / "terms.md"

TOP_LINES = 'terms = 1\ncurrency = "USD"\n'
BUYER_LINES = '[[buyer]]\nid = "mill"\nname = "Mill"\n'
POINT_LINES = '[[delivery_point]]\nid = "gate"\nbuyer = "mill"\nname = "Gate"\n'
STEPS_LINES = (
    '[[schedule]]\nid = "fn"\nfactor = "fn_s"\nunit = "ct/bu"\non_boundary = "better"\n'
    '[[schedule.part]]\nshape = "steps"\nbelow = 300\nstep = 25\ndiscount = 25\n'
)
CONTRACT_LINES = (
    '[[contract]]\nid = "c"\nbuyer = "mill"\ndelivery_point = "gate"\nmaterial = "wheat"\nprice = 6.35\n'
    'price_unit = "USD/bu"\nschedules = ["fn"]\n'
    '[[contract.clause]]\nfactor = "fn_s"\njudged = "per-load"\nat_least = 300\n'
)
SOUND = TOP_LINES + BUYER_LINES + POINT_LINES + STEPS_LINES + CONTRACT_LINES


def read(text: str):
    return read_terms(text.encode(), "terms.toml")


def codes(text: str):
    return [(f.code, f.where.field) for f in read(text).findings]


def uncommented() -> str:
    """The template with every commented key in use."""
    lines = terms_toml().decode().split("\n")
    return "\n".join(line[1:] if re.match(r"^#( {2,}|\[|[a-z])", line) else line for line in lines)


def test_a_sound_file():
    terms = read(SOUND).terms
    assert codes(SOUND) == []
    assert terms.schedule("fn").parts == (Steps(300.0, Side.BELOW, 25.0, 25.0),)
    assert str(terms.schedule("fn").unit) == "ct/bu"
    contract = terms.contracts[0]
    assert contract.price.value == 6.35
    assert contract.clauses[0].judged is Judged.PER_LOAD
    assert contract.final is None
    assert limits_of(terms) == (Limit("mill", "Mill", 300.0, None, "c"),)


def test_the_example_of_the_docs():
    example = re.search(r"```toml\n(.*?)```", DOCS.read_text("utf-8"), re.DOTALL)[1]
    result = read(example)
    assert result.findings == ()
    terms = result.terms
    assert terms.as_of == date(2031, 8, 12)
    contract = terms.contracts[0]
    assert contract.provenance is Provenance.INVENTED
    assert (contract.quantity, contract.balance) == (Mass(20000.0, "bu"), Mass(12500.0, "bu"))
    assert contract.final is WhoseNumber.DESTINATION
    assert contract.clauses[0].counts_from == 299.5
    assert terms.schedule("harrow-fn").parts[1] == Cliff(250.0, Side.BELOW, Action.REJECT)
    assert terms.delivery_point("harrow-siding").distance_km == pytest.approx(61.155072)
    assert terms.bin("3").capacity_t == 400.0


def test_the_blank_template_says_nothing_and_in_use_it_is_sound():
    blank = read_terms(terms_toml(), "terms.toml")
    assert [f.code for f in blank.findings] == ["terms-nothing"]
    filled = read(uncommented())
    assert filled.findings == ()
    terms = filled.terms
    assert [len(x) for x in (terms.buyers, terms.schedules, terms.contracts, terms.bids, terms.bins)] == [
        1,
        4,
        1,
        1,
        1,
    ]
    assert terms.bids[0].price.value == pytest.approx(6.13)
    assert terms.bin("3").layers[0].factors == {"fn_s": 312.0, "protein_pct": 11.4}


@pytest.mark.parametrize(
    "keys",
    [TOP, BUYER, DELIVERY_POINT, SCHEDULE, CONTRACT, BID, CLAUSE, BIN, LAYER, BAND, *PARTS.values()],
)
def test_every_key_stands_in_the_docs(keys):
    text = DOCS.read_text("utf-8")
    assert [k.name for k in keys if not re.search(rf"\b{k.name}\b", text)] == []
    choices = {c for k in keys for c in k.choices}
    assert [c for c in choices if not re.search(rf"""[`"/ ]{re.escape(c)}[`" ,]""", text)] == []


def test_factors_and_their_ranges_stand_in_the_docs():
    lines = DOCS.read_text("utf-8").split("## Factors")[1].split("##")[0]
    for factor in FACTORS.values():
        line = next(x for x in lines.splitlines() if f"`{factor.key}`" in x)
        assert f"{factor.low:g} to {factor.high:.10g}" in line
        assert factor.unit in line


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("terms = \n", ("terms-unreadable", None)),
        ('currency = "USD"\n', ("terms-key-missing", "terms file, terms")),
        ("terms = 1\n", ("terms-key-missing", "terms file, currency")),
        ('terms = 2\ncurrency = "USD"\n', ("terms-version-unknown", "terms file, terms")),
        ('terms = "1"\ncurrency = "USD"\n', ("terms-key-type", "terms file, terms")),
        ('terms = true\ncurrency = "USD"\n', ("terms-key-type", "terms file, terms")),
        ('terms = 1\ncurrency = "dollars"\n', ("terms-key-type", "terms file, currency")),
        (TOP_LINES + "buyer = 1\n", ("terms-key-type", "terms file, buyer")),
    ],
)
def test_a_file_that_cannot_be_read(text, expected):
    assert codes(text) == [expected]
    assert read(text).terms is None
    assert read(text).findings[0].severity is Severity.STOP


def swap(old: str, new: str) -> str:
    assert old in SOUND
    return SOUND.replace(old, new)


REFUSED = [
    (swap('name = "Mill"', "name = 3"), "terms-key-type", "buyer mill, name"),
    (swap('name = "Mill"\n', ""), "terms-key-missing", "buyer mill, name"),
    (swap('id = "mill"', 'id = "The Mill"'), "terms-id-unusable", "buyer The Mill, id"),
    (swap('id = "mill"\n', ""), "terms-key-missing", "buyer #1, id"),
    (swap('name = "Gate"', 'name = "Gate"\ndistance_mi = 3\ndistance_km = 5'), "terms-one-of", "delivery_point gate, distance_mi / distance_km"),
    (swap('name = "Gate"', 'name = "Gate"\ndistance_mi = -3'), "terms-out-of-range", "delivery_point gate, distance_mi"),
    (swap('name = "Gate"', 'name = "Gate"\ndistance_mi = nan'), "terms-out-of-range", "delivery_point gate, distance_mi"),
    (swap('name = "Gate"', 'name = "Gate"\ndistance_mi = inf'), "terms-out-of-range", "delivery_point gate, distance_mi"),
    (swap('name = "Gate"', 'name = "Gate"\nfreight = 4'), "terms-key-missing", "delivery_point gate, freight_unit"),
    (swap('name = "Gate"', 'name = "Gate"\nfreight = 4\nfreight_unit = "USD/mi"\nload_t = 26'), "terms-one-of", "delivery_point gate, distance_mi / distance_km"),
    (swap('name = "Gate"', 'name = "Gate"\nfreight = 4\nfreight_unit = "USD/load"'), "terms-key-missing", "delivery_point gate, load_t"),
    (swap('name = "Gate"', 'name = "Gate"\nfreight = 4\nfreight_unit = "USD/day"'), "terms-unit-unknown", "delivery_point gate, freight_unit"),
    (swap('name = "Gate"', 'name = "Gate"\nfreight = 4\nfreight_unit = "EUR/t"'), "terms-units-mixed", "delivery_point gate, freight_unit"),
    (swap('id = "gate"\nbuyer = "mill"', 'id = "gate"\nbuyer = "mil"'), "terms-id-unknown", "delivery_point gate, buyer"),
    (swap('factor = "fn_s"\nunit', 'factor = "colour"\nunit'), "terms-not-in-list", "schedule fn, factor"),
    (swap('unit = "ct/bu"', 'unit = "pence"'), "terms-unit-unknown", "schedule fn, unit"),
    (swap('unit = "ct/bu"', 'unit = "EUR/t"'), "terms-units-mixed", "schedule fn, unit"),
    (swap('unit = "ct/bu"', 'unit = "USD/mi"'), "terms-unit-unknown", "schedule fn, unit"),
    (swap('shape = "steps"', 'shape = "stairs"'), "terms-not-in-list", "schedule fn, part[1].shape"),
    (swap('shape = "steps"\n', ""), "terms-key-missing", "schedule fn, part[1].shape"),
    (swap("below = 300\n", ""), "terms-one-of", "schedule fn, part[1].below / above"),
    (swap("below = 300\n", "below = 300\nabove = 310\n"), "terms-one-of", "schedule fn, part[1].below / above"),
    (swap("below = 300\n", "below = 300\nup_to = 310\n"), "terms-one-of", "schedule fn, part[1].below / up_to"),
    (swap("below = 300\n", "below = 3000\n"), "terms-out-of-range", "schedule fn, part[1].below"),
    (swap("step = 25", "step = 0"), "terms-out-of-range", "schedule fn, part[1].step"),
    (swap("discount = 25", "discount = -25"), "terms-out-of-range", "schedule fn, part[1].discount"),
    (swap("discount = 25", "discount = true"), "terms-key-type", "schedule fn, part[1].discount"),
    (swap('shape = "steps"', 'shape = "steps"\nunit = "USD/t"'), "terms-units-mixed", "schedule fn, part[1].unit"),
    (swap("below = 300\n", "below = 300\ndown_to = 320\n"), "terms-schedule-order", "schedule fn"),
    (swap('on_boundary = "better"', 'on_boundary = "better"\nvalid_from = 2031-09-01\nvalid_to = 2031-08-01'), "terms-period-reversed", "schedule fn, valid_to"),
    (swap('buyer = "mill"\ndelivery_point', 'buyer = "mall"\ndelivery_point'), "terms-id-unknown", "contract c, buyer"),
    (swap('delivery_point = "gate"', 'delivery_point = "gat"'), "terms-id-unknown", "contract c, delivery_point"),
    (swap('schedules = ["fn"]', 'schedules = ["protein"]'), "terms-id-unknown", "contract c, schedules"),
    (swap('schedules = ["fn"]', 'schedules = "fn"'), "terms-key-type", "contract c, schedules"),
    (swap('schedules = ["fn"]', 'schedules = ["fn", "fn"]'), "terms-key-missing", "contract c, combine"),
    (swap('material = "wheat"\n', ""), "terms-key-missing", "contract c, material"),
    (swap('material = "wheat"', 'material = "rye-flour"'), "terms-bushel-unknown", "contract c, material"),
    (swap('price_unit = "USD/bu"\n', ""), "terms-key-missing", "contract c, price_unit"),
    (swap("price = 6.35", "price = 6.35\nbasis = -0.2"), "terms-one-of", "contract c, price / basis"),
    (swap("price = 6.35", "price = 6.35\nfutures_price = 6.5"), "terms-key-missing", "contract c, basis"),
    (swap("price = 6.35", "price = 6.35\nquantity_t = 5\nquantity_bu = 5"), "terms-one-of", "contract c, quantity_t / quantity_bu"),
    (swap("price = 6.35", 'price = 6.35\nsigned_on = "2031-06-20"'), "terms-key-type", "contract c, signed_on"),
    (swap("price = 6.35", "price = 6.35\nsigned_on = 2031-06-20T10:00:00"), "terms-key-type", "contract c, signed_on"),
    (swap("price = 6.35", 'price = 6.35\nfinal = "ours"'), "terms-not-in-list", "contract c, final"),
    (swap("price = 6.35", "price = 6.35\nappeal_days = 1.5"), "terms-key-type", "contract c, appeal_days"),
    (swap("at_least = 300\n", ""), "terms-one-of", "contract c, clause[1].at_least / at_most"),
    (swap("at_least = 300\n", "at_least = 300\nat_most = 250\n"), "terms-window-reversed", "contract c, clause[1].at_most"),
    (swap("at_least = 300\n", "at_most = 300\ncounts_from = 299\n"), "terms-key-missing", "contract c, clause[1].at_least"),
    (swap("per-load", "average-with-sublot-minimum"), "terms-key-missing", "contract c, clause[1].sublot_at_least"),
    (swap("at_least = 300\n", "at_least = 30\n"), "terms-out-of-range", "contract c, clause[1].at_least"),
    (SOUND + BUYER_LINES.replace("Mill", "Mall"), "terms-id-twice", "buyer mill, id"),
    (SOUND + '[[bin]]\nid = "3"\ncapacity_t = 0\n', "terms-out-of-range", "bin 3, capacity_t"),
    (SOUND + '[[bin]]\nid = "3"\n[[bin.layer]]\ntonnes = 3\nfn_s = 9999\n', "terms-out-of-range", "bin 3, layer[1].fn_s"),
    (SOUND + '[[bin]]\nid = "3"\n[[bin.layer]]\nfn_s = 300\n', "terms-key-missing", "bin 3, layer[1].tonnes"),
    (SOUND + BUYER_LINES.replace("mill", "x") + POINT_LINES.replace("mill", "x").replace("gate", "y") + CONTRACT_LINES.replace('"c"', '"d"').replace("gate", "y"), "terms-point-of-other", "contract d, delivery_point"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "code", "field"), REFUSED)
def test_what_cannot_be_read_refuses_its_entry_and_names_table_and_key(text, code, field):
    result = read(text)
    first = result.findings[0]
    assert (first.code, first.where.field) == (code, field)
    assert first.severity is Severity.STOP
    assert first.where.source == "terms.toml"
    assert f"{first.values['table']} {first.values['id']}" in field
    # The other entries stay, unless they lean on the one refused.
    leaning = {"terms-id-unread", "terms-id-unknown", "terms-schedule-unread"}
    assert {f.code for f in result.findings[1:]} <= leaning
    counted = (
        result.terms.buyers,
        result.terms.delivery_points,
        result.terms.schedules,
        result.terms.contracts,
    )
    assert any(len(x) for x in counted)


def test_a_refused_schedule_leaves_the_contract_its_limit_and_no_price():
    text = swap("step = 25", "step = 0")
    result = read(text)
    assert [f.code for f in result.findings] == ["terms-out-of-range", "terms-schedule-unread"]
    assert result.terms.schedule("fn") is None
    assert result.terms.contracts[0].schedule_ids == ("fn",)
    assert limits_of(result.terms)[0].at_least_s == 300.0


def test_what_leans_on_a_refused_buyer_says_so():
    result = read(swap('name = "Mill"\n', ""))
    assert [f.code for f in result.findings] == [
        "terms-key-missing",
        "terms-id-unread",
        "terms-id-unread",
        "terms-id-unread",
    ]
    assert result.terms.contracts == ()


NOTED = [
    (swap('name = "Mill"', 'name = "Mill"\ncolour = "red"'), "terms-key-unknown", "buyer mill, colour"),
    (swap("below = 300\n", "below = 300\nmax = 50\n"), "terms-key-unknown", "schedule fn, part[1].max"),
    (swap('on_boundary = "better"\n', ""), "terms-schedule-boundary", "schedule fn"),
    (swap("below = 300\n", "below = 300\ndown_to = 250\n"), "terms-schedule-open", "schedule fn"),
    (swap('price = 6.35\nprice_unit = "USD/bu"\n', ""), "terms-price-missing", "contract c"),
    (swap("price = 6.35", "basis = -0.3"), "terms-futures-missing", "contract c, basis"),
    (SOUND.split("[[contract.clause]]")[0], "terms-clause-missing", "contract c"),
    (swap("price = 6.35", "price = 6.35\nquantity_t = 5\nbalance_t = 6"), "terms-balance-above", "contract c"),
    (swap("at_least = 300", "at_least = 300\nsublot_at_least = 310"), "terms-sublot-above", "contract c, clause[1].sublot_at_least"),
    (SOUND + "[[buyers]]\nid = 1\n", "terms-key-unknown", "terms file, buyers"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "code", "field"), NOTED)
def test_what_is_only_worth_a_look_refuses_nothing(text, code, field):
    result = read(text)
    assert [(f.code, f.where.field) for f in result.findings] == [(code, field)]
    assert result.findings[0].severity is Severity.CHECK
    assert len(result.terms.contracts) == len(result.terms.schedules) == 1


BANDS = (
    '[[schedule]]\nid = "t"\nfactor = "fn_s"\nunit = "share"\non_boundary = "worse"\nstated_to = 1\n'
    '[[schedule.part]]\nshape = "table"\nbands = [\n'
    "  { from = 275, to = 299, discount = 0.052 },\n"
    "  { from = 250, to = 274, discount = 0.086 },\n"
    '  { to = 249, action = "reject" },\n]\n'
)


@pytest.mark.parametrize(
    ("old", "new", "code", "part"),
    [
        ("from = 250", "from = 255", "terms-schedule-gap", "part 1 band 3"),
        ("from = 250", "from = 245", "terms-schedule-overlap", "part 1 band 3"),
        ("from = 250, to = 274", "from = 274, to = 250", "terms-schedule-order", "part 1 band 2"),
        ("from = 275, to = 299", "from = 200, to = 240", "terms-schedule-sequence", "part 1 band 2"),
    ],
)
def test_gaps_overlaps_and_wrong_order_name_the_band(old, new, code, part):
    assert codes(TOP_LINES + BANDS) == []
    assert old in BANDS
    result = read(TOP_LINES + BANDS.replace(old, new))
    assert result.findings[0].code == code
    assert part in result.findings[0].values.values()
    assert result.terms.schedules == ()


@pytest.mark.parametrize(
    ("old", "new", "code", "field"),
    [
        ("discount = 0.086", 'discount = 9, unit = "ct/bu"', "terms-units-mixed", "schedule t, part[1].bands[2].unit"),
        ("discount = 0.086", "", "terms-one-of", "schedule t, part[1].bands[2].discount / premium / action"),
        ("discount = 0.086", "discount = 1, premium = 1", "terms-one-of", "schedule t, part[1].bands[2].discount / premium / action"),
        ("from = 250", "from = 25", "terms-out-of-range", "schedule t, part[1].bands[2].from"),
        ("from = 250", 'from = "250"', "terms-key-type", "schedule t, part[1].bands[2].from"),
    ],
)  # fmt: skip
def test_a_band_that_cannot_be_read_is_named(old, new, code, field):
    text = BANDS.replace(old, new).replace(",  }", " }")
    result = read(TOP_LINES + text)
    assert (result.findings[0].code, result.findings[0].where.field) == (code, field)
    assert result.terms.schedules == ()


def part(lines: str) -> str:
    head = STEPS_LINES.split("[[schedule.part]]", maxsplit=1)[0]
    return f"{TOP_LINES}{head}[[schedule.part]]\n{lines}"


@pytest.mark.parametrize(
    ("lines", "code"),
    [
        ('shape = "cliff"\nbelow = 250\naction = "reject"\n', None),
        ('shape = "cliff"\nbelow = 250\naction = "discount"\ndiscount = 40\n', None),
        ('shape = "cliff"\nbelow = 250\naction = "price"\nprice = 4.85\n', None),
        ('shape = "cliff"\nbelow = 250\naction = "discount"\n', "terms-key-missing"),
        ('shape = "cliff"\nbelow = 250\naction = "price"\n', "terms-key-missing"),
        ('shape = "cliff"\nbelow = 250\naction = "reject"\ndiscount = 4\n', "terms-key-unknown"),
        ('shape = "slope"\nbelow = 300\ndiscount = 1\nmost = 50\n', None),
        ('shape = "premium"\nabove = 350\npremium = 5\nstep = 25\nmost = 10\n', None),
        ('shape = "premium"\nabove = 350\npremium = 5\nstep = 25\nper = 1\n', "terms-one-of"),
        ('shape = "window"\nat_least = 120\nat_most = 180\naction = "reject"\n', None),
        ('shape = "window"\nat_least = 180\nat_most = 120\naction = "reject"\n', "terms-schedule-order"),
        ('shape = "window"\nat_least = 120\naction = "reject"\n', "terms-key-missing"),
        ('shape = "table"\nbands = []\n', "terms-key-missing"),
        ("", "terms-key-missing"),
    ],
)
def test_shapes(lines, code):
    assert [f.code for f in read(part(lines)).findings] == ([] if code is None else [code])


def test_limits_come_from_clauses_else_from_where_schedules_leave_the_price():
    bid = (
        '[[bid]]\nid = "b"\nbuyer = "mill"\ndelivery_point = "gate"\nmaterial = "wheat"\nschedules = ["fn"]\n'
    )
    terms = read(
        SOUND + bid.replace('material = "wheat"\n', 'material = "wheat"\nvalid_to = 2031-08-15\n')
    ).terms
    assert [(x.terms_id, x.at_least_s) for x in limits_of(terms)] == [("c", 300.0), ("b", 300.0)]
    assert [x.terms_id for x in limits_of(terms, date(2031, 8, 15))] == ["c", "b"]
    assert [x.terms_id for x in limits_of(terms, date(2031, 8, 16))] == ["c"]


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes(data):
    assert read_terms(data, "x").findings


VALUES = st.recursive(
    st.booleans() | st.integers(-(10**6), 10**6) | st.sampled_from(["fn", "mill", "USD/bu", ""]),
    lambda inner: st.lists(inner, max_size=2),
    max_leaves=4,
)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(SOUND.splitlines()), VALUES)
def test_whatever_stands_in_a_place_an_entry_is_taken_or_named(line, value):
    if line.startswith("["):
        text = SOUND.replace(f"{line}\n", "", 1)
    else:
        text = SOUND.replace(line, f"{line.split(' = ')[0]} = {json.dumps(value)}", 1)
    result = read(text)
    named = {f.values.get("table", "file") for f in result.findings}
    if result.terms is None:
        assert named & {"file", "terms"}
        return
    taken = {
        "buyer": result.terms.buyers,
        "delivery_point": result.terms.delivery_points,
        "schedule": result.terms.schedules,
        "contract": result.terms.contracts,
    }
    for kind, entries in taken.items():
        assert len(entries) == text.count(f"[[{kind}]]") or kind in named
