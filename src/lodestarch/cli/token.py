"""``token``: programs that may ask the API, issued and revoked."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime
from typing import Annotated

import typer

from lodestarch.cli.options import DEFAULT_RECORDS, Person, RecordsAddress
from lodestarch.cli.output import EXIT_NO_ANSWER, say, show_findings, table

__all__ = ["token_app"]

token_app = typer.Typer(help="Tokens by which programs ask the API in a person's name.", no_args_is_help=True)


def _now() -> datetime:
    return datetime.now(UTC)


@token_app.command("issue")
def issue(
    purpose: Annotated[str, typer.Argument(help="Which program it is for.")],
    scope: Annotated[list[str], typer.Option(help="read, enter, release or setup; may stand several times.")],
    holder: Annotated[str, typer.Option(help="In whose name it asks.")],
    days: Annotated[str, typer.Option(help="For how many days it holds, at most 366.")] = "90",
    person: Person = "keeper",
    records: RecordsAddress = DEFAULT_RECORDS,
) -> None:
    """Issue a token and print it, this once."""
    from lodestarch.records.engine import open_records
    from lodestarch.work.people.tokens import TokenTyped, issue_token

    at, secret = _now(), secrets.token_urlsafe(32)
    with open_records(records, create=False, clock=lambda: at) as kept:
        issued = issue_token(kept, TokenTyped(purpose, scope, days, holder), secret, person=person, at=at)
    show_findings(issued.findings)
    if issued.token is None:
        raise SystemExit(EXIT_NO_ANSWER)
    typer.echo(f"{issued.key}: shown this once; the records keep only its digest.", err=True)
    print(issued.token)


@token_app.command("list")
def listed(records: RecordsAddress = DEFAULT_RECORDS) -> None:
    """List the tokens: what for, in whose name, until when."""
    from lodestarch.records.engine import open_records
    from lodestarch.work.people.tokens import tokens

    at = _now()
    with open_records(records, create=False, mode="read", clock=lambda: at) as kept:
        lines = tokens(kept)
    if not lines:
        say("No token is issued.")
        return
    rows = [
        (
            one.key,
            one.purpose,
            one.holder,
            ", ".join(one.scopes),
            "revoked" if one.revoked_at else f"{one.ends_at:%Y-%m-%d}" + ("" if one.works(at) else ", past"),
        )
        for one in lines
    ]
    columns = [("key", "left"), ("for", "left"), ("in the name of", "left"), ("scopes", "left")]
    table([*columns, ("holds until", "left")], rows)


@token_app.command("revoke")
def revoke(
    key: Annotated[str, typer.Argument(help="Its key in the list, as k1.")],
    person: Person = "keeper",
    records: RecordsAddress = DEFAULT_RECORDS,
) -> None:
    """End a token at once."""
    from lodestarch.records.engine import open_records
    from lodestarch.work.people.tokens import revoke_token

    at = _now()
    with open_records(records, create=False, clock=lambda: at) as kept:
        found = revoke_token(kept, key, person=person, at=at)
    show_findings(found)
    if found:
        raise SystemExit(EXIT_NO_ANSWER)
    say(f"{key} is revoked.")
