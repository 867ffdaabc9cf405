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
from lodestarch.trade.offer import Judged
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
    offer: str | None = None
    """Whose limit and clause, by id; limits stated beside it go before its own."""


@dataclass(frozen=True, slots=True)
class CargoAnswer:
    """One cargo under each clause, side by side; ``agreed`` is the one that the offer judges by."""

    sublots: tuple[Sublot, ...]
    readings: tuple[ClauseReading, ...]
    findings: tuple[Finding, ...]
    agreed: Judged | None = None


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
    factors, basis = _factors(asked.factors, found)
    if terms is None or lot is None or any(f.code in _OWN for f in found):
        return PriceAnswer(terms, None, None, u_from_scatter=False, findings=tuple(found))
    on = asked.on or terms.as_of
    grain = Grain(asked.material, asked.grain_class, factors, basis)
    made = outlets_of(terms, grain, on)
    found += made.findings
    found += _bases(terms, grain)
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


_BASIS: Final = "protein_basis_pct"
_MOST_BASIS: Final = 25.0


def _factors(texts: Sequence[str], found: list[Finding]) -> tuple[dict[str, float], float | None]:
    """Other factors as typed, and the moisture on which protein is stated."""
    out: dict[str, float] = {}
    basis: float | None = None
    for text in texts:
        key, _, given = text.partition("=")
        factor, value = FACTORS.get(key.strip()), typed_number(given)
        if key.strip() == _BASIS and value is not None and 0.0 <= value <= _MOST_BASIS:
            basis = value
        elif (
            factor is None or factor.key == "fn_s" or value is None or not factor.low <= value <= factor.high
        ):
            names = ", ".join([*(k for k in FACTORS if k != "fn_s"), _BASIS])
            found.append(_stop("factor-unreadable", "factor", {"text": text[:60], "names": names}))
        else:
            out[factor.key] = value
    return out, basis


def _bases(terms: Terms, grain: Grain) -> list[Finding]:
    """Offers on a protein basis, where that of the grain is not stated."""
    if "protein_pct" not in grain.factors or grain.protein_basis_pct is not None:
        return []
    offers = (*terms.contracts, *terms.bids)
    named = [o.id for o in offers if o.stated.protein_basis_pct is not None]
    values: dict[str, Value] = {"offers": ", ".join(named)}
    return [Finding("price-protein-basis", Where(field="factor"), Severity.CHECK, values)] if named else []


def cargo_for(asked: CargoAsked, read: ReadTerms | None = None) -> CargoAnswer:
    """Judge one cargo by every clause with the same limit, and by the one of an offer where it is named."""
    sublots: list[Sublot] = []
    found: list[Finding] = []
    asked, agreed = _clause_of(asked, read, found)
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
    return CargoAnswer(tuple(sublots), readings, (), agreed)


def _clause_of(
    asked: CargoAsked, read: ReadTerms | None, found: list[Finding]
) -> tuple[CargoAsked, Judged | None]:
    """The question with the limits of the offer that it names, and how that offer judges them."""
    if asked.offer is None:
        return asked, None
    terms = None if read is None else read.terms
    offers = () if terms is None else (*terms.contracts, *terms.bids)
    offer = next((o for o in offers if o.id == asked.offer), None)
    clause = None if offer is None else next((c for c in offer.clauses if c.factor == "fn_s"), None)
    if offer is None:
        names = ", ".join(o.id for o in offers)
        found.append(_stop("retest-offer-unknown", "offer", {"offer": asked.offer, "offers": names}))
    elif clause is None:
        found.append(_stop("retest-offer-no-limit", "offer", {"offer": asked.offer}))
    if clause is None:
        return asked, None
    stated = asked.at_least_s is not None or asked.at_most_s is not None
    least = clause.sublot_at_least if asked.sublot_at_least_s is None else asked.sublot_at_least_s
    return replace(
        asked,
        at_least_s=asked.at_least_s if stated else clause.at_least,
        at_most_s=asked.at_most_s if stated else clause.at_most,
        sublot_at_least_s=least,
        counts_from_s=asked.counts_from_s if stated else clause.counts_from,
    ), clause.judged
