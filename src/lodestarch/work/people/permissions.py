"""The permission table: one line for each thing that can be done, with the roles that may do it.

``docs/records.md`` shows the same table; a test compares the two. What is not in it is allowed to nobody.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Final

from lodestarch.common.errors import Refused, UnknownName
from lodestarch.records.engine import Records
from lodestarch.records.unit import Unit

__all__ = ["MAY", "ROLES", "NotAllowed", "Permission", "is_allowed", "require_allowed", "unit_for"]

ROLES: Final = ("receiver", "analyst", "chemist", "merchant", "reader", "keeper")

_R, _A, _C, _M, _D, _K = ROLES


@dataclass(frozen=True, slots=True)
class Permission:
    """One line of the table."""

    action: str
    roles: frozenset[str]
    what: str


_TABLE: Final = (
    ("ticket.receive", (_R, _A, _C), "receive a load or sample under a ticket"),
    ("ticket.answer", (_R, _A, _C, _M), "give a preliminary answer, by phone too"),
    ("retest.ask", (_R, _A, _C, _M), "ask for a retest, with its source and its rule"),
    ("sample.edit", (_R, _A, _C), "change a sample; with a reason once it is judged"),
    ("sheet.store", (_A, _C), "hand in a bench sheet"),
    ("reading.record", (_A, _C), "record and correct readings, preparations, moistures"),
    ("reading.set-aside", (_A, _C), "set a reading aside with its cause"),
    ("result.release-by-rule", (_A, _C), "let out by rule what nothing stands against"),
    ("result.release", (_C,), "release a result, or put another in its place"),
    ("document.issue", (_C,), "issue a certificate, letter or day sheet"),
    ("profile.change", (_C,), "make a profile of the lab's own"),
    ("profile.sign-off", (_C,), "confirm a profile's fields against the printed standard"),
    ("control.record", (_A, _C), "record check samples, upkeep and checks of equipment"),
    ("control.decide", (_C,), "decide after a failed check: hold, list, retest"),
    ("equipment.change", (_A, _C, _K), "add, change or replace equipment"),
    ("terms.change", (_M,), "enter buyers, terms, schedules and bids"),
    ("bins.change", (_R, _M), "move grain: loads into bins, turnings, load-out"),
    ("plan.make", (_M,), "make and choose plans"),
    ("price.see", (_C, _M), "see prices and what a load brings"),
    ("party.change", (_R, _C, _M, _K), "add a party or change its contact"),
    ("party.erase", (_K,), "erase personal data on request"),
    ("fees.list", (_C, _M, _K), "list what is to be charged"),
    ("own.see", (_R, _A, _C, _M, _D, _K), "see what is one's own"),
    ("all.see", (_A, _C, _M, _K), "see everybody's samples and results"),
    ("log.see", (_C, _K), "read the log and prove it"),
    ("people.change", (_K,), "add people, change roles, set passwords"),
    ("tokens.change", (_K,), "issue and revoke tokens of programs"),
    ("records.keep", (_K,), "back up, restore, upgrade, export, import"),
    ("setup.change", (_C, _K), "change the lab's settings"),
)

MAY: Final[Mapping[str, Permission]] = MappingProxyType(
    {action: Permission(action, frozenset(roles), what) for action, roles, what in _TABLE}
)


class NotAllowed(Refused):
    """The person's roles do not include this."""

    def __init__(self, action: str, roles: Iterable[str]) -> None:
        self.action, self.roles = action, tuple(roles)
        wanted = [role for role in ROLES if role in MAY[action].roles]
        super().__init__(
            f"To {MAY[action].what}: {' or '.join(wanted)}. Ask one of them, or the keeper for the role."
        )


def is_allowed(action: str, roles: Iterable[str]) -> bool:
    """Tell whether somebody with these roles may do it.

    Raises
    ------
    UnknownName
        When the action is not in the table: a slip of ours, never a permission.
    """
    line = MAY.get(action)
    if line is None:
        raise UnknownName("action", action, tuple(MAY))
    return not line.roles.isdisjoint(roles)


def require_allowed(action: str, roles: Iterable[str]) -> None:
    """Refuse what the roles do not include.

    Raises
    ------
    NotAllowed
    """
    listed = tuple(roles)
    if not is_allowed(action, listed):
        raise NotAllowed(action, listed)


@contextmanager
def unit_for(
    records: Records, person: str, at: datetime, action: str, *, clock_note: str | None = None
) -> Iterator[Unit]:
    """Open a unit of work for something that the person may do; nothing is written otherwise.

    Raises
    ------
    NotAllowed
    """
    with records.unit(person, at, clock_note=clock_note) as unit:
        require_allowed(action, unit.roles_of(unit.person))
        yield unit
