"""Issuing the letter to a grower: the number, how sure, what to do next; prices only where asked for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.decide.odds import LotState, state_of
from lodestarch.method.reading import Kind
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Document, Party, RetainedSample
from lodestarch.records.unit import View
from lodestarch.sheets.terms import ReadTerms
from lodestarch.words.issued.letter_statement import LETTER_FORM, Again, Letter, LetterLimit, LetterPrice
from lodestarch.words.issued.statement import Certificate
from lodestarch.words.money import place_unit
from lodestarch.work.bench.choices import limits_read_out
from lodestarch.work.issuing.certificate import CERTIFICATE, IssuedNow, put_out, standing_paper
from lodestarch.work.issuing.gather import Gathered, gather
from lodestarch.work.issuing.papers import number_of
from lodestarch.work.office.price import PriceAsked, price_for
from lodestarch.work.people.permissions import require_allowed, unit_for
from lodestarch.work.pocket.odds import OddsAsked, odds_for

__all__ = ["LETTER", "LetterAsked", "issue_letter"]

LETTER: Final = "letter"
_FEAR_SPROUT_S: Final = 200.0
"""Number at or below which the letter speaks of sprouted grain. [s]  A setting of ours: it adds cautions."""
_MOST_PRICES: Final = 3
_SIGN: Final = {Kind.EXACT: "", Kind.AT_OR_BELOW: "<=", Kind.ABOVE: ">"}


@dataclass(frozen=True, slots=True)
class LetterAsked:
    """What is asked for.

    Parameters
    ----------
    code : str
        Ticket or sample.
    limit : LetterLimit or None
        The limit to hold the number against; else the first of those that the bench reads out.
    terms : ReadTerms or None
        Buyers' terms; prices are printed only where the customer asked for them.
    prices_asked : bool
        The customer asked for prices in this letter. One who always does is marked so in the records.
    language : str or None
        Of the letter; the lab's own where left out.
    """

    code: str
    limit: LetterLimit | None = None
    terms: ReadTerms | None = None
    prices_asked: bool = False
    language: str | None = None


def _limit(view: View, asked: LetterAsked) -> LetterLimit | None:
    if asked.limit is not None:
        return asked.limit
    known = limits_read_out(view)
    return LetterLimit(known[0].buyer, known[0].at_least_s, known[0].at_most_s) if known else None


def _again(stated: Certificate, limit: LetterLimit | None, other_u_s: float | None) -> Again | None:
    """What another test may say; ``None`` where the result's uncertainty is not evaluated."""
    result = stated.result
    if result.u_s is None or result.kind != Kind.EXACT:
        return None
    sd_s = math.hypot(result.u_s, result.u_s if other_u_s is None else other_u_s)
    if limit is None:
        return Again(sd_s, None, other_u_s is not None)
    got = odds_for(
        OddsAsked(
            (f"{result.seconds:g}",),
            f"{result.u_s:.6g}",
            limit.at_least_s,
            limit.at_most_s,
            other_u_s=other_u_s,
        )
    )
    if not got.loads:
        return Again(sd_s, None, other_u_s is not None)
    one = got.loads[0]
    p = one.p_same_lab if other_u_s is None else one.p_other_lab
    return Again(sd_s, None if p is None else round(p, 6), other_u_s is not None)


def _state(stated: Certificate, limit: LetterLimit | None, again: Again | None) -> str:
    if limit is None:
        return "no-limit"
    result = stated.result
    low, high = limit.at_least_s, limit.at_most_s
    if result.kind == Kind.AT_OR_BELOW and low is not None and result.seconds < low:
        return LotState.UNDER.value
    if result.kind == Kind.ABOVE and (low is None or result.seconds >= low) and high is None:
        return LotState.MAKES_IT.value
    if again is None or again.p is None:
        return LotState.NOT_EVALUATED.value
    state = state_of(again.p)
    if state is LotState.UNDER and high is not None and result.seconds > high:
        return LotState.OVER.value
    return state.value


def _keep_until(view: View, sample: str) -> str | None:
    days = [r.destroy_by for r in view.of_samples(RetainedSample, [sample]) if r.destroyed_on is None]
    return max((d for d in days if d), default=None)


