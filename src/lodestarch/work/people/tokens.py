"""Tokens by which a program asks in a person's name: issued, shown once, kept by their digest, revoked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from lodestarch.common.canonical import sha256_hex
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.records.accounts import Who
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import ApiToken
from lodestarch.work.people.permissions import unit_for
from lodestarch.work.people.staff import staff

__all__ = ["LONGEST_DAYS", "SCOPES", "Holder", "Issued", "TokenLine", "TokenTyped"]
__all__ += ["holder_of", "issue_token", "revoke_token", "tokens"]

SCOPES: Final = ("read", "enter", "release", "setup")
"""What a token may be used for: look; enter at the bench; let results out and answer; change set-up."""

LONGEST_DAYS: Final = 366
"""A token ends by itself after a harvest and a winter at the latest. A setting of ours."""

_BEGINS: Final = "lode_"
_TOKEN: Final = re.compile(r"^lode_[A-Za-z0-9_-]{43}$")


@dataclass(frozen=True, slots=True)
class TokenTyped:
    """A token as asked for.

    Parameters
    ----------
    purpose : str
        Which program, in at most 80 characters.
    scopes : sequence of str
        Of :data:`SCOPES`.
    days : str
        For how long, as typed; 1 to :data:`LONGEST_DAYS`. [d]
    holder : str
        Key or name of the person in whose name it asks.
    """

    purpose: str
    scopes: Sequence[str]
    days: str
    holder: str


@dataclass(frozen=True, slots=True)
class Issued:
    """A new token, to be shown once; ``None`` with findings where it is not issued."""

    key: str = ""
    token: str | None = None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class TokenLine:
    """A token in the list: everything but itself."""

    key: str
    purpose: str
    holder: str
    scopes: tuple[str, ...]
    issued_at: datetime
    ends_at: datetime
    revoked_at: datetime | None

    def works(self, at: datetime) -> bool:
        """Tell whether it is neither revoked nor past its end."""
        return self.revoked_at is None and at <= self.ends_at


@dataclass(frozen=True, slots=True)
class Holder:
    """In whose name a token asks, and for what it may be used."""

    key: str
    who: Who
    scopes: frozenset[str]


def _days(text: str) -> int | None:
    stripped = text.strip()
    if not (stripped.isascii() and stripped.isdigit() and len(stripped) < 4):
        return None
    return int(stripped) if 1 <= int(stripped) <= LONGEST_DAYS else None


def _findings(typed: TokenTyped, holder: str | None) -> tuple[Finding, ...]:
    found = []
    if not typed.purpose.strip() or len(typed.purpose) > 80:
        found.append(Finding("token-purpose", Where(field="purpose"), Severity.STOP, {"most": 80}))
    if not typed.scopes or any(scope not in SCOPES for scope in typed.scopes):
        values = {"text": ", ".join(typed.scopes)[:40], "choices": ", ".join(SCOPES)}
        found.append(Finding("entry-no-choice", Where(field="scopes"), Severity.STOP, values))
    if _days(typed.days) is None:
        days: dict[str, Value] = {"text": typed.days[:40], "most": LONGEST_DAYS}
        found.append(Finding("token-days", Where(field="days"), Severity.STOP, days))
    if holder is None:
        found.append(Finding("person-unknown", Where(field="holder"), Severity.STOP))
    return tuple(found)


def issue_token(records: Records, typed: TokenTyped, secret: str, *, person: str, at: datetime) -> Issued:
    """Issue a token in a person's name.

    Parameters
    ----------
    records : Records
    typed : TokenTyped
    secret : str
        256 random bits as 43 characters of base64url, drawn by the caller.
    person : str
        The keeper who issues it.
    at : datetime

    Raises
    ------
    NotAllowed
    """
    known = {one.name: one.key for one in staff(records) if one.active}
    wanted = typed.holder.strip()
    holder = wanted if wanted in known.values() else known.get(wanted)
    with unit_for(records, person, at, "tokens.change") as unit:
        found = _findings(typed, holder)
        days = _days(typed.days)
        if found or holder is None or days is None:
            return Issued(findings=found)
        token = _BEGINS + secret
        key = unit.next_key(ApiToken, "k")
        unit.add(
            ApiToken(
                key=key,
                person=holder,
                purpose=typed.purpose.strip(),
                scopes=" ".join(s for s in SCOPES if s in typed.scopes),
                token_sha256=sha256_hex(token.encode()),
                issued_at=utc_text(at),
                ends_at=utc_text(at + timedelta(days=days)),
            )
        )
        return Issued(key, token)


def revoke_token(records: Records, key: str, *, person: str, at: datetime) -> tuple[Finding, ...]:
    """End a token at once; one that is ended already stays as it is."""
    with unit_for(records, person, at, "tokens.change") as unit:
        row = unit.get(ApiToken, key)
        if row is None:
            values = {"text": key[:40]}
            return (Finding("token-unknown", Where(field="token"), Severity.STOP, values),)
        if row.revoked_at is None:
            row.revoked_at = utc_text(at)
            unit.edit(row, made_from=row.version, reason="revoked")
        return ()


def tokens(records: Records) -> tuple[TokenLine, ...]:
    """Return every token ever issued, the latest first."""
    with records.view() as view:
        names, rows = view.names("people"), view.all(ApiToken)
    lines = [
        TokenLine(
            row.key,
            row.purpose,
            names.get(row.person, row.person),
            tuple(row.scopes.split()),
            datetime.fromisoformat(row.issued_at),
            datetime.fromisoformat(row.ends_at),
            None if row.revoked_at is None else datetime.fromisoformat(row.revoked_at),
        )
        for row in rows
    ]
    return tuple(sorted(lines, key=lambda one: one.issued_at, reverse=True))


def holder_of(records: Records, token: str, at: datetime) -> Holder | None:
    """Return in whose name a token asks; ``None`` where it, or its person, holds no more."""
    if not _TOKEN.match(token):
        return None
    with records.view() as view:
        rows = view.all(ApiToken, token_sha256=sha256_hex(token.encode()))
        if not rows or rows[0].revoked_at is not None or at > datetime.fromisoformat(rows[0].ends_at):
            return None
        row = rows[0]
        roles, name = view.roles_of(row.person), view.names("people").get(row.person)
    if not roles or name is None:
        return None
    return Holder(row.key, Who(row.person, name, roles), frozenset(row.scopes.split()))
