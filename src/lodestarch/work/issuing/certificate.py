"""Issuing a certificate: gathered, stated, put into the log, proved, set, and its bytes put into the log."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Document, Release
from lodestarch.records.unit import Unit, View
from lodestarch.report.issued import PaperFiles, files_of
from lodestarch.report.issued_paper import IssuedPaper
from lodestarch.report.plain import from_plain, to_plain
from lodestarch.words.issued.letter_statement import Letter
from lodestarch.words.issued.result_words import result_said
from lodestarch.words.issued.statement import Certificate, Conformity, Replaced
from lodestarch.work.issuing.agreed import Agreed, conformity
from lodestarch.work.issuing.gather import Gathered, gather
from lodestarch.work.issuing.papers import number_of, paper_as_issued, paper_now
from lodestarch.work.people.permissions import unit_for

__all__ = ["CERTIFICATE", "CertificateAsked", "IssuedNow", "issue_certificate", "put_out", "standing_paper"]

CERTIFICATE: Final = "certificate"
_LONGEST: Final = {"reason": 200, "opinion": 1200}
"""Signs of what is typed for a certificate. Settings of ours."""


@dataclass(frozen=True, slots=True)
class CertificateAsked:
    """What is asked for.

    Parameters
    ----------
    code : str
        Ticket or sample.
    agreed : Agreed or None
        A decision rule that was agreed; without one no statement of conformity is made.
    opinion : str
        Only where the customer asked for one.
    reason : str
        Why an earlier certificate of the sample is replaced; needed where one stands.
    language : str or None
        Of the paper; the lab's own where left out.
    """

    code: str
    agreed: Agreed | None = None
    opinion: str = ""
    reason: str = ""
    language: str | None = None


@dataclass(frozen=True, slots=True)
class IssuedNow:
    """What became of it; ``paper`` and ``files`` are ``None`` where findings stop it."""

    code: str
    sample: str | None
    paper: IssuedPaper | None
    files: PaperFiles | None
    superseded: tuple[str, PaperFiles] | None
    """Number of the paper that was replaced, and its files as they say so now."""
    findings: tuple[Finding, ...]

    @property
    def number(self) -> str | None:
        """Of the paper."""
        return None if self.paper is None else self.paper.number


def standing_paper(view: View, kind: str, sample: str) -> Document | None:
    """The paper of a kind that stands for a sample: the latest that no other took the place of."""
    stating = view.documents_stating(kind, [r.key for r in view.all(Release, sample=sample)])
    replaced = {d.supersedes for d in stating}
    standing = [d for d in stating if d.key not in replaced]
    return standing[-1] if standing else None


def _replaced(view: View, was: Document, reason: str, language: str) -> Replaced:
    before = from_plain(Certificate, json.loads(was.content or "{}"), "statement")
    return Replaced(number_of(view.site, was.key), was.issued_at, reason, result_said(before, language))


def _too_long(asked: CertificateAsked, where: Where) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            "entry-too-long", replace(where, field=name), Severity.STOP,
            {"count": len(getattr(asked, name)), "most": most},
        )
        for name, most in _LONGEST.items() if len(getattr(asked, name)) > most
    )  # fmt: skip


def _conform(
    asked: CertificateAsked, gathered: Gathered, where: Where
) -> tuple[Conformity | None, tuple[Finding, ...]]:
    if asked.agreed is None:
        return None, ()
    stated = gathered.certificate
    return conformity(asked.agreed, stated.result, stated.item.received_at, where)


def put_out(
    unit: Unit,
    kind: str,
    statement: Certificate | Letter,
    gathered: Gathered,
    standing: Document | None,
) -> tuple[IssuedPaper, PaperFiles, tuple[str, PaperFiles] | None]:
    """Put a paper into the log, prove it, set it, and keep in which bytes it goes out."""
    names = {"customer": to_plain(gathered.customer), "lab": to_plain(gathered.lab)}
    document, proof = unit.issue_document(
        kind, to_plain(statement), releases=(gathered.release.key,),
        supersedes=None if standing is None else standing.key, names=names,
    )  # fmt: skip
    paper = paper_as_issued(unit, document, proof)
    files = files_of(paper)
    unit.printed(document.key, files.digests())
    superseded = None
    if standing is not None:
        was = files_of(paper_now(unit, standing))
        unit.printed(standing.key, was.digests(), as_superseded=True)
        superseded = (number_of(unit.site, standing.key), was)
    unit.tell(gathered.release.key, "paper", party=gathered.party, document=document.key)
    unit.root()
    return paper, files, superseded


def issue_certificate(records: Records, asked: CertificateAsked, *, person: str, at: datetime) -> IssuedNow:
    """Issue the certificate of one sample.

    Parameters
    ----------
    records : Records
    asked : CertificateAsked
    person : str
        Who issues.
    at : datetime
        When, with time zone.

    Returns
    -------
    IssuedNow
        Without paper where something stops it: no standing release, a profile that is not signed off, no
        name of the lab, a certificate that stands already and no reason to replace it.

    Raises
    ------
    NotAllowed
    """
    with unit_for(records, person, at, "document.issue") as unit:
        gathered, found = gather(unit, asked.code, unit.person, asked.language)
        if gathered is None:
            return IssuedNow(asked.code, None, None, None, None, found)
        base = gathered.certificate
        sample = base.item.sample
        where = Where(ticket=base.item.ticket, sample=sample)
        standing, reason = standing_paper(unit, CERTIFICATE, sample), asked.reason.strip()
        stated, more = _conform(asked, gathered, where)
        found = (*found, *more, *_too_long(asked, where))
        if standing is not None and not reason:
            values = {"number": number_of(unit.site, standing.key)}
            found = (*found, Finding("issue-standing", where, Severity.STOP, values))
        if any(f.severity is Severity.STOP for f in found):
            return IssuedNow(asked.code, sample, None, None, None, found)
        certificate = replace(
            base,
            number=number_of(unit.site, unit.next_key(Document, "d")),
            issued_at=utc_text(at),
            conformity=stated,
            opinion=asked.opinion.strip() or None,
            replaces=None if standing is None else _replaced(unit, standing, reason, base.locale),
        )
        paper, files, superseded = put_out(unit, CERTIFICATE, certificate, gathered, standing)
        return IssuedNow(asked.code, sample, paper, files, superseded, found)
