"""A paper or bundle that somebody hands in, held against the records or against heads kept elsewhere."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lodestarch import __version__
from lodestarch.common.canonical import sha256_hex
from lodestarch.common.errors import LodestarchError, UnknownName
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.records.engine import Records
from lodestarch.records.unit import View
from lodestarch.report.attached import attached_in_pdf
from lodestarch.report.evidence import EVIDENCE, evidence_of, is_whole, members_of, other_members
from lodestarch.report.issued import files_of
from lodestarch.report.issued_html import data_in_html
from lodestarch.report.issued_paper import IssuedPaper, NotAPaper, paper_from_json
from lodestarch.report.known_heads import KnownHeads
from lodestarch.report.paper_proof import Check, names_gone, proof_checks, rooted_of
from lodestarch.work.issuing.papers import document_numbered, number_of, successor_of

__all__ = ["Checked", "check_file", "kind_of"]

_ENDINGS: Final = ((b"%PDF-", "pdf"), (b"PK\x03\x04", "zip"), (b"<!doctype html", "html"), (b"{", "json"))


@dataclass(frozen=True, slots=True)
class Checked:
    """What came of it.

    Parameters
    ----------
    name : str
        Of the file.
    file_kind : str or None
        ``pdf``, ``html``, ``json``, ``zip``; ``None`` where it is none of these.
    number, kind : str or None
        Of the paper, as it says.
    checks : tuple of Check
        In the order in which they were made.
    held_against : str or None
        ``records``, ``heads``, or ``None``: nothing was there to hold it against.
    superseded_by : str or None
        Number of the paper that took its place.
    findings : tuple of Finding
    """

    name: str
    file_kind: str | None
    number: str | None
    kind: str | None
    checks: tuple[Check, ...]
    held_against: str | None
    superseded_by: str | None
    findings: tuple[Finding, ...]

    @property
    def holds(self) -> bool:
        """Everything that was looked at holds, and there was something to hold it against."""
        stops = any(f.severity is Severity.STOP for f in self.findings)
        return not stops and bool(self.checks) and all(c.holds for c in self.checks)


def kind_of(data: bytes) -> str | None:
    """What a file is by its first bytes."""
    return next((kind for sign, kind in _ENDINGS if data.startswith(sign)), None)


def _paper_in(data: bytes, file_kind: str) -> bytes | None:
    if file_kind == "pdf":
        return attached_in_pdf(data)
    if file_kind == "html":
        return data_in_html(data)
    if file_kind == "zip":
        return evidence_of(data)
    return data


def _remade(paper: IssuedPaper, data: bytes, file_kind: str) -> bool:
    """The file is, byte for byte, what its data give."""
    if file_kind == "zip":
        return is_whole(paper, data)
    if paper.kind == EVIDENCE:
        return data == paper.json_bytes()
    return files_of(paper).by_ending().get(file_kind) == data


def _against_records(view: View, paper: IssuedPaper, data: bytes) -> tuple[list[Check], str | None]:
    try:
        document = document_numbered(view, paper.number)
        proof = view.document_proof(document.key)
    except (UnknownName, LodestarchError):
        return [Check("in-records", False)], None
    same = proof.body == paper.proof.entry and proof.root_body == paper.proof.root_entry
    printed = _printed(view, document.key)
    later = successor_of(view, document)
    checks = [Check("in-records", same), Check("bytes-issued", sha256_hex(data) in printed)]
    return checks, None if later is None else number_of(view.site, later.key)


def _printed(view: View, document: str) -> set[str]:
    """Digests of every file in which a document was handed over."""
    found: set[str] = set()
    for entry in view.history(f"documents:{document}"):
        if isinstance(entry, Mapping) and entry.get("kind") == "document.printed":
            files = json.loads(json.dumps(entry["data"]))["files"]
            found.update(files.values())
    return found


def _findings(checks: list[Check], where: Where, values: Mapping[str, Value]) -> list[Finding]:
    return [Finding(f"report-{c.code}", where, Severity.STOP, dict(values)) for c in checks if not c.holds]


def check_file(name: str, data: bytes, *, records: Records | None, heads: KnownHeads | None) -> Checked:
    """Check a certificate, letter (PDF, HTML, JSON) or bundle of evidence.

    Parameters
    ----------
    name : str
        Of the file, for findings.
    data : bytes
        All of it.
    records : Records or None
        The lab's records, where they are at hand.
    heads : KnownHeads or None
        Heads and roots of its log that were kept elsewhere.

    Returns
    -------
    Checked
        Never raises for what is in the file.
    """
    where, file_kind = Where(source=name), kind_of(data)
    inner = None if file_kind is None else _paper_in(data, file_kind)
    try:
        paper = paper_from_json(inner) if inner is not None else None
    except NotAPaper:
        paper = None
    if paper is None or file_kind is None:
        found = (Finding("report-unreadable", where, Severity.STOP),)
        return Checked(name, file_kind, None, None, (), None, None, found)
    return _checked(name, data, file_kind, paper, records, heads)


def _checked(
    name: str,
    data: bytes,
    file_kind: str,
    paper: IssuedPaper,
    records: Records | None,
    heads: KnownHeads | None,
) -> Checked:
    where = Where(source=name)
    checks = list(proof_checks(paper))
    found: list[Finding] = []
    later, held = None, None
    if file_kind == "zip":
        checks += other_members(paper, members_of(data))
    if records is not None:
        with records.view() as view:
            more, later = _against_records(view, paper, data)
        checks, held = checks + more, "records"
    if records is None or not all(c.holds for c in checks):
        # Without records the bytes are proved by making them again; with them that tells what was changed.
        checks.append(Check("bytes", _same_bytes(paper, data, file_kind)))
    if heads is not None:
        known = heads.holds(rooted_of(paper))
        if known is None:
            found.append(Finding("report-head-apart", where, Severity.STOP, {"seq": rooted_of(paper).seq}))
        else:
            checks.append(Check("root", known))
            held = held or "heads"
    if records is None and heads is None:
        found.append(Finding("report-nothing-to-hold-against", where, Severity.STOP))
    values: dict[str, Value] = {"number": paper.number[:80]}
    found += _findings(checks, where, values)
    found += _notes(paper, checks, later, where)
    return Checked(name, file_kind, paper.number, paper.kind, tuple(checks), held, later, tuple(found))


def _same_bytes(paper: IssuedPaper, data: bytes, file_kind: str) -> bool:
    try:
        return _remade(paper, data, file_kind)
    except (LodestarchError, ValueError, RuntimeError):  # what cannot be set was never set
        return False


def _notes(paper: IssuedPaper, checks: list[Check], later: str | None, where: Where) -> list[Finding]:
    found = []
    made_by = paper.statement.get("software")
    if made_by != __version__ and any(c.code == "bytes" and not c.holds for c in checks):
        values: dict[str, Value] = {"made_by": str(made_by)[:20], "here": __version__}
        found.append(Finding("report-other-version", where, Severity.NOTE, values))
    if later is not None:
        values = {"number": paper.number[:80], "later": later}
        found.append(Finding("report-superseded", where, Severity.CHECK, values))
    if names_gone(paper):
        found.append(Finding("report-names-erased", where, Severity.CHECK))
    return found
