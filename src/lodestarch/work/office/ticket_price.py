"""What one ticket brings under the terms that stand, for those who may see prices."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.common.provenance import Provenance
from lodestarch.method.reading import Kind
from lodestarch.plan.priced_loads import PricedLoad
from lodestarch.records.engine import Records
from lodestarch.records.tables import Load, Sample
from lodestarch.records.unit import Unit, View
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter_for
from lodestarch.work.bench.sample_named import party_named
from lodestarch.work.bench.ticket import TicketInWork, tickets_in_work
from lodestarch.work.office.price import PriceAnswer, PriceAsked, price_for
from lodestarch.work.office.retests_combined import retests_of
from lodestarch.work.office.terms_kept import read_kept, standing_terms
from lodestarch.work.office.told_prices import TermsSource, Told, tell, told_lines, told_of_load
from lodestarch.work.people.permissions import is_allowed

__all__ = ["TicketPrice", "tell_price", "ticket_price"]

_SIGN: Final = {Kind.EXACT: "", Kind.AT_OR_BELOW: "<=", Kind.ABOVE: ">"}
_USUAL_T: Final = 25.0
"""One truck load, where nothing is on record of the ticket. [t]  A choice of ours, said on the page."""
_LONGEST: Final = 200


@dataclass(frozen=True, slots=True)
class TicketPrice:
    """A ticket priced.

    Parameters
    ----------
    answer : PriceAnswer
    source : TermsSource
    tonnes_known : bool
        The load is on record; otherwise the usual one is taken.
    by_rule : bool
        Priced at the number that counts with its retests.
    told : tuple of Told
        What was told of it before, the latest first.
    """

    answer: PriceAnswer
    source: TermsSource
    tonnes_known: bool
    by_rule: bool
    told: tuple[Told, ...]


def ticket_price(view: View, ticket: TicketInWork, *, roles: tuple[str, ...], on: date) -> TicketPrice | None:
    """Price a ticket that is judged.

    Parameters
    ----------
    view : View
    ticket : TicketInWork
    roles : tuple of str
        Of whoever looks.
    on : date
        Day of the offers.

    Returns
    -------
    TicketPrice or None
        ``None``: the person may not see prices, no terms stand, or there is no result that counts.
    """
    result = ticket.result
    if not is_allowed("price.see", roles) or result is None or result["mean_s"] is None:
        return None
    kept = standing_terms(view)
    if kept is None or result["status"] in {"held", "none"}:
        return None
    story = retests_of(view, ticket.sample)
    counts = None if story is None else story.counts_s
    read = read_kept(kept)
    # Invented terms stand on their invented day.
    if read.terms is not None and read.terms.provenance is Provenance.INVENTED and read.terms.as_of:
        on = read.terms.as_of
    kind = Kind(result["kind"])
    load = view.get(Load, ticket.sample.ticket or ticket.sample.key)
    tonnes = None if load is None else load.tonnes
    asked = PriceAsked(
        number=str(counts) if counts is not None else f"{_SIGN[kind]}{result['mean_s']}",
        u_s=result["u_s"],
        tonnes=_USUAL_T if tonnes is None else tonnes,
        profile=str(result["profile"]),
        as_is=result["comparable_key"] == ticket.profile.as_is_key,
        material=ticket.sample.material,
        on=on,
    )
    answer = price_for(asked, read)
    return TicketPrice(
        _named(answer, ticket.name),
        TermsSource(kept.source, kept.sha256, kept.key),
        tonnes is not None,
        counts is not None,
        told_lines(view, sample=ticket.sample.key),
    )


def _named(answer: PriceAnswer, name: str) -> PriceAnswer:
    if answer.price is None:
        return answer
    return replace(answer, price=replace(answer.price, lot=replace(answer.price.lot, name=name)))


def tell_price(
    records: Records, sent: Sent, code: str, asked_by: str, *, person: str, at: datetime
) -> Entered:
    """Keep what a ticket was said to bring, to whom, and under which version of the terms."""

    def write(unit: Unit, sample: Sample) -> Entered:
        where = Where(ticket=sample.ticket, sample=sample.key, field="asked_by")
        if not asked_by.strip() or len(asked_by) > _LONGEST:
            return not_taken(sample.key, [Finding("asked-by-empty", where, Severity.STOP)])
        (ticket,) = tickets_in_work(unit, [sample.key])
        moment = sent.moment(at)
        priced = ticket_price(unit, ticket, roles=unit.roles_of(unit.person), on=moment.date())
        if priced is None or priced.answer.price is None or priced.answer.advice is None:
            return not_taken(sample.key, [Finding("price-nothing-told", where, Severity.STOP)])
        party = party_named(unit, asked_by, "other")
        load = PricedLoad(priced.answer.price, priced.answer.advice, ())
        said = {**told_of_load(load), "party": party}
        tell(unit, said, priced.source, moment, sample=sample.key)
        return done(unit, sent, "price told", sample.key, at)

    return enter_for(records, sent, code, "price.see", write, person=person, at=at)
