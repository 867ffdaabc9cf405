"""``bundle``: evidence for a dispute or a claim, in one archive."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

import typer

from lodestarch.cli.certificate import Issuer, OutFolder
from lodestarch.cli.options import DEFAULT_RECORDS, OUT, AsJson, RecordsAddress
from lodestarch.cli.output import emit_json, finish, say, show_findings
from lodestarch.words.catalogues import term
from lodestarch.work.issuing.as_json import bundle_as_dict
from lodestarch.work.issuing.evidence import make_bundle

__all__ = ["bundle"]


def bundle(
    ticket: Annotated[str, typer.Argument(help="Ticket or sample.")],
    purpose: Annotated[str, typer.Option(help="What it is for: the dispute, the claim.")] = "",
    out: OutFolder = OUT,
    person: Issuer = "keeper",
    records: RecordsAddress = DEFAULT_RECORDS,
    as_json: AsJson = False,
) -> None:
    """Make a bundle of evidence: certificates, raw readings, entries of the log, proofs."""
    from lodestarch.records.engine import open_records

    at = datetime.now(UTC)
    with open_records(records, create=False, clock=lambda: at) as kept:
        made = make_bundle(kept, ticket, purpose=purpose, person=person, at=at)
    path = None
    if made.data is not None and made.file_name is not None:
        out.mkdir(parents=True, exist_ok=True)
        path = out / made.file_name
        path.write_bytes(made.data)
    if as_json:
        emit_json(bundle_as_dict(made, None if path is None else str(path)), made.findings)
    else:
        if path is not None:
            say(term("issuing.issued", number=made.number, asked=made.code, files=str(path)))
            say("  " + ", ".join(made.members))
        show_findings(made.findings)
    finish(made.findings, answered=path is not None)
