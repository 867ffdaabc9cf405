"""People: who works here, by a key that says nothing, with the name beside the log."""

from __future__ import annotations

import json
from typing import Final

from sqlalchemy import func, insert, select

from lodestarch.common.canonical import Json, canonical_text
from lodestarch.common.errors import UnknownName
from lodestarch.records.kept import added, fetch, fetch_all
from lodestarch.records.log import Entry
from lodestarch.records.personal import new_salts, salted
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Person, Personal

__all__ = ["ALL_ROLES", "add_person", "names_of", "person_key"]

ALL_ROLES: Final = ("receiver", "analyst", "chemist", "merchant", "reader", "keeper")
"""In the order of the permission table."""


def keep_personal(scope: Scope, kind: str, key: str, document: Json) -> Json:
    """Write personal data beside the log and return what the log says: a salted digest."""
    text, (salt,) = canonical_text(document), new_salts(1)
    scope.conn.execute(
        insert(Personal).values(site_no=scope.site_no, kind=kind, key=key, salt=salt, document=text)
    )
    return {"kind": kind, "key": key, "digest": salted(salt, text).hex()}


def names_of(scope: Scope, kind: str) -> dict[str, str]:
    """Return the names of a kind (``people``, ``parties``) by key; erased ones are left out."""
    found = scope.conn.execute(
        select(Personal.key, Personal.document).where(
            Personal.site_no == scope.site_no, Personal.kind == kind, Personal.document.is_not(None)
        )
    )
    return {row.key: json.loads(row.document or "{}")["name"] for row in found}


def add_person(scope: Scope, name: str, roles: tuple[str, ...]) -> tuple[str, Entry]:
    """Write a new person; return the key and what the log says.

    Raises
    ------
    UnknownName
        When a role is not in the list.
    """
    for role in roles:
        if role not in ALL_ROLES:
            raise UnknownName("role", role, ALL_ROLES)
    count = scope.conn.execute(
        select(func.count()).select_from(Person).where(Person.site_no == scope.site_no)
    ).scalar_one()
    key = f"p{count + 1}"
    row = Person(key=key, roles=" ".join(r for r in ALL_ROLES if r in roles))
    change = added(scope, row)
    personal = keep_personal(scope, "people", key, {"name": name})
    return key, Entry("person.added", f"people:{key}", {"changes": [change], "personal": [personal]})


def person_key(scope: Scope, person: str) -> tuple[str, Entry | None]:
    """Return the key of a person given by name or key, and an entry when they had to be added.

    A site that has nobody yet, or one person who has all roles, is a single person's: whoever gives a new
    name there is added with all roles. Elsewhere the keeper adds people.

    Raises
    ------
    UnknownName
        When the person is not known and the site has people with roles of their own.
    """
    name = person.strip()
    if not name:
        raise UnknownName("person", person, ())
    known = {n: k for k, n in names_of(scope, "people").items()}
    if name in known:
        return known[name], None
    if fetch(scope, Person, name) is not None:
        return name, None
    if any(p.roles != " ".join(ALL_ROLES) for p in fetch_all(scope, Person)):
        raise UnknownName("person", name, sorted(known))
    return add_person(scope, name, ALL_ROLES)
