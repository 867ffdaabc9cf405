"""A day's loads in money: where each goes, what it brings, what to do, and what is at stake."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

import polars as pl

from lodestarch.common.findings import NOWHERE, Finding, Severity, Value
from lodestarch.method.judge import Status
from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind
from lodestarch.plan.advice import Costs
from lodestarch.plan.priced_loads import LoadToPrice, PricedDay, price_loads
from lodestarch.trade.law import LawLot
from lodestarch.trade.lot_price import Lot
from lodestarch.trade.outlets import Grain
from lodestarch.trade.terms import Terms
from lodestarch.words.money import PlaceUnit, place_unit
from lodestarch.work.office.price import costs_under

__all__ = ["DayPrices", "prices_of_day"]


MOST_LOADS: Final = 2000
"""Loads of one sheet that are priced one after the other, with advice. A choice of ours: it takes some
hundredths of a second a load."""


@dataclass(frozen=True, slots=True)
class DayPrices:
    """Prices of a day's loads.

    Parameters
    ----------
    day : PricedDay
        Loads in the order of the sample sheet, ``lot.name`` the ticket or sample.
    place : PlaceUnit
    held, untested, no_outlet : int
        Loads to be settled first; without a result; with a result that no offer takes.
    on : date or None
        Day of the offers.
    """

    day: PricedDay
    place: PlaceUnit
    held: int
    untested: int
    no_outlet: int
    on: date | None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the terms leave open; a factor that is not known of some loads is told once with the sums."""
        return tuple(f for f in self.day.findings if f.code != "price-factor-missing")

    @property
    def missing(self) -> tuple[str, ...]:
        """Factors without which some load was priced."""
        told = (f for f in self.day.findings if f.code == "price-factor-missing")
        return tuple(dict.fromkeys(str(f.values["factor"]) for f in told))


def prices_of_day(
    results: pl.DataFrame,
    samples: pl.DataFrame,
    readings: pl.DataFrame,
    profiles: Iterable[Profile],
    terms: Terms,
    grades: Mapping[str, Mapping[str, float]],
    costs: Costs,
) -> DayPrices:
    """Price the loads of a day.

    Parameters
    ----------
    results, samples, readings : polars.DataFrame
        In ``RESULTS``, ``SAMPLES``, ``JUDGED``.
    profiles : iterable of Profile
        Those that the results name.
    terms : Terms
    grades : mapping
        Other factors by sample.
    costs : Costs
    """
    loads = samples.filter((pl.col("kind") == "load") & (pl.col("tonnes") > 0))
    joined = loads.join(results, on="sample", how="left", maintain_order="left", suffix="_r")
    as_is = {p.name: p.as_is_key for p in profiles}
    to_price: list[LoadToPrice] = []
    held = untested = 0
    for row in joined.iter_rows(named=True):
        if row["status"] == Status.HELD.value:
            held += 1
        elif row["mean_s"] is None or row["status"] is None or row["status"] == Status.NONE.value:
            untested += 1
        else:
            to_price.append(_load(row, as_is, grades.get(row["sample"], {})))
    on = _day(readings, terms)
    if len(to_price) > MOST_LOADS:
        values: dict[str, Value] = {"loads": len(to_price), "most": MOST_LOADS}
        none = PricedDay((), 0.0, 0.0, 0.0, {}, (Finding("day-prices-many", NOWHERE, Severity.NOTE, values),))
        return DayPrices(none, place_unit(terms), held, untested, 0, on)
    day = price_loads(terms, to_price, costs_under(terms, costs), on=on)
    nowhere = sum(one.net is None for one in day.loads)
    return DayPrices(day, place_unit(terms), held, untested, nowhere, on)


def _load(row: Mapping[str, Any], as_is: Mapping[str, str], factors: Mapping[str, float]) -> LoadToPrice:
    kind = Kind(row["kind_r"])
    profile = str(row["profile"])
    material = row["material"]
    name = str(row["ticket"] or row["sample"])
    lot = Lot(
        name=name,
        seconds=float(row["mean_s"]),
        kind=kind,
        u_s=row["u_s"] if kind is Kind.EXACT else None,
        tonnes=float(row["tonnes"]),
        profile=profile,
        as_is=row["comparable_key"] == as_is.get(profile),
        law=None if material is None else LawLot(name, material, factors),
    )
    return LoadToPrice(lot, Grain(material, None, factors))


def _day(readings: pl.DataFrame, terms: Terms) -> date | None:
    """The day of the last run, else the day on which the terms were right."""
    times: Sequence[datetime | None] = readings["run_at"].to_list()
    last = max((t for t in times if t is not None), default=None)
    return last.date() if last is not None else terms.as_of
