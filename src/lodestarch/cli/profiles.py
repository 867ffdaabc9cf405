"""``profile``: list, look at, make and sign off method profiles."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any

import typer

from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, Person, RecordsAddress
from lodestarch.cli.output import EXIT_NO_ANSWER, emit_json, say, show_findings, table
from lodestarch.method.profile import FieldValue, Profile
from lodestarch.method.profile_fields import FIELDS
from lodestarch.method.signoff import SignOffState
from lodestarch.work.keeping.own_profiles import make_profile, parse_field_value, sign_field, sign_offs_of
from lodestarch.work.keeping.profiles import open_book, profile_named

__all__ = ["profiles"]

profiles = typer.Typer(
    help="Method profiles: every constant of a method, with where it comes from.", no_args_is_help=True
)


def _value_text(value: FieldValue, unit: str) -> str:
    if value is None:
        return "off"
    if isinstance(value, tuple):
        return ", ".join(f"from {a:g} s: {b:g}" for a, b in value)
    if isinstance(value, float):
        return f"{value:g} {unit}".strip() if unit != "1" else f"{value:g}"
    return value


def _as_dict(profile: Profile, signed: dict[str, Any]) -> dict[str, Any]:
    return {
        "profile": profile.name,
        "title": profile.title,
        "based_on": profile.based_on,
        "comparable_key": profile.comparable_key,
        "fields": [
            {
                "key": f.key,
                "name": FIELDS[f.key].name,
                "value": [list(p) for p in f.value] if isinstance(f.value, tuple) else f.value,
                "unit": f.unit,
                "provenance": f.provenance.value,
                "source": f.source,
                "note": f.note,
                "signed_off": signed.get(f.key),
            }
            for f in profile.fields.values()
        ],
    }


@profiles.command("list")
def list_profiles(records: RecordsAddress = DEFAULT_RECORDS, as_json: AsJson = False) -> None:
    """Name every profile in force: those that ship and the lab's own."""
    book = open_book(records)
    rows = [book.in_force[k] for k in book.in_force]
    if as_json:
        emit_json(
            {
                "profiles": [
                    {
                        "profile": p.name,
                        "title": p.title,
                        "comparable_key": p.comparable_key,
                        "recalled_fields": list(p.recalled_fields),
                    }
                    for p in rows
                ]
            }
        )
        return
    columns = [("profile", "left"), ("what", "left"), ("recalled", "right")]
    table(columns, [(p.name, p.title, str(len(p.recalled_fields))) for p in rows])
    say()
    say("Recalled fields are not yet held against a printed standard: lodestarch profile sign PROFILE FIELD")


@profiles.command("show")
def show_profile(
    name: Annotated[str, typer.Argument(help="id or id@version")],
    records: RecordsAddress = DEFAULT_RECORDS,
    as_json: AsJson = False,
) -> None:
    """Show every field with value, unit, provenance and source."""
    from pathlib import Path

    from lodestarch.records.engine import open_records

    profile = profile_named(name, records)
    signed: dict[str, Any] = {}
    if "://" in records or Path(records).exists():
        clock = lambda: datetime.now(UTC)  # noqa: E731 - two words
        with open_records(records, create=False, mode="read", clock=clock) as kept, kept.view() as view:
            for s in sign_offs_of(view, profile):
                if s.profile == profile.name and profile.fields[s.field].value == s.value:
                    signed[s.field] = {
                        "standard": s.standard,
                        "clause": s.clause,
                        "person": s.person,
                        "on": s.on.isoformat(),
                    }
    if as_json:
        emit_json(_as_dict(profile, signed))
        return
    say(f"{profile.name}   {profile.title}")
    say(f"comparable with: {profile.comparable_key}")
    say()
    rows = [
        (
            FIELDS[f.key].name,
            _value_text(f.value, f.unit),
            f"signed off, {signed[f.key]['person']}" if f.key in signed else f.provenance.value,
            f.source + (f" ({f.note})" if f.note else ""),
        )
        for f in profile.fields.values()
    ]
    table([("field", "left"), ("value", "left"), ("standing", "left"), ("source", "left")], rows)


@profiles.command("make")
def make(
    new_id: Annotated[str, typer.Argument(help="Id of the lab's profile, small letters and hyphens.")],
    start_from: Annotated[str, typer.Option("--from", help="Profile to start from.")],
    source: Annotated[str, typer.Option(help="Where you read the values: standard, clause.")],
    change: Annotated[
        list[str] | None, typer.Option("--set", help="FIELD=VALUE; may stand several times.")
    ] = None,
    title: Annotated[str | None, typer.Option(help="What it is for.")] = None,
    person: Person = "keeper",
    records: RecordsAddress = DEFAULT_RECORDS,
) -> None:
    """Make a profile of the lab's own, or the next version of it; one in use never changes."""
    from lodestarch.records.engine import open_records

    changes: dict[str, FieldValue] = {}
    for item in change or ():
        key, _, text = item.partition("=")
        try:
            changes[key.strip()] = parse_field_value(key.strip(), text)
        except ValueError as cause:
            raise typer.BadParameter(f"{item}: {cause}", param_hint="--set") from cause
    at = datetime.now(UTC)
    with open_records(records, clock=lambda: at) as kept:
        made = make_profile(
            kept, start_from=start_from, new_id=new_id, title=title, changes=changes, source=source,
            person=person, at=at,
        )  # fmt: skip
    if made.kept:
        say(f"{made.profile.name} is kept. {made.profile.title}")
    show_findings(made.findings)
    if not made.kept:
        raise SystemExit(EXIT_NO_ANSWER)


@profiles.command("sign")
def sign(
    name: Annotated[str, typer.Argument(help="id or id@version")],
    field: Annotated[str, typer.Argument(help="Field to confirm, or all that are open.")],
    standard: Annotated[str, typer.Option(help="The printed standard you hold it against.")],
    clause: Annotated[str, typer.Option(help="Clause, table or page.")] = "",
    person: Person = "keeper",
    records: RecordsAddress = DEFAULT_RECORDS,
) -> None:
    """Confirm a field against the lab's own printed standard."""
    from lodestarch.records.engine import open_records

    at = datetime.now(UTC)
    with open_records(records, clock=lambda: at) as kept:
        state: SignOffState = sign_field(
            kept, profile=name, field=field, standard=standard, clause=clause, person=person, at=at
        )
    say(f"{state.profile}: {len(state.confirmed)} fields signed off, {len(state.open)} open")
    if state.open:
        say("Open: " + ", ".join(state.open))
