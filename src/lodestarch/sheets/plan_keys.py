"""The schema of a plan problem: keys of a terms file where they say the same, and those that a plan needs.

``docs/plan.md`` says what each means; a test compares the two. Keys are added here and never removed.
"""

from __future__ import annotations

from typing import Final

from lodestarch.sheets.terms_entry import Key, Kind
from lodestarch.sheets.terms_keys import BAND, BUYER, CLAUSE, JURISDICTIONS, LAYER, MATERIALS
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.money_unit import BY_MASS

__all__ = [
    "DRAW",
    "EXCLUDE",
    "PLAN_BAND",
    "PLAN_BID",
    "PLAN_BIN",
    "PLAN_BUYER",
    "PLAN_CLAUSE",
    "PLAN_CONTRACT",
]
__all__ += ["PLAN_LAYER", "PLAN_TABLES", "PLAN_TOP", "PLAN_VERSION"]

PLAN_VERSION: Final = 1

_NOTE: Final = (Key("note", Kind.TEXT), Key("source", Kind.TEXT))
_MONEY: Final = Key("price_unit", Kind.MONEY, choices=BY_MASS)


def _id(name: str) -> Key:
    return Key(name, Kind.ID, required=True)


def _number(name: str, unit: str = "") -> Key:
    """Any number: what it may be is for the plan's own check, which knows the whole problem."""
    return Key(name, Kind.NUMBER, unit=unit)


PLAN_TABLES: Final = ("buyer", "contract", "bid", "bin", "draw", "exclude")

PLAN_TOP: Final = (
    Key("plan", Kind.WHOLE, required=True),
    Key("currency", Kind.TEXT, required=True),
    Key("title", Kind.TEXT),
    Key("jurisdiction", Kind.CHOICE, choices=JURISDICTIONS),
    _number("bench_u_s", "s"),
    _number("law_u_s", "s"),
    _number("cap_s", "s"),
    Key("capped", Kind.FLAG),
    Key("most_bins_used", Kind.WHOLE, low=1.0),
    *_NOTE,
    *(Key(name, Kind.TABLES) for name in PLAN_TABLES),
)
PLAN_BUYER: Final = BUYER
PLAN_CLAUSE: Final = CLAUSE
PLAN_LAYER: Final = LAYER
PLAN_BAND: Final = (Key("factor", Kind.CHOICE, required=True, choices=tuple(FACTORS)), *BAND)

_OFFER: Final = (
    _id("id"),
    Key("name", Kind.TEXT),
    Key("buyer", Kind.ID),
    Key("material", Kind.CHOICE, choices=MATERIALS),
    Key("class", Kind.TEXT),
    _number("quantity_t", "t"),
    _number("quantity_bu", "bu"),
    _number("least_t", "t"),
    _number("price"),
    _MONEY,
    _number("delivery_cost_per_t"),
    _number("wanted_odds"),
    Key("most_bins", Kind.WHOLE, low=1.0),
    Key("load_t", Kind.NUMBER, low=0.0, above_zero=True, unit="t"),
    Key("clause", Kind.TABLES),
    Key("band", Kind.TABLES),
    *_NOTE,
)
PLAN_CONTRACT: Final = (*_OFFER, _number("balance_t", "t"), _number("balance_bu", "bu"))
PLAN_BID: Final = _OFFER
PLAN_BIN: Final = (
    _id("id"),
    Key("name", Kind.TEXT),
    Key("material", Kind.CHOICE, choices=MATERIALS),
    Key("class", Kind.TEXT),
    _number("tonnes", "t"),
    _number("fn_u_s", "s"),
    Key("fn_says", Kind.CHOICE, choices=("exact", "at-or-below", "above")),
    *(_number(key, f.unit) for key, f in FACTORS.items()),
    *(_number(f"{key}_u", f.unit) for key, f in FACTORS.items() if key != "fn_s"),
    _number("keep_price"),
    _MONEY,
    _number("reserve_t", "t"),
    _number("least_draw_t", "t"),
    _number("gate_step_t", "t"),
    _number("gate_error_t", "t"),
    Key("whole", Kind.FLAG),
    Key("turned", Kind.FLAG),
    Key("layer", Kind.TABLES),
    *_NOTE,
)
DRAW: Final = (_id("bin"), _id("to"), _number("tonnes", "t"), *_NOTE)
EXCLUDE: Final = (_id("bin"), Key("to", Kind.ID), Key("law", Kind.TEXT), *_NOTE)
