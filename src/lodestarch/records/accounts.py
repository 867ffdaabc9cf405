"""Accounts: a password for each person, checked slowly, and sessions that can be ended.

Wrong tries make the next one from the *same place of origin* wait, doubling up to a quarter of an hour; they
never close an account, so nobody can lock out somebody else by guessing badly.
"""

from __future__ import annotations

import json
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from importlib import resources
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import delete, insert, select, update

from lodestarch.common.canonical import Json, canonical_text, sha256_hex
from lodestarch.common.errors import Refused, UnknownName
from lodestarch.records.kept import fetch
from lodestarch.records.log import Entry, utc_text
from lodestarch.records.people import names_of
from lodestarch.records.personal import new_salts, salted
from lodestarch.records.scope import Scope
from lodestarch.records.tables import LoginDelay, Person, Personal, Session

__all__ = [
    "LEAST_LENGTH",
    "LoginRefused",
    "PasswordRefused",
    "Who",
    "end_session",
    "has_password",
    "keep_browser",
    "knows_browser",
    "log_in",
    "set_password",
    "touch_session",
    "who_is",
]

LEAST_LENGTH: Final = 8
"""Characters. OWASP ASVS 5.0, 6.2.1: at least 8, at least 15 advised (read in a digest: secondary copy)."""

MOST_LENGTH: Final = 1000
"""Characters; hashing a longer one would only cost time."""

FREE_TRIES: Final = 3
FIRST_WAIT: Final = timedelta(seconds=2)
LONGEST_WAIT: Final = timedelta(minutes=15)
"""After three wrong tries from one place the next waits 2 s, 4 s, ... up to 15 min. Common practice."""

IDLE: Final = timedelta(hours=12)
LONGEST: Final = timedelta(days=7)
"""A session ends after a shift without use, and after a week in any case. Settings of ours."""

_HASHER: Final = PasswordHasher()


class PasswordRefused(Refused):
    """A password that is too short, too long, or among the commonest."""


class LoginRefused(Refused):
    """Name and password do not go together, or the next try has to wait."""

    def __init__(self, wait_s: float = 0.0) -> None:
        self.wait_s = wait_s
        told = (
            f"Wait {wait_s:.0f} s before the next try." if wait_s else "Name and password do not go together."
        )
        super().__init__(told)


@dataclass(frozen=True, slots=True)
class Who:
    """Somebody logged in."""

    person: str
    name: str
    roles: tuple[str, ...]


@cache
def _commonest() -> frozenset[str]:
    listed = resources.files("lodestarch.records") / "common_passwords.txt"
    lines = listed.read_text(encoding="utf-8").splitlines()
    return frozenset(line for line in lines if not line.startswith("# "))


def _require_good(password: str, name: str) -> None:
    if len(password) < LEAST_LENGTH:
        raise PasswordRefused(
            f"At least {LEAST_LENGTH} characters; fifteen or more are better: a few words do."
        )
    if len(password) > MOST_LENGTH:
        raise PasswordRefused(f"At most {MOST_LENGTH} characters.")
    plain = password.casefold()
    if plain in _commonest() or plain == name.casefold():
        raise PasswordRefused("This one is among the first that anybody would try. Take another.")


def set_password(scope: Scope, person: str, password: str) -> Entry:
    """Give a person a password, or another one; what is kept is checked by the log like a name.

    Raises
    ------
    UnknownName
        When there is no such person.
    PasswordRefused
    """
    if fetch(scope, Person, person) is None:
        raise UnknownName("person", person, ())
    _require_good(password, names_of(scope, "people").get(person, ""))
    text, (salt,) = canonical_text({"argon2": _HASHER.hash(password)}), new_salts(1)
    mine = (Personal.site_no == scope.site_no, Personal.kind == "accounts", Personal.key == person)
    if scope.conn.execute(select(Personal.key).where(*mine)).first() is None:
        values = {"site_no": scope.site_no, "kind": "accounts", "key": person, "salt": salt, "document": text}
        scope.conn.execute(insert(Personal).values(values))
    else:
        scope.conn.execute(update(Personal).where(*mine).values(salt=salt, document=text))
        scope.conn.execute(delete(Session).where(Session.person == person, Session.site == scope.site))
    said: Json = {"kind": "accounts", "key": person, "digest": salted(salt, text).hex()}
    return Entry("account.password-set", f"people:{person}", {"personal": [said]})


def has_password(scope: Scope, person: str) -> bool:
    """Tell whether a person signs in with a password."""
    query = select(Personal.key).where(
        Personal.site_no == scope.site_no,
        Personal.kind == "accounts",
        Personal.key == person,
        Personal.document.is_not(None),
    )
    return scope.conn.execute(query).first() is not None


