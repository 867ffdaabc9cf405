"""Saying who is at the bench."""

from __future__ import annotations

from urllib.parse import parse_qs

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.errors import Refused, UnknownName
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.accounts import LoginRefused
from lodestarch.web.nav import Nav
from lodestarch.web.person import People
from lodestarch.web.render import page
from lodestarch.words.findings import FindingText, sentence

__all__ = ["PersonPages"]

_MOST = 4096


class PersonPages:
    """Choosing a person, with the password where there is one."""

    def __init__(self, people: People) -> None:
        self._people = people

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/sign-in", self.ask, name="sign_in"),
            Route("/sign-in", self.take, methods=["POST"]),
            Route("/sign-out", self.leave, methods=["POST"]),
        ]

    def ask(self, request: Request) -> Response:
        """Ask who it is."""
        return self._page(request, request.query_params.get("to", ""), "", None)

    async def take(self, request: Request) -> Response:
        """Take a name, and the password where it has one."""
        body = (await request.body())[:_MOST]
        typed = {
            k: v[0] for k, v in parse_qs(body.decode("utf-8", "replace"), keep_blank_values=True).items()
        }
        name, to = typed.get("name", "").strip()[:200], typed.get("to", "")
        answer = RedirectResponse(_within(to), status_code=303)
        origin = request.client.host if request.client else ""
        try:
            password = typed.get("password", "")
            await run_in_threadpool(self._people.choose, request, answer, name, password, origin)
        except UnknownName:
            found = Finding("person-unknown", Where(field="name"), Severity.STOP)
            return self._page(request, to, name, sentence(found))
        except LoginRefused:
            found = Finding("password-wrong", Where(field="password"), Severity.STOP)
            return self._page(request, to, name, sentence(found))
        except Refused as refused:
            return self._page(request, to, name, None, str(refused))
        return answer

    async def leave(self, request: Request) -> Response:
        """Forget who was here."""
        answer = RedirectResponse("/sign-in", status_code=303)
        await run_in_threadpool(self._people.leave, request, answer)
        return answer

    def _page(
        self, request: Request, to: str, name: str, fault: FindingText | None, refused: str = ""
    ) -> Response:
        who = self._people.who(request)
        return page(
            request,
            "person.html.j2",
            status=422 if fault or refused else 200,
            nav=Nav("person", person=who.name if who else ""),
            choices=self._people.choices(),
            to=to,
            name=name,
            fault=fault,
            refused=refused,
        )


def _within(to: str) -> str:
    """An address of this workbench, whatever was asked for."""
    return to if to.startswith("/") and not to.startswith(("//", "/\\")) and "\n" not in to else "/bench"
