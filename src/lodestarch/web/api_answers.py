"""What the API answers besides what was asked for: entries taken or not, and refusals."""

from __future__ import annotations

from typing import Any, Final

from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.words.catalogues import term
from lodestarch.words.findings import as_json

__all__ = ["ENTERING", "LOOKING", "EntrySaid", "FindingSaid", "RefusalSaid", "unread"]

Answers = dict[int | str, dict[str, Any]]


class FindingSaid(BaseModel):
    """A problem in what was sent, or something to look at."""

    code: str
    severity: str = Field(description="stop, check or note")
    where: dict[str, str | int] = Field(
        description="the parts of its place that are known; field names the key"
    )
    place: str
    wrong: str
    do: str
    values: dict[str, Any]


class EntrySaid(BaseModel):
    """What became of an entry."""

    taken: bool
    again: bool = Field(description="it had been taken before under this id, and was not taken twice")
    sample: str | None
    findings: list[FindingSaid]


class RefusalSaid(BaseModel):
    """Why nothing was done."""

    detail: str
    code: str | None = None
    taken: bool | None = None
    findings: list[FindingSaid] | None = None


def _refusal(description: str) -> dict[str, Any]:
    return {"model": RefusalSaid, "description": description}


LOOKING: Final[Answers] = {
    400: _refusal("The body is no text in UTF-8, or `Host` is not an address of the workbench."),
    401: _refusal("The token does not hold, or nobody has said who is at the bench."),
    403: _refusal("The token is not meant for this, or the person may not do it."),
    404: _refusal("There is nothing of this name."),
    422: _refusal("Something in the address cannot be read."),
    429: _refusal("Too many requests; `Retry-After` says how long to wait."),
    503: _refusal("The records are busy; send the same again."),
}

ENTERING: Final[Answers] = {
    **LOOKING,
    200: {"model": EntrySaid, "description": "Taken before under this id; not taken a second time."},
    201: {"model": EntrySaid, "description": "Taken."},
    409: _refusal("The id was used for another content, or the records stand against it."),
    411: _refusal("The entry does not say how long it is."),
    413: _refusal("The entry is too large."),
    422: {
        "model": EntrySaid | RefusalSaid,
        "description": "Not taken: findings say at which field, what is wrong and what to do.",
    },
}


def unread(request: Request, cause: Exception) -> Response:
    """Answer a body or a header that is not of the form asked for, field by field, in our words."""
    del request
    problems = cause.errors() if isinstance(cause, RequestValidationError) else []
    findings = []
    for problem in problems[:20]:
        place = [str(part) for part in problem["loc"] if part not in {"body", "header", "path", "query"}]
        values = {"text": str(problem["msg"])[:120]}
        findings.append(
            Finding("api-unread", Where(field=".".join(place)[:80] or None), Severity.STOP, values)
        )
    body = {
        "code": "unread",
        "detail": term("lost.unread-title"),
        "taken": False,
        "findings": [as_json(f) for f in findings],
    }
    return JSONResponse(body, status_code=422)
