"""What is answered where a use case refuses: a status, the reason in words, and findings at their fields."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from fastapi.exceptions import RequestValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from lodestarch.common.errors import RecordsBusy, RecordsUnusable, Refused, UnknownName
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.conflict import NeedsReason
from lodestarch.web.api_answers import unread
from lodestarch.web.bearer import ScopeMissing, TokenRefused, TooFast
from lodestarch.web.person import NobodyChosen
from lodestarch.words.catalogues import term
from lodestarch.words.findings import as_json
from lodestarch.work.people.permissions import NotAllowed

__all__ = ["REFUSALS"]

Answer = Callable[[Request, Exception], Response]


def _answer(status: int, code: str, detail: str, *findings: Finding) -> JSONResponse:
    body = {"code": code, "detail": detail, "taken": False, "findings": [as_json(f) for f in findings]}
    return JSONResponse(body, status_code=status)


def _nobody(request: Request, cause: Exception) -> Response:
    del request, cause
    return _answer(401, "nobody", term("lost.nobody-title"))


def _not_allowed(request: Request, cause: Exception) -> Response:
    del request
    return _answer(403, "not-allowed", str(cause))


def _needs_reason(request: Request, cause: Exception) -> Response:
    del request
    sample = cause.sample if isinstance(cause, NeedsReason) else None
    finding = Finding("reason-wanted", Where(field="reason", sample=sample), Severity.STOP)
    return _answer(422, "needs-reason", str(cause), finding)


def _busy(request: Request, cause: Exception) -> Response:
    """Something to try again, unchanged: the page does so by itself."""
    del request
    return _answer(503, "busy", str(cause))


def _refused(request: Request, cause: Exception) -> Response:
    del request
    return _answer(409, "refused", str(cause))


def _unknown(request: Request, cause: Exception) -> Response:
    del request
    return _answer(404, "unknown", str(cause))


def _token(request: Request, cause: Exception) -> Response:
    del request, cause
    said = _answer(401, "token", term("lost.token-title"))
    said.headers["WWW-Authenticate"] = "Bearer"
    return said


def _scope(request: Request, cause: Exception) -> Response:
    del request
    return _answer(403, "scope", term("lost.scope-title", scope=str(cause)))


def _too_fast(request: Request, cause: Exception) -> Response:
    del request
    wait_s = cause.wait_s if isinstance(cause, TooFast) else 1.0
    said = _answer(429, "too-fast", term("lost.pace-title"))
    said.headers["Retry-After"] = str(max(1, round(wait_s)))
    return said


REFUSALS: Final[dict[type[Exception], Answer]] = {
    RequestValidationError: unread,
    TokenRefused: _token,
    ScopeMissing: _scope,
    TooFast: _too_fast,
    NobodyChosen: _nobody,
    NotAllowed: _not_allowed,
    NeedsReason: _needs_reason,
    RecordsBusy: _busy,
    RecordsUnusable: _busy,
    Refused: _refused,
    UnknownName: _unknown,
}
"""By kind of refusal; the nearest kind counts."""
