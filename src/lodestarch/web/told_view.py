"""A day's prices as they were told, in words."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.words.catalogues import term, terms
from lodestarch.words.limits import short_name
from lodestarch.words.money import PlaceUnit, money_whole, per_unit
from lodestarch.words.numbers import DASH, number
from lodestarch.work.office.told_prices import Told

__all__ = ["ToldDay", "ToldLine", "told_day"]


@dataclass(frozen=True, slots=True)
class ToldLine:
    """One load."""

    name: str
    seconds: str
    buyer: str
    net: str
    whole: str
    makes: str
    advice: str


@dataclass(frozen=True, slots=True)
class ToldDay:
    """A day: a line a load, and the sums as a sentence."""

    lines: tuple[ToldLine, ...]
    total: str


_SIGNS = ("", "≤\u00a0", ">\u00a0")


def told_day(told: Told) -> ToldDay:
    """Put a day's prices into words, in the unit that they were told in."""
    said = told.said
    place = PlaceUnit(said["currency"], said["per"], said["per_kg"])
    loads = said["loads"]
    gone = [one for one in loads if one["net"] is not None]
    total = term(
        "day-price.total",
        loads=len(gone),
        tonnes=number(said["tonnes"]),
        net=money_whole(said["net"], place),
        stake=money_whole(said["at_stake"], place),
    )
    known = terms()
    lines = tuple(
        ToldLine(
            one["name"],
            _SIGNS[one["kind"]] + number(one["seconds"]),
            DASH if one["buyer"] is None else short_name(one["buyer"]),
            DASH if one["net_per_t"] is None else per_unit(one["net_per_t"], place),
            DASH if one["net"] is None else money_whole(one["net"], place),
            DASH if one["p_makes_it"] is None else f"{number(100.0 * one['p_makes_it'])}\u00a0%",
            known.get(f"told-do.{one['do']}", one["do"]),
        )
        for one in loads
    )
    return ToldDay(lines, total)
