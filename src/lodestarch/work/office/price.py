"""What a number brings: one lot at every buyer, or a cargo under every clause."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Final

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity, Value, Where, of_range
from lodestarch.common.nomenclature import legal_range
from lodestarch.method.reading import Kind, parse_seconds
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.plan.advice import Advice, Costs, advise
from lodestarch.sheets.terms import ReadTerms
from lodestarch.sheets.typed import typed_number
from lodestarch.trade.clauses import ClauseReading, Sublot, clauses_side_by_side
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.law import LawLot
from lodestarch.trade.lot_price import Lot, LotPrice, price_lot
from lodestarch.trade.outlets import Grain, outlets_of
from lodestarch.trade.terms import Terms

__all__ = ["CargoAnswer", "CargoAsked", "PriceAnswer", "PriceAsked", "cargo_for", "costs_under", "price_for"]


@dataclass(frozen=True, slots=True)
class PriceAsked:
    """One lot as it is asked about.

    Parameters
    ----------
    number : str
        ``310``, ``<=62``, ``>400``. [s]
    u_s : float or None
        ``None``: from the scatter of a pair of tubes. [s]
    tonnes : float
    profile : str
        Empty: not stated.
    as_is : bool
    material, grain_class : str or None
    factors : sequence of str
        ``key=value``, keys as in the terms.
    on : date or None
        ``None``: the day on which the terms were right; where they do not say, every offer stands.
    jurisdiction : str or None
        ``None``: that of the terms.
    turned_away_per_t : float or None
        What a tonne is worth that comes back. [money/t]
    costs : Costs
    """

    number: str
    u_s: float | None = None
    tonnes: float = 25.0
    profile: str = ""
    as_is: bool = False
    material: str | None = None
    grain_class: str | None = None
    factors: Sequence[str] = ()
    on: date | None = None
    jurisdiction: str | None = None
    turned_away_per_t: float | None = None
    costs: Costs = field(default_factory=Costs)


@dataclass(frozen=True, slots=True)
class PriceAnswer:
    """A lot priced, with advice; ``None`` where there is no answer, and findings that say why."""

    terms: Terms | None
    price: LotPrice | None
    advice: Advice | None
    u_from_scatter: bool
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class CargoAsked:
    """Sublots (``340`` or ``340:500``, seconds and tonnes) and a limit that every clause is read with."""

    sublots: Sequence[str]
    at_least_s: float | None
    at_most_s: float | None = None
    sublot_at_least_s: float | None = None
    counts_from_s: float | None = None


@dataclass(frozen=True, slots=True)
class CargoAnswer:
    """One cargo under each clause, side by side."""

    sublots: tuple[Sublot, ...]
    readings: tuple[ClauseReading, ...]
    findings: tuple[Finding, ...]


def _stop(code: str, field: str, values: Mapping[str, Value]) -> Finding:
    return Finding(code, Where(field=field), Severity.STOP, values)


def price_for(asked: PriceAsked, read: ReadTerms) -> PriceAnswer:
    """Price one lot under terms.

    Parameters
    ----------
    asked : PriceAsked
    read : ReadTerms
        As read from a file, or as they stand in the records.
    """
    found = list(read.findings)
    terms = read.terms
    lot = _lot(asked, found)
    factors = _factors(asked.factors, found)
    if terms is None or lot is None or any(f.code in _OWN for f in found):
        return PriceAnswer(terms, None, None, u_from_scatter=False, findings=tuple(found))
    on = asked.on or terms.as_of
    grain = Grain(asked.material, asked.grain_class, factors)
    made = outlets_of(terms, grain, on)
    found += made.findings
    if not made.outlets:
        found.append(_stop("price-no-offer", "terms", {"day": on.isoformat() if on else ""}))
        return PriceAnswer(terms, None, None, u_from_scatter=False, findings=tuple(found))
    material = asked.material or next((c.material for c in terms.contracts if c.material), None)
    if material is not None:
        lot = replace(lot, law=LawLot(lot.name, material, factors))
    law = asked.jurisdiction or terms.jurisdiction
    price = price_lot(made.outlets, lot, jurisdiction=law, on=on, turned_away_per_t=asked.turned_away_per_t)
    scatter = asked.u_s is None and lot.u_s is not None
    advice = advise(price, costs_under(terms, asked.costs), on=on)
    return PriceAnswer(terms, price, advice, scatter, tuple(found))


def costs_under(terms: Terms, asked: Costs) -> Costs:
    """Costs as asked with, and where nothing was said those that the terms state."""
    retest = terms.retest_cost if asked.retest is None else asked.retest
    keeping = terms.storage_cost if asked.storage_per_t_month is None else asked.storage_per_t_month
    return replace(asked, retest=retest, storage_per_t_month=keeping)


_OWN: Final = frozenset({"number-unreadable", "number-range", "factor-unreadable", "value-illegal"})


def _lot(asked: PriceAsked, found: list[Finding]) -> Lot | None:
    seconds = parse_seconds(asked.number)
    low, high = legal_range("seconds")
    if seconds is None:
        found.append(_stop("number-unreadable", "seconds", {"text": asked.number[:40]}))
        return None
    if not low <= seconds.value_s <= high:
        found.append(
            _stop("number-range", "seconds", {"seconds": seconds.value_s, "low_s": low, "high_s": high})
        )
        return None
    for name, value, unit in (("tonnes", asked.tonnes, "t"), ("u_s", asked.u_s, "s")):
        if value is not None and not 0.0 < value < 1e7:
            found.append(of_range(OutOfRange(name, value, 0.0, 1e7, unit), Where(field=name)))
            return None
    u = asked.u_s
    if u is None and seconds.kind is Kind.EXACT:
        u = DEFAULT_SCATTER.mean_sd_s(seconds.value_s)
    return Lot(
        asked.number, seconds.value_s, seconds.kind, u if seconds.kind is Kind.EXACT else None,
        asked.tonnes, asked.profile, asked.as_is,
    )  # fmt: skip


def _factors(texts: Sequence[str], found: list[Finding]) -> dict[str, float]:
    out: dict[str, float] = {}
    for text in texts:
        key, _, given = text.partition("=")
        factor, value = FACTORS.get(key.strip()), typed_number(given)
        if factor is None or factor.key == "fn_s" or value is None or not factor.low <= value <= factor.high:
            names = ", ".join(k for k in FACTORS if k != "fn_s")
            found.append(_stop("factor-unreadable", "factor", {"text": text[:60], "names": names}))
        else:
            out[factor.key] = value
    return out


def cargo_for(asked: CargoAsked) -> CargoAnswer:
    """Judge one cargo by every clause with the same limit."""
    sublots: list[Sublot] = []
    found: list[Finding] = []
    for text in asked.sublots:
        number, _, mass = text.partition(":")
        seconds = parse_seconds(number)
        tonnes = typed_number(mass) if mass else 1.0
        low, high = legal_range("seconds")
        if seconds is None or tonnes is None or not tonnes > 0 or not low <= seconds.value_s <= high:
            found.append(_stop("number-unreadable", "sublot", {"text": text[:40]}))
        elif seconds.kind is not Kind.EXACT:
            found.append(_stop("sublot-censored", "sublot", {"text": text[:40]}))
        else:
            sublots.append(Sublot(seconds.value_s, tonnes))
    if asked.at_least_s is None and asked.at_most_s is None:
        found.append(_stop("limits-none", "limit", {}))
    if found:
        return CargoAnswer(tuple(sublots), (), tuple(found))
    try:
        readings = clauses_side_by_side(
            sublots, asked.at_least_s, asked.at_most_s,
            sublot_at_least=asked.sublot_at_least_s, counts_from=asked.counts_from_s,
        )  # fmt: skip
    except NoAnswer as cause:
        return CargoAnswer(tuple(sublots), (), (_stop(cause.code, "cargo", cause.values),))
    return CargoAnswer(tuple(sublots), readings, ())
