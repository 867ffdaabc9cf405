"""Checks of an issued paper by itself: what it states against its entry, and the entry against a root."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lodestarch.common.canonical import canonical_text
from lodestarch.common.merkle import InclusionProof, holds, leaf_hash
from lodestarch.report.issued_paper import IssuedPaper, SaltedNames

__all__ = ["Check", "Rooted", "names_gone", "proof_checks", "rooted_of"]


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was looked at: its code, and whether it holds."""

    code: str
    holds: bool


@dataclass(frozen=True, slots=True)
class Rooted:
    """The entry that holds the root: site, number, digest."""

    site: str
    seq: int
    digest: str


def _parsed(text: str) -> Mapping[str, Any]:
    try:
        body = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return body if isinstance(body, Mapping) else {}


def _issued_row(entry: Mapping[str, Any]) -> Mapping[str, Any]:
    """The document as its entry has it; empty where the entry issues none."""
    try:
        change = entry["data"]["changes"][0]
        fits = entry["kind"] == "document.issued" and change["table"] == "documents"
        return dict(change["row"]) if fits else {}
    except (KeyError, TypeError, IndexError, ValueError):
        return {}


def _digest_of_names(given: SaltedNames) -> str:
    try:
        salt = bytes.fromhex(given.salt)
    except ValueError:
        return ""
    return hashlib.sha256(salt + canonical_text(given.names).encode("utf-8")).hexdigest()


def _names_hold(paper: IssuedPaper, entry: Mapping[str, Any], document: str) -> bool:
    """Every part of the names that is there has the digest that the log has."""
    try:
        said = {p["key"]: p["digest"] for p in entry["data"].get("personal", ()) if p["kind"] == "documents"}
    except (KeyError, TypeError, AttributeError):
        return False
    parts = {"customer": paper.customer, "lab": paper.lab}
    return all(
        given is None or said.get(f"{document}/{part}") == _digest_of_names(given)
        for part, given in parts.items()
    )


def names_gone(paper: IssuedPaper) -> bool:
    """Tell whether the paper was issued with names that are not on it any more."""
    try:
        said = {p["key"].partition("/")[2] for p in _parsed(paper.proof.entry)["data"].get("personal", ())}
    except (KeyError, TypeError, AttributeError):
        return False
    return any(
        part in said for part, given in (("customer", paper.customer), ("lab", paper.lab)) if given is None
    )


def _statement_holds(paper: IssuedPaper, entry: Mapping[str, Any], row: Mapping[str, Any]) -> bool:
    text = canonical_text(paper.statement)
    return (
        row.get("content") == text
        and row.get("content_sha256") == paper.digest
        and row.get("kind") == paper.kind
        and entry.get("site") == paper.site
        and paper.number == f"{paper.site}-{row.get('key')}"
        and paper.statement.get("number") == paper.number
        and paper.statement.get("site") == paper.site
        and paper.statement.get("issued_at") == entry.get("at") == row.get("issued_at")
    )


def _inclusion_holds(paper: IssuedPaper) -> bool:
    root = _parsed(paper.proof.root_entry)
    try:
        path = tuple(bytes.fromhex(node) for node in paper.proof.path)
        wanted = bytes.fromhex(root["data"]["root"])
        first, last = int(root["data"]["from"]), int(root["data"]["to"])
    except (ValueError, KeyError, TypeError):
        return False
    seq = _parsed(paper.proof.entry).get("seq")
    placed = paper.proof.size == last - first + 1 and seq == first + paper.proof.index
    proof = InclusionProof(paper.proof.index, paper.proof.size, path)
    is_root = root.get("kind") == "log.rooted" and root.get("site") == paper.site
    return placed and is_root and holds(leaf_hash(paper.proof.entry.encode("utf-8")), proof, wanted)


def proof_checks(paper: IssuedPaper) -> tuple[Check, ...]:
    """Check a paper's data in themselves.

    Returns
    -------
    tuple of Check
        ``statement``: what it states is what its entry holds. ``names``: so are the names. ``inclusion``: the
        entry lies under the root.
    """
    entry = _parsed(paper.proof.entry)
    row = _issued_row(entry)
    try:
        statement = _statement_holds(paper, entry, row)
    except ValueError:  # what no canonical text exists for was never issued
        statement = False
    return (
        Check("statement", statement),
        Check("names", _names_hold(paper, entry, str(row.get("key")))),
        Check("inclusion", _inclusion_holds(paper)),
    )


def rooted_of(paper: IssuedPaper) -> Rooted:
    """The entry that the proof leads to, with its digest."""
    root = _parsed(paper.proof.root_entry)
    seq = root.get("seq")
    digest = hashlib.sha256(paper.proof.root_entry.encode("utf-8")).hexdigest()
    return Rooted(paper.site, seq if isinstance(seq, int) else 0, digest)