def _prices(
    view: View, asked: LetterAsked, gathered: Gathered, roles: tuple[str, ...]
) -> tuple[tuple[LetterPrice, ...], str | None, tuple[Finding, ...]]:
    """Prices at the best buyers; none where the customer asked for none."""
    stated, where = gathered.certificate, Where(sample=gathered.certificate.item.sample)
    if asked.terms is None:
        return (), None, ()
    party = view.get(Party, gathered.party) if gathered.party else None
    if not asked.prices_asked and not (party is not None and party.wants_price):
        return (), None, (Finding("letter-price-not-asked", where, Severity.CHECK),)
    require_allowed("price.see", roles)
    result = stated.result
    number = f"{_SIGN[Kind(result.kind)]}{result.seconds:g}"
    answer = price_for(
        PriceAsked(
            number,
            result.u_s,
            stated.item.tonnes or 25.0,
            stated.method.profile,
            result.as_is,
            stated.item.material,
        ),
        asked.terms,
    )
    if answer.price is None or answer.terms is None:
        return (), None, answer.findings
    place = place_unit(answer.terms)
    best = sorted(
        (r for r in answer.price.rows if r.net_per_t is not None), key=lambda r: -(r.net_per_t or 0.0)
    )[:_MOST_PRICES]
    lines = tuple(
        LetterPrice(
            r.outlet.buyer, round(place.of(r.net_per_t or 0.0), 4), place.currency, place.per,
            None if r.p_makes_it is None else round(r.p_makes_it, 6),
        )
        for r in best
    )  # fmt: skip
    return lines, answer.terms.as_of.isoformat() if answer.terms.as_of else None, ()


def issue_letter(records: Records, asked: LetterAsked, *, person: str, at: datetime) -> IssuedNow:
    """Issue the letter about one sample; an earlier letter about it is marked as superseded.

    Returns
    -------
    IssuedNow
        Without paper for what stops a certificate as well. ``letter-price-not-asked`` (check): terms were
        given, and this customer asked for no price; none is printed.

    Raises
    ------
    NotAllowed
    """
    with unit_for(records, person, at, "document.issue") as unit:
        gathered, found = gather(unit, asked.code, unit.person, asked.language)
        if gathered is None:
            return IssuedNow(asked.code, None, None, None, None, found)
        stated = gathered.certificate
        sample = stated.item.sample
        limit = _limit(unit, asked)
        again = _again(stated, limit, gathered.settings.other_u_s)
        prices, as_of, more = _prices(unit, asked, gathered, unit.roles_of(unit.person))
        found = (*(f for f in found if f.code != "issue-not-stated"), *more)
        if any(f.severity is Severity.STOP for f in found):
            return IssuedNow(asked.code, sample, None, None, None, found)
        certificate = standing_paper(unit, CERTIFICATE, sample)
        letter = Letter(
            form=LETTER_FORM, number=number_of(unit.site, unit.next_key(Document, "d")), site=unit.site,
            issued_at=utc_text(at), locale=stated.locale, demonstration=stated.demonstration,
            software=stated.software, lab=stated.lab, sample=sample, ticket=stated.item.ticket,
            material=stated.item.material, variety=stated.item.variety, tonnes=stated.item.tonnes,
            received_at=stated.item.received_at, seconds=stated.result.seconds, kind=stated.result.kind,
            tubes=stated.result.tubes, basis_pct=None if stated.result.as_is else stated.method.basis_pct,
            limit=limit, again=again, state=_state(stated, limit, again), sprouted=_sprouted(unit, stated),
            certificate=None if certificate is None else number_of(unit.site, certificate.key),
            keep_until=_keep_until(unit, sample), prices=prices, terms_as_of=as_of,
        )  # fmt: skip
        standing = standing_paper(unit, LETTER, sample)
        paper, files, superseded = put_out(unit, LETTER, letter, gathered, standing)
        return IssuedNow(asked.code, sample, paper, files, superseded, found)


def _sprouted(view: View, stated: Certificate) -> bool:
    """Sprouted grains were counted, or the number is low enough to speak of them."""
    row = view.open_sample(stated.item.sample).row
    counted = row is not None and row.sprouted_pct is not None and row.sprouted_pct > 0.0
    return counted or (stated.result.kind != Kind.ABOVE and stated.result.seconds <= _FEAR_SPROUT_S)
