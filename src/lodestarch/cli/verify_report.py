"""``verify-report``: a paper or bundle held against the records, or against heads kept elsewhere."""

from __future__ import annotations

from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, RecordsAddress
from lodestarch.cli.output import emit_json, finish, say, show_findings
from lodestarch.report.known_heads import KnownHeads, NoHeads, read_heads
from lodestarch.words.catalogues import term
from lodestarch.work.issuing.as_json import checked_as_dict
from lodestarch.work.issuing.check_file import Checked, check_file

if TYPE_CHECKING:
    from lodestarch.records.engine import Records

__all__ = ["verify_report"]


def _heads(path: Path | None) -> KnownHeads | None:
    if path is None:
        return None
    try:
        return read_heads(bytes_of(path))
    except NoHeads:
        raise typer.BadParameter(f"{path} holds no heads", param_hint="--heads") from None


def _records(address: str, stack: ExitStack, *, asked: bool) -> Records | None:
    """The records, where they are; none where nobody named them and there are none here."""
    from lodestarch.records.engine import open_records

    if not asked and "://" not in address and not Path(address).exists():
        return None
    return stack.enter_context(
        open_records(address, create=False, mode="read", clock=lambda: datetime.now(UTC))
    )


def verify_report(
    file: Annotated[Path, typer.Argument(help="PDF, HTML, JSON or bundle as it was handed over.")],
    records: RecordsAddress = DEFAULT_RECORDS,
    heads: Annotated[
        Path | None,
        typer.Option(
            help="Heads of the log kept elsewhere (certificate --write-heads, or a backup's manifest)."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Check a paper or bundle; a changed byte anywhere is found, and it is said what does not hold."""
    known, data = _heads(heads), bytes_of(file)
    with ExitStack() as stack:
        kept = _records(records, stack, asked=records != DEFAULT_RECORDS)
        checked = check_file(file.name, data, records=kept, heads=known)
    if as_json:
        emit_json(checked_as_dict(checked), checked.findings)
    else:
        _show(checked)
    finish(checked.findings, answered=checked.holds)


def _show(checked: Checked) -> None:
    if checked.number is not None:
        say(
            term(
                "issuing.checked",
                name=checked.name,
                kind=term(f"issuing.kind-{checked.kind}"),
                number=checked.number,
            )
        )
    for check in checked.checks:
        said = term("issuing.holds" if check.holds else "issuing.holds-not")
        say(f"  {said:<8}  {term(f'issuing.check-{check.code}')}")
    if checked.holds:
        say(term(f"issuing.all-{checked.held_against}"))
    show_findings(checked.findings)