def keep_browser(scope: Scope, token: str, at: datetime) -> None:
    """Remember a browser that came in by the start address, so that it outlives a restart of the server."""
    scope.conn.execute(delete(Session).where(Session.ends_at < utc_text(at), Session.site == scope.site))
    scope.conn.execute(
        insert(Session).values(
            token_sha256=sha256_hex(token.encode()),
            site=scope.site,
            person="",
            began_at=utc_text(at),
            last_seen_at=utc_text(at),
            ends_at=utc_text(at + LONGEST),
        )
    )


def knows_browser(scope: Scope, token: str, at: datetime) -> bool:
    """Tell whether a browser came in by a start address within the week."""
    query = select(Session.ends_at).where(
        Session.token_sha256 == sha256_hex(token.encode()), Session.site == scope.site, Session.person == ""
    )
    ends_at = scope.conn.execute(query).scalar()
    return ends_at is not None and at <= datetime.fromisoformat(ends_at)


@cache
def _nobody() -> str:
    """Return what is checked against where there is no account, so that the time it takes does not tell."""
    return _HASHER.hash(secrets.token_hex(16))


def _wait_s(scope: Scope, origin: str, person: str, at: datetime) -> float:
    until = scope.conn.execute(
        select(LoginDelay.not_before).where(LoginDelay.origin == origin, LoginDelay.person == person)
    ).scalar()
    return 0.0 if until is None else max(0.0, (datetime.fromisoformat(until) - at).total_seconds())


def _count_failure(scope: Scope, origin: str, person: str, at: datetime) -> None:
    mine = (LoginDelay.origin == origin, LoginDelay.person == person)
    failures = (scope.conn.execute(select(LoginDelay.failures).where(*mine)).scalar() or 0) + 1
    over = failures - FREE_TRIES
    wait = min(LONGEST_WAIT, FIRST_WAIT * 2 ** min(over, 20)) if over >= 0 else timedelta(0)
    scope.conn.execute(delete(LoginDelay).where(*mine))
    scope.conn.execute(
        insert(LoginDelay).values(
            origin=origin, person=person, failures=failures, not_before=utc_text(at + wait)
        )
    )


def _matches(scope: Scope, person: str | None, password: str) -> bool:
    kept = None
    if person is not None:
        kept = scope.conn.execute(
            select(Personal.document).where(
                Personal.site_no == scope.site_no, Personal.kind == "accounts", Personal.key == person
            )
        ).scalar()
    try:
        hashed = _nobody() if kept is None else json.loads(kept)["argon2"]
        return _HASHER.verify(hashed, password) and kept is not None
    except (VerificationError, InvalidHashError):
        return False


def log_in(scope: Scope, name: str, password: str, origin: str, at: datetime) -> tuple[str | None, float]:
    """Try a name and a password from a place of origin.

    Returns
    -------
    str or None, float
        A token (kept here by its digest only), or ``None`` and how long the next try has to wait [s]. It
        returns rather than raises, so that the failure is counted in the same transaction.
    """
    wait = _wait_s(scope, origin, name.strip(), at)
    if wait > 0:
        return None, wait
    known = {n: k for k, n in names_of(scope, "people").items()}
    key = known.get(name.strip())
    person = None if key is None else fetch(scope, Person, key)
    right = _matches(scope, key, password[: MOST_LENGTH + 1])
    if not right or person is None or not person.active:
        _count_failure(scope, origin, name.strip(), at)
        return None, _wait_s(scope, origin, name.strip(), at)
    scope.conn.execute(
        delete(LoginDelay).where(LoginDelay.origin == origin, LoginDelay.person == name.strip())
    )
    token = secrets.token_urlsafe(32)
    scope.conn.execute(
        insert(Session).values(
            token_sha256=sha256_hex(token.encode()),
            site=scope.site,
            person=person.key,
            began_at=utc_text(at),
            last_seen_at=utc_text(at),
            ends_at=utc_text(at + LONGEST),
        )
    )
    return token, 0.0


def who_is(scope: Scope, token: str, at: datetime) -> Who | None:
    """Return who a token stands for; ``None`` where it stands for nobody any more."""
    row = scope.conn.execute(
        select(Session.person, Session.last_seen_at, Session.ends_at).where(
            Session.token_sha256 == sha256_hex(token.encode()), Session.site == scope.site
        )
    ).first()
    if row is None or at > datetime.fromisoformat(row.ends_at):
        return None
    if at - datetime.fromisoformat(row.last_seen_at) > IDLE:
        return None
    person = fetch(scope, Person, row.person)
    if person is None or not person.active:
        return None
    name = names_of(scope, "people").get(person.key, person.key)
    return Who(person.key, name, tuple(person.roles.split()))


def touch_session(scope: Scope, token: str, at: datetime) -> None:
    """Note that a session is in use; called now and then, not at each request."""
    scope.conn.execute(
        update(Session)
        .where(Session.token_sha256 == sha256_hex(token.encode()))
        .values(last_seen_at=utc_text(at))
    )


def end_session(scope: Scope, token: str) -> None:
    """Log out."""
    scope.conn.execute(delete(Session).where(Session.token_sha256 == sha256_hex(token.encode())))
