"""Issued papers out of the records again: the same data, and so the same bytes."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace

from lodestarch.common.errors import UnknownName
from lodestarch.records.issue import Proof
from lodestarch.records.tables import Document
from lodestarch.records.unit import View
from lodestarch.report.issued_paper import IssuedPaper, LogProof, SaltedNames

__all__ = ["document_numbered", "number_of", "paper_as_issued", "paper_now", "proof_values", "successor_of"]


def number_of(site: str, document: str) -> str:
    """The number on a paper.

    Examples
    --------
    >>> number_of("lab", "d12")
    'lab-d12'
    """
    return f"{site}-{document}"


def document_numbered(view: View, number: str) -> Document:
    """The document that a number names; raises UnknownName."""
    prefix = number_of(view.site, "")
    found = view.get(Document, number.removeprefix(prefix)) if number.startswith(prefix) else None
    if found is None:
        raise UnknownName("paper", number, ())
    return found


def proof_values(proof: Proof) -> LogProof:
    """A proof of the records in the form in which it stands on papers."""
    path = tuple(node.hex() for node in proof.inclusion.path)
    return LogProof(proof.body, proof.inclusion.index, proof.inclusion.size, path, proof.root_body)


def _names(view: View, document: str, part: str) -> SaltedNames | None:
    kept = view.document_names(document, part)
    if kept is None or not isinstance(kept[1], Mapping):
        return None
    return SaltedNames(kept[0], dict(kept[1]))


def paper_as_issued(view: View, document: Document, proof: Proof | None = None) -> IssuedPaper:
    """The data of a paper as they were issued; names that were erased meanwhile are gone.

    Raises
    ------
    UnknownName
        When the document says nothing: papers of an earlier version.
    """
    if document.content is None:
        raise UnknownName("paper", document.key, ())
    return IssuedPaper(
        document.kind,
        number_of(view.site, document.key),
        view.site,
        json.loads(document.content),
        _names(view, document.key, "customer"),
        _names(view, document.key, "lab"),
        proof_values(proof or view.document_proof(document.key)),
    )


def successor_of(view: View, document: Document) -> Document | None:
    """The document that took the place of another, if one did."""
    found = view.all(Document, supersedes=document.key)
    return found[-1] if found else None


def paper_now(view: View, document: Document) -> IssuedPaper:
    """The data of a paper as it stands now: one that was superseded says so on every page."""
    paper, later = paper_as_issued(view, document), successor_of(view, document)
    if later is None:
        return paper
    return replace(paper, later={"number": number_of(view.site, later.key), "day": later.issued_at[:10]})
