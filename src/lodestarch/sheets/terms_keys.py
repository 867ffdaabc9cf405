"""The schema of a terms file: which keys a table may have, and what they may hold.

``docs/terms.md`` says what each means; a test compares the two. Keys are added here and never removed.
"""

from __future__ import annotations

from typing import Final

from lodestarch.common.provenance import Provenance
from lodestarch.sheets.terms_entry import Key, Kind
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.grain_units import TEST_WEIGHT
from lodestarch.trade.likely_function import USES
from lodestarch.trade.money_unit import BY_MASS, PER
from lodestarch.trade.offer import Judged, RetestRule, Sampler, WhoseNumber
from lodestarch.trade.schedule import Action

__all__ = [
    "BAND",
    "BID",
    "BIN",
    "BUYER",
    "CLAUSE",
    "CONTRACT",
    "DELIVERY_POINT",
    "JURISDICTIONS",
    "LAYER",
    "MATERIALS",
    "PARTS",
    "SCHEDULE",
    "SHARE",
    "TABLES",
    "TOP",
    "VERSION",
]

VERSION: Final = 1
SHARE: Final = "share"
"""Unit of a schedule whose amounts are parts of the price."""

JURISDICTIONS: Final = ("US", "CA", "EU", "GB", "AU", "other")
MATERIALS: Final = (
    "wheat",
    "durum",
    "rye",
    "barley",
    "oats",
    "maize",
    "triticale",
    "wheat-flour",
    "rye-flour",
    "malted-flour",
)


def _text(name: str, *, required: bool = False) -> Key:
    return Key(name, Kind.TEXT, required)


def _id(name: str) -> Key:
    return Key(name, Kind.ID, required=True)


def _day(name: str) -> Key:
    return Key(name, Kind.DATE)


def _choice(name: str, choices: tuple[str, ...], *, required: bool = False) -> Key:
    return Key(name, Kind.CHOICE, required, choices)


def _amount(name: str, unit: str = "", *, required: bool = False) -> Key:
    """A number that is zero or more."""
    return Key(name, Kind.NUMBER, required, low=0.0, unit=unit)


def _positive(name: str, unit: str = "", *, required: bool = False) -> Key:
    return Key(name, Kind.NUMBER, required, low=0.0, above_zero=True, unit=unit)


def _number(name: str, unit: str = "", *, required: bool = False) -> Key:
    return Key(name, Kind.NUMBER, required, unit=unit)


_PROVENANCE: Final = (
    _text("note"),
    _text("source"),
    _day("entered_on"),
    _choice("provenance", tuple(p.value for p in Provenance)),
)
TABLES: Final = ("buyer", "delivery_point", "schedule", "contract", "bid", "bin")

TOP: Final = (
    Key("terms", Kind.WHOLE, required=True),
    _text("currency", required=True),
    _text("title"),
    _day("as_of"),
    _choice("jurisdiction", JURISDICTIONS),
    _amount("retest_cost"),
    _amount("storage_cost"),
    *_PROVENANCE,
    *(Key(name, Kind.TABLES) for name in TABLES),
)
BUYER: Final = (
    _id("id"),
    _text("name", required=True),
    _choice("use", USES),
    Key("accepts_profiles", Kind.TEXTS),
    _amount("lab_sd_s", "s"),
    _number("lab_bias_s", "s"),
    _amount("lab_bias_u_s", "s"),
    _amount("test_fee"),
    Key("test_fee_unit", Kind.MONEY, choices=("test", "load")),
    *_PROVENANCE,
)
DELIVERY_POINT: Final = (
    _id("id"),
    _id("buyer"),
    _text("name", required=True),
    _amount("distance_mi", "mi"),
    _amount("distance_km", "km"),
    _amount("freight"),
    Key("freight_unit", Kind.MONEY, choices=tuple(p for p in PER if p != "test")),
    _positive("load_t", "t"),
    *_PROVENANCE,
)
SCHEDULE: Final = (
    _id("id"),
    _text("name"),
    _choice("factor", tuple(FACTORS), required=True),
    _text("unit", required=True),
    _choice("on_boundary", ("better", "worse")),
    _amount("stated_to"),
    _day("valid_from"),
    _day("valid_to"),
    Key("part", Kind.TABLES, required=True),
    *_PROVENANCE,
)

