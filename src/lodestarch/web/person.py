"""Who is at the bench: chosen by name on this computer, or signed in with a password where there is one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from lodestarch.common.errors import LodestarchError
from lodestarch.records.accounts import Who
from lodestarch.records.engine import Records
from lodestarch.web.bearer import holder_asking
from lodestarch.web.clock import Clock
from lodestarch.web.guard import cookie_name

__all__ = ["Choice", "NobodyChosen", "People"]

_LONG_S: Final = 7 * 24 * 3600
_NAME: Final = "name."
_TOKEN: Final = "token."  # noqa: S105 - what the cookie's value begins with
_TOUCH_EVERY: Final = timedelta(minutes=10)


class NobodyChosen(LodestarchError):
    """Nobody has said who they are; an entry waits until somebody does."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One person who can be chosen."""

    key: str
    name: str
    roles: tuple[str, ...]
    has_password: bool


class People:
    """Who asks, over open records.

    A lab of one person gives a name once. A person who has a password is never believed by name alone.
    """

    def __init__(self, records: Records, clock: Clock) -> None:
        self._records, self._clock = records, clock
        self._touched: dict[str, datetime] = {}

    def choices(self) -> tuple[Choice, ...]:
        """Everybody who works here, by name."""
        with self._records.view() as view:
            names = view.names("people")
            found = [
                Choice(key, name, view.roles_of(key), view.has_password(key)) for key, name in names.items()
            ]
        return tuple(sorted((c for c in found if c.roles), key=lambda c: c.name.casefold()))

    def who(self, request: Request) -> Who | None:
        """Who this computer says it is; ``None`` where nobody said, or the session ended."""
        holder = holder_asking(request)
        if holder is not None:
            return holder.who
        said = request.cookies.get(self._cookie(request), "")
        if said.startswith(_TOKEN):
            return self._by_token(said.removeprefix(_TOKEN))
        if not said.startswith(_NAME):
            return None
        key = said.removeprefix(_NAME)
        with self._records.view() as view:
            roles, name = view.roles_of(key), view.names("people").get(key)
            return Who(key, name, roles) if name and roles and not view.has_password(key) else None

    def require(self, request: Request) -> Who:
        """Who this computer says it is.

        Raises
        ------
        NobodyChosen
        """
        who = self.who(request)
        if who is None:
            raise NobodyChosen
        return who

    def choose(self, request: Request, response: Response, name: str, password: str, origin: str) -> None:
        """Take a name, with its password where it has one, and remember it on this computer.

        Raises
        ------
        Refused
            For a name that does not work here, or a password that is not the name's.
        """
        known = {c.name: c for c in self.choices()}.get(name.strip())
        if known is not None and known.has_password:
            value = _TOKEN + self._records.log_in(name.strip(), password, origin, self._clock())
        else:
            # Whoever is the first at a lab of one person is added with all roles.
            with self._records.unit(name.strip(), self._clock()) as unit:
                value = _NAME + unit.person
        self._end(request)
        response.set_cookie(
            self._cookie(request),
            value,
            max_age=_LONG_S,
            httponly=True,
            samesite="lax",
            secure=request.url.scheme == "https",
        )

    def leave(self, request: Request, response: Response) -> None:
        """Forget who was at this computer, and have the browser drop pages that it kept."""
        self._end(request)
        response.delete_cookie(self._cookie(request))
        response.headers["Clear-Site-Data"] = '"cache"'

    def _end(self, request: Request) -> None:
        """End the session that came with a request: it is of no use to anybody afterwards."""
        said = request.cookies.get(self._cookie(request), "")
        if said.startswith(_TOKEN):
            self._records.log_out(said.removeprefix(_TOKEN))

    def _by_token(self, token: str) -> Who | None:
        at = self._clock()
        with self._records.view() as view:
            who = view.who_is(token, at)
        last = self._touched.get(token)
        if who is not None and (last is None or at - last > _TOUCH_EVERY):
            self._touched[token] = at
            self._records.touch_session(token, at)
        return who

    @staticmethod
    def _cookie(request: Request) -> str:
        return cookie_name(f"lodestarch_person_{request.url.port or 0}", request.url.scheme)
