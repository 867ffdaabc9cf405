"""Programs ask by a token: ``Authorization: Bearer lode_...``, checked before anything of the API is done."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Final

from fastapi import Security
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer, SecurityScopes
from starlette.requests import Request

from lodestarch.common.errors import LodestarchError
from lodestarch.records.engine import Records
from lodestarch.web.clock import Clock
from lodestarch.web.pace import WRONG_TOKENS, Pace
from lodestarch.work.people.permissions import is_allowed
from lodestarch.work.people.tokens import Holder, holder_of

__all__ = ["Gate", "ScopeMissing", "TokenRefused", "TooFast", "bearer_gate", "holder_asking", "open_gate"]

Gate = Callable[..., None]

_SCHEME: Final = HTTPBearer(
    auto_error=False,
    scheme_name="token",
    description="A token from Set-up or `lodestarch token issue`. A browser of the workbench needs none.",
)
_SEEING: Final = ("all.see", "ticket.answer")
"""Whoever may do one of these may look by a token."""


class TokenRefused(LodestarchError):
    """A token that does not hold: unknown, past its end, or revoked."""


class ScopeMissing(LodestarchError):
    """A token that is not meant for this."""

    def __init__(self, scope: str) -> None:
        self.scope = scope
        super().__init__(scope)


class TooFast(LodestarchError):
    """Too many requests from one sender."""

    def __init__(self, wait_s: float) -> None:
        self.wait_s = wait_s
        super().__init__(f"{wait_s:.0f}")


def holder_asking(request: Request) -> Holder | None:
    """Whose token came with a request that has passed the gate; ``None`` for a browser's."""
    found = getattr(request.state, "holder", None)
    return found if isinstance(found, Holder) else None


def bearer_gate(records: Records, clock: Clock) -> Gate:
    """Make the check that every route of the API runs first.

    A request without the header is a browser's, which the guard has let in by its session.
    """
    wrong = Pace(*WRONG_TOKENS)

    def gate(
        request: Request,
        scopes: SecurityScopes,
        _given: Annotated[HTTPAuthorizationCredentials | None, Security(_SCHEME)] = None,
    ) -> None:
        said = request.headers.get("authorization")
        if said is None:
            return
        kind, _, token = said.partition(" ")
        holder = holder_of(records, token.strip(), clock()) if kind.casefold() == "bearer" else None
        if holder is None:
            # A right one is always let in, so that a program that was forgotten locks out no other.
            wait_s = wrong.wait_s(request.client.host if request.client else "")
            raise TooFast(wait_s) if wait_s > 0.0 else TokenRefused
        for scope in scopes.scopes:
            if scope not in holder.scopes:
                raise ScopeMissing(scope)
            if scope == "read" and not any(is_allowed(action, holder.who.roles) for action in _SEEING):
                raise ScopeMissing(scope)
        request.state.holder = holder

    return gate


def open_gate(_given: Annotated[HTTPAuthorizationCredentials | None, Security(_SCHEME)] = None) -> None:
    """For a workbench without records of its own: nobody has a token there, and the guard lets none in."""
