"""``letter``: the letter to a grower, one page in plain words."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.certificate import (
    Endings,
    Issuer,
    Language,
    OutFolder,
    endings_of,
    show_issued,
    written_of,
)
from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import DEFAULT_RECORDS, OUT, AsJson, RecordsAddress, decimal
from lodestarch.cli.output import finish
from lodestarch.cli.progress import bar
from lodestarch.words.catalogues import term
from lodestarch.words.issued.letter_statement import LetterLimit
from lodestarch.work.issuing.as_json import findings_of
from lodestarch.work.issuing.letter import LetterAsked, issue_letter

__all__ = ["letter"]


def _limit(whose: str, least: str | None, most: str | None) -> LetterLimit | None:
    if least is None and most is None:
        return None
    low, high = (None if text is None else decimal(text) for text in (least, most))
    return LetterLimit(whose, low, high)


def letter(
    tickets: Annotated[list[str], typer.Argument(help="Tickets or samples.")],
    at_least: Annotated[str | None, typer.Option(help="Limit: at least so many seconds.")] = None,
    at_most: Annotated[str | None, typer.Option(help="Limit: at most so many seconds.")] = None,
    whose: Annotated[str, typer.Option(help="Whose limit it is.")] = "your contract",
    terms: Annotated[
        Path | None,
        typer.Option(help="Terms of buyers (docs/terms.md), where the customer asked for prices."),
    ] = None,
    prices_asked: Annotated[
        bool, typer.Option("--prices-asked", help="This customer asked for prices in this letter.")
    ] = False,
    language: Language = None,
    formats: Endings = "pdf,html,json",
    out: OutFolder = OUT,
    person: Issuer = "keeper",
    records: RecordsAddress = DEFAULT_RECORDS,
    as_json: AsJson = False,
) -> None:
    """Issue the letter to a grower: what came out, what it means, what to do next and by when."""
    from lodestarch.records.engine import open_records
    from lodestarch.sheets.terms import read_terms

    endings, limit = endings_of(formats), _limit(whose, at_least, at_most)
    read = None if terms is None else read_terms(bytes_of(terms), terms.name)
    papers = []
    with (
        open_records(records, create=False, clock=lambda: datetime.now(UTC)) as kept,
        bar(term("issuing.progress"), quiet=as_json or len(tickets) < 2) as told,
    ):
        for done, code in enumerate(tickets, 1):
            asked = LetterAsked(code, limit, read, prices_asked, language)
            one = issue_letter(kept, asked, person=person, at=datetime.now(UTC))
            papers.append((one, written_of(one, out, "letter", endings)))
            if told is not None:
                told(code, done, len(tickets))
    found = findings_of(one for one, _ in papers)
    show_issued(papers, found, as_json=as_json)
    finish(found, answered=any(one.paper is not None for one, _ in papers))
