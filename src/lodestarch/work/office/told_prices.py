"""Prices as they were told: with a day, or of one ticket; kept with the terms that they were told under."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from lodestarch.common.canonical import Json, canonical_text
from lodestarch.plan.priced_loads import PricedLoad
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import ToldPrice
from lodestarch.records.unit import Unit, View
from lodestarch.work.office.day_prices import DayPrices

__all__ = [
    "TermsSource",
    "Told",
    "day_told",
    "days_told",
    "tell",
    "told_lines",
    "told_of_day",
    "told_of_load",
]


@dataclass(frozen=True, slots=True)
class TermsSource:
    """Where terms came from.

    Parameters
    ----------
    name : str
        File, or the source of a version.
    sha256 : str
    version : str or None
        In the records; ``None``: a file that came with the question.
    """

    name: str
    sha256: str
    version: str | None


@dataclass(frozen=True, slots=True)
class Told:
    """One price as told.

    Parameters
    ----------
    key : str
    at : datetime
    source : TermsSource
    day, sample : str or None
    said : mapping
        As it was said.
    """

    key: str
    at: datetime
    source: TermsSource
    day: str | None
    sample: str | None
    said: Mapping[str, Any]


def told_of_load(one: PricedLoad) -> dict[str, Json]:
    """What is said of one load."""
    price, best = one.price, one.price.best
    return {
        "name": price.lot.name,
        "seconds": price.lot.seconds,
        "kind": int(price.lot.kind),
        "u_s": price.lot.u_s,
        "tonnes": price.lot.tonnes,
        "offer": None if best is None else best.outlet.offer_id,
        "buyer": None if best is None else best.outlet.buyer,
        "net_per_t": None if best is None else best.net_per_t,
        "net": one.net,
        "p_makes_it": None if best is None else best.p_makes_it,
        "at_stake": price.at_stake,
        "do": one.advice.do.value,
        "why": one.advice.why.value,
        "retest_worth": None if one.advice.retest is None else one.advice.retest.worth,
    }


def told_of_day(prices: DayPrices) -> dict[str, Json]:
    """What is said of a day: its sums, and a line a load."""
    place, day = prices.place, prices.day
    return {
        "currency": place.currency,
        "per": place.per,
        "per_kg": place.kg,
        "on": None if prices.on is None else prices.on.isoformat(),
        "net": day.net,
        "at_stake": day.at_stake,
        "tonnes": day.tonnes,
        "loads": [cast("Json", told_of_load(one)) for one in day.loads],
    }


def tell(
    unit: Unit,
    said: Mapping[str, Json],
    source: TermsSource,
    at: datetime,
    *,
    day: str | None = None,
    sample: str | None = None,
) -> str | None:
    """Keep what is told; the same said again of the same thing is kept once.

    Returns
    -------
    str or None
        Its key; ``None`` where the last that was told says the same under the same terms.
    """
    text = canonical_text(dict(said))
    earlier = _of(unit, day, sample)
    if earlier and earlier[-1].told == text and earlier[-1].terms_sha256 == source.sha256:
        return None
    key = unit.next_key(ToldPrice, "p")
    unit.add(
        ToldPrice(
            key=key,
            told_at=utc_text(at),
            terms_name=source.name,
            terms_sha256=source.sha256,
            told=text,
            terms_version=source.version,
            day=day,
            sample=sample,
        )
    )
    return key


def _of(view: View, day: str | None, sample: str | None) -> list[ToldPrice]:
    rows = view.all(ToldPrice, sample=sample) if sample is not None else view.all(ToldPrice, day=day)
    return sorted(rows, key=lambda r: (r.told_at, len(r.key), r.key))


def days_told(records: Records) -> tuple[Told, ...]:
    """Prices told with days, the latest first."""
    with records.view() as view:
        return told_lines(view)


def day_told(records: Records, key: str) -> Told | None:
    """Prices told with a day, by key."""
    return next((t for t in days_told(records) if t.key == key), None)


def told_lines(view: View, *, day: str | None = None, sample: str | None = None) -> tuple[Told, ...]:
    """What was told of a day or a sample, the latest first; without either, of every day."""
    if day is None and sample is None:
        rows = sorted((r for r in view.all(ToldPrice) if r.day), key=lambda r: (r.told_at, len(r.key), r.key))
    else:
        rows = _of(view, day, sample)
    return tuple(
        Told(
            r.key,
            datetime.fromisoformat(r.told_at),
            TermsSource(r.terms_name, r.terms_sha256, r.terms_version),
            r.day,
            r.sample,
            json.loads(r.told),
        )
        for r in reversed(rows)
    )
