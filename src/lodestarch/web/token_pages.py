"""Set-up, programs: tokens issued, shown once, and revoked."""

from __future__ import annotations

import secrets
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from lodestarch.web.form import Posted
from lodestarch.web.posted_page import PostedPage
from lodestarch.words.times import when
from lodestarch.work.people.staff import staff
from lodestarch.work.people.tokens import SCOPES, TokenTyped, issue_token, revoke_token, tokens

__all__ = ["TokenPages"]


class TokenPages(PostedPage):
    """Tokens over open records."""

    template, path = "setup_tokens.html.j2", "/setup/tokens"

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route(self.path, self.ask, name="tokens"),
            Route(self.path, self.taking(self._issue), methods=["POST"]),
            Route(f"{self.path}/revoked", self.taking(self._revoke), methods=["POST"]),
        ]

    def shown(self, request: Request) -> dict[str, Any]:
        """Tokens there are, and what a new one can be for."""
        del request
        now = self._clock()
        lines = [
            (one, when(one.ends_at.astimezone()), one.works(now), one.revoked_at is not None)
            for one in tokens(self._records)
        ]
        people = [one for one in staff(self._records) if one.active]
        return {"lines": lines, "people": people, "scopes": SCOPES}

    def _issue(self, request: Request, posted: Posted, person: str) -> Response:
        typed = TokenTyped(
            posted.one("purpose"), posted.fields.get("scopes", []), posted.one("days"), posted.one("holder")
        )
        secret = secrets.token_urlsafe(32)
        issued = issue_token(self._records, typed, secret, person=person, at=self._clock())
        if issued.token is None:
            return self.draw(request, posted, issued.findings)
        # The only answer that ever holds it: no redirect, nothing kept by the browser.
        return self.draw(request, token=issued.token, purpose=typed.purpose.strip())

    def _revoke(self, request: Request, posted: Posted, person: str) -> Response:
        found = revoke_token(self._records, posted.one("token"), person=person, at=self._clock())
        return self.draw(request, posted, found) if found else self.back()
