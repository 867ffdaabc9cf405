"""Issued papers, and their check, as JSON keys (``docs/json.md``)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from lodestarch.common.canonical import sha256_hex
from lodestarch.common.findings import Finding
from lodestarch.report.paper_proof import Check
from lodestarch.work.issuing.certificate import IssuedNow
from lodestarch.work.issuing.check_file import Checked
from lodestarch.work.issuing.evidence import BundleMade

__all__ = ["bundle_as_dict", "checked_as_dict", "findings_of", "issued_as_dict"]


def _issued(one: IssuedNow, files: Iterable[str]) -> dict[str, Any]:
    return {
        "asked": one.code,
        "sample": one.sample,
        "number": one.number,
        "sha256": None if one.paper is None else one.paper.digest,
        "superseded": None if one.superseded is None else one.superseded[0],
        "files": list(files),
    }


def issued_as_dict(papers: Iterable[tuple[IssuedNow, Iterable[str]]]) -> dict[str, Any]:
    """Papers with the files that were written of each."""
    listed = [_issued(one, files) for one, files in papers]
    return {
        "asked_count": len(listed),
        "issued_count": sum(one["number"] is not None for one in listed),
        "papers": listed,
    }


def bundle_as_dict(made: BundleMade, path: str | None) -> dict[str, Any]:
    """A bundle of evidence."""
    return {
        "asked": made.code,
        "sample": made.sample,
        "number": made.number,
        "file": path,
        "sha256": None if made.data is None else sha256_hex(made.data),
        "members": list(made.members),
    }


def findings_of(papers: Iterable[IssuedNow]) -> list[Finding]:
    """All findings, in the order of the papers."""
    return [f for one in papers for f in one.findings]


def _checks(checks: Iterable[Check]) -> Mapping[str, bool]:
    return {c.code.replace("-", "_"): c.holds for c in checks}


def checked_as_dict(one: Checked) -> dict[str, Any]:
    """What came of checking a file."""
    names = (
        "statement",
        "names",
        "inclusion",
        "in_records",
        "bytes_issued",
        "bytes",
        "members",
        "log_extract",
        "root",
    )
    met = _checks(one.checks)
    return {
        "file": one.name,
        "file_kind": one.file_kind,
        "holds": one.holds,
        "number": one.number,
        "kind": one.kind,
        "held_against": one.held_against,
        "superseded_by": one.superseded_by,
        "checks": {name: met.get(name) for name in names},
    }