_RUN: Final = (_number("below"), _number("above"))
_ENDS: Final = (_number("down_to"), _number("up_to"), _positive("most"))
_ACTION: Final = (
    _choice("action", tuple(a.value for a in Action), required=True),
    _amount("discount"),
    _amount("price"),
)
_SHAPE: Final = _text("shape", required=True)
_UNIT: Final = _text("unit")

PARTS: Final[dict[str, tuple[Key, ...]]] = {
    "steps": (
        _SHAPE,
        _UNIT,
        *_RUN,
        *_ENDS,
        _positive("step", required=True),
        _positive("discount", required=True),
        Key("started", Kind.FLAG),
    ),
    "slope": (_SHAPE, _UNIT, *_RUN, *_ENDS, _positive("discount", required=True), _positive("per")),
    "cliff": (_SHAPE, _UNIT, *_RUN, *_ACTION),
    "premium": (
        _SHAPE,
        _UNIT,
        *_RUN,
        *_ENDS,
        _positive("premium", required=True),
        _positive("step"),
        _positive("per"),
        Key("started", Kind.FLAG),
    ),
    "window": (
        _SHAPE,
        _UNIT,
        _number("at_least", required=True),
        _number("at_most", required=True),
        *_ACTION,
    ),
    "table": (_SHAPE, _UNIT, Key("bands", Kind.TABLES, required=True)),
}
"""Keys of a part of a schedule, by its shape."""

BAND: Final = (
    _number("from"),
    _number("to"),
    _amount("discount"),
    _amount("premium"),
    _choice("action", (Action.REJECT.value,)),
    _UNIT,
)
CLAUSE: Final = (
    _choice("factor", tuple(FACTORS), required=True),
    _choice("judged", tuple(j.value for j in Judged), required=True),
    _number("at_least"),
    _number("at_most"),
    _number("sublot_at_least"),
    _number("counts_from"),
    _number("counts_to"),
    _positive("sublot_t", "t"),
    _text("wording"),
)

_BOTH: Final = (
    _id("id"),
    _id("buyer"),
    _id("delivery_point"),
    _choice("material", MATERIALS),
    _text("class"),
    _amount("quantity_t", "t"),
    _amount("quantity_bu", "bu"),
    _amount("price"),
    _number("basis"),
    _amount("futures_price"),
    _text("futures_month"),
    _day("futures_on"),
    Key("price_unit", Kind.MONEY, choices=BY_MASS),
    Key("clause", Kind.TABLES),
    Key("schedules", Kind.TEXTS),
    _choice("combine", ("additive", "worst-only")),
    _choice("final", tuple(w.value for w in WhoseNumber)),
    _choice("sampled_by", tuple(s.value for s in Sampler)),
    Key("appeal_days", Kind.WHOLE, low=0.0),
    _choice("retest_rule", tuple(r.value for r in RetestRule)),
    _choice("test_paid_by", ("seller", "buyer", "loser", "shared")),
    Key("accepts_profiles", Kind.TEXTS),
    Key("protein_basis_pct", Kind.NUMBER, low=0.0, high=25.0, unit="%"),
    _choice("test_weight_by", tuple(k for k, line in TEST_WEIGHT.items() if line.given == "lb/bu")),
    Key("shrink_to_pct", Kind.NUMBER, low=5.0, high=25.0, unit="%"),
    Key("shrink_handling_pct", Kind.NUMBER, low=0.0, high=10.0, unit="%"),
    *_PROVENANCE,
)
CONTRACT: Final = (
    *_BOTH,
    _text("number"),
    _day("signed_on"),
    _amount("balance_t", "t"),
    _amount("balance_bu", "bu"),
    _day("delivery_from"),
    _day("delivery_to"),
)
BID: Final = (*_BOTH, _day("valid_from"), _day("valid_to"))
LAYER: Final = (
    _positive("tonnes", "t", required=True),
    _day("filled_on"),
    _text("ticket"),
    _text("sample"),
    _amount("fn_u_s", "s"),
    _choice("fn_says", ("exact", "at-or-below", "above")),
    *(Key(f.key, Kind.NUMBER, low=f.low, high=f.high, unit=f.unit) for f in FACTORS.values()),
)
BIN: Final = (
    _id("id"),
    _text("name"),
    _choice("material", MATERIALS),
    _text("class"),
    _positive("capacity_t", "t"),
    _amount("tonnes", "t"),
    _day("turned_on"),
    _positive("least_draw_t", "t"),
    _amount("gate_error_t", "t"),
    Key("layer", Kind.TABLES),
    *_PROVENANCE,
)
