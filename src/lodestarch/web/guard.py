"""Who may ask, from which address, and what every answer carries.

One plain ASGI layer around everything: the host must be one of ours (a page of another name that resolves to
this machine gets nothing), only a page of ours may change anything, and a browser needs the session that the
start address gives it once.
"""

from __future__ import annotations

import hashlib
import math
import secrets
from collections.abc import Callable, Iterable
from http.cookies import CookieError, SimpleCookie
from typing import Final, Protocol
from urllib.parse import parse_qsl, quote, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lodestarch.web.pace import Pace

__all__ = ["HEADERS", "LARGEST_BODY", "Guard", "Refusal", "SessionKeeper", "cookie_name"]

Refusal = Callable[[Scope, int, str], Response]
"""Makes the page (or the JSON) that says why: scope, HTTP status, name of the reason in words."""

HEADERS: Final = {
    "Content-Security-Policy": (
        "default-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
"""On every answer. No script, style, picture or font from anywhere but here, and none inside a page."""

_READING: Final = frozenset({"GET", "HEAD"})
_WRITING: Final = frozenset({"POST"})
LARGEST_BODY: Final = 24 * 1024 * 1024
"""Bytes of a body; a sheet of last year's harvest is about a tenth of it."""
_OPEN_PATHS: Final = "/static/"
_API: Final = "/api/v1/"
_TRANSPORT: Final = "max-age=31536000"
"""Over TLS alone: a browser that came by it never comes without it again for a year. [s]"""
_LONG_S: Final = 30 * 24 * 3600
"""A session ends with the server; the cookie may outlive a closed browser window until then."""


class SessionKeeper(Protocol):
    """Remembers browsers beyond the life of a server, by a token that is kept as its digest."""

    def keep(self, token: str) -> None:
        """Remember a browser."""
        ...

    def knows(self, token: str) -> bool:
        """Tell whether a browser came in by a start address lately."""
        ...


def _keeping(scope: Scope) -> str:
    """How long a browser may keep an answer: data never, a file named by its digest for ever."""
    if not scope["path"].startswith(_OPEN_PATHS):
        return "no-store"
    return "public, max-age=31536000, immutable" if b"v=" in scope["query_string"] else "no-cache"


def _writing_fault(headers: Headers) -> tuple[int, str] | None:
    """What keeps an entry out: another site sent it, or it is too large, or does not say how large."""
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site is not None:
        ours = site == "same-origin"
    else:
        # Programs send neither; a browser without fetch metadata still says where a page came from.
        ours = origin is None or origin.partition("://")[2].casefold() == headers.get("host", "").casefold()
    if not ours:
        return 403, "foreign"
    length = headers.get("content-length", "")
    if not (length.isascii() and length.isdigit()):
        return 411, "length"
    return (413, "large") if len(length) > 12 or int(length) > LARGEST_BODY else None


def cookie_name(name: str, scheme: str) -> str:
    """A cookie's name; over TLS with the prefix that ties it to this host alone."""
    return f"__Host-{name}" if scheme == "https" else name


def _brings_token(scope: Scope, headers: Headers) -> bool:
    """A program brings its own right to ask; the gate of the API looks at it before anything is done."""
    return scope["path"].startswith(_API) and "authorization" in headers


def _sender(scope: Scope, headers: Headers) -> str:
    """Whose requests are counted together: those of one token, otherwise those of one place."""
    if _brings_token(scope, headers):
        return hashlib.sha256(headers["authorization"].encode()).hexdigest()
    client = scope.get("client")
    return str(client[0]) if client else ""


class Guard:
    """The layer.

    Parameters
    ----------
    app : ASGIApp
        What is guarded.
    allowed_hosts : iterable of str
        ``name`` or ``name:port``, as the Host header has them.
    token : str or None
        One-time start token; ``None`` asks for no session (tests, or a server that others guard).
    refusal : Refusal
        Makes the answer where something is refused.
    writing : bool
        Entries may be made; otherwise pages can only be read.
    keeper : SessionKeeper or None
        Remembers browsers; ``None``: they are forgotten when the server stops.
    by_token : bool
        Programs may ask the API by a token of their own, without a session.
    pace : Pace or None
        How fast one sender may ask; ``None``: as fast as it likes.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        allowed_hosts: Iterable[str],
        token: str | None,
        refusal: Refusal,
        writing: bool = False,
        keeper: SessionKeeper | None = None,
        by_token: bool = False,
        pace: Pace | None = None,
    ) -> None:
        self._app = app
        self._hosts = frozenset(h.casefold() for h in allowed_hosts)
        self._token = token
        self._needs_session = token is not None
        self._sessions: set[str] = set()
        self._refusal = refusal
        self._methods = _READING | (_WRITING if writing else frozenset())
        self._keeper, self._by_token, self._pace = keeper, by_token, pace

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            # No page opens a socket; the server closes it when nobody accepts.
            await send({"type": "websocket.close", "code": 1008})
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers["Cache-Control"] = _keeping(scope)
                if scope["scheme"] == "https":
                    headers["Strict-Transport-Security"] = _TRANSPORT
            await send(message)

        answer = self._answer(scope) or self._app
        await answer(scope, receive, send_with_headers)

    def _answer(self, scope: Scope) -> Response | None:
        """The answer of the guard itself; ``None`` where the request may pass."""
        headers = Headers(scope=scope)
        refused = self._out_of_place(scope, headers)
        if refused is not None or scope["path"].startswith(_OPEN_PATHS):
            return refused
        wait_s = self._pace.wait_s(_sender(scope, headers)) if self._pace is not None else 0.0
        if wait_s > 0.0:
            slower = self._refusal(scope, 429, "pace")
            slower.headers["Retry-After"] = str(math.ceil(wait_s))
            return slower
        if not self._needs_session or (self._by_token and _brings_token(scope, headers)):
            return None
        if self._has_session(scope, headers):
            return self._without_token(scope)
        return self._opened(scope) or self._refusal(scope, 403, "refused")

    def _out_of_place(self, scope: Scope, headers: Headers) -> Response | None:
        """The refusal of another host's name, of a method that is not served, of another site's entry."""
        if not self._known_host(headers.get("host", "")):
            return self._refusal(scope, 400, "host")
        if scope["method"] not in self._methods:
            refused = self._refusal(scope, 405, "method")
            refused.headers["Allow"] = ", ".join(sorted(self._methods))
            return refused
        fault = _writing_fault(headers) if scope["method"] in _WRITING else None
        return None if fault is None else self._refusal(scope, *fault)

    def _known_host(self, host: str) -> bool:
        host = host.casefold()
        name = host if host.endswith("]") else host.rpartition(":")[0] or host
        return host in self._hosts or name in self._hosts

    def _cookie_name(self, scope: Scope) -> str:
        # Cookies of one host are shared by all its ports: two workbenches keep theirs apart by name.
        server = scope.get("server") or ("", 0)
        return cookie_name(f"lodestarch_{server[1] or 0}", scope["scheme"])

    def _has_session(self, scope: Scope, headers: Headers) -> bool:
        try:
            cookies = SimpleCookie(headers.get("cookie", ""))
        except CookieError:
            return False
        given = cookies.get(self._cookie_name(scope))
        if given is None:
            return False
        if any(secrets.compare_digest(given.value.encode(), s.encode()) for s in self._sessions):
            return True
        if self._keeper is None or not self._keeper.knows(given.value):
            return False
        self._sessions.add(given.value)
        return True

    def _without_token(self, scope: Scope) -> Response | None:
        """Take the token out of the address of somebody who is in already."""
        pairs = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        if all(key != "token" for key, _ in pairs):
            return None
        return RedirectResponse(self._address(scope, pairs), status_code=303)

    def _opened(self, scope: Scope) -> Response | None:
        """Open a session for the start token, which then is spent."""
        pairs = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        given = dict(pairs).get("token", "")
        if self._token is None or not secrets.compare_digest(given.encode(), self._token.encode()):
            return None
        self._token = None
        session = secrets.token_urlsafe(32)
        self._sessions.add(session)
        if self._keeper is not None:
            self._keeper.keep(session)
        response = RedirectResponse(self._address(scope, pairs), status_code=303)
        response.set_cookie(
            self._cookie_name(scope),
            session,
            max_age=_LONG_S,
            httponly=True,
            samesite="lax",
            secure=scope["scheme"] == "https",
        )
        return response

    @staticmethod
    def _address(scope: Scope, pairs: list[tuple[str, str]]) -> str:
        rest = urlencode([(k, v) for k, v in pairs if k != "token"])
        # One slash in front, whatever was asked for, so that the address stays on this host.
        path = "/" + quote(scope["path"].lstrip("/"))
        return f"{path}?{rest}" if rest else path
