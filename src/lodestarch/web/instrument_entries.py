"""Lines from instruments, as JSON under ``/api/v1``."""

from __future__ import annotations

from fastapi import APIRouter, Request, Security
from starlette.responses import JSONResponse

from lodestarch.records.engine import Records
from lodestarch.web.api_answers import ENTERING
from lodestarch.web.api_entries import Body, EntryDesk, EntryId, Text, answered
from lodestarch.web.bearer import Gate
from lodestarch.web.clock import Clock
from lodestarch.web.person import People
from lodestarch.work.bench.instrument_lines import LineTyped, describe_line, hear

__all__ = ["instrument_entry_routes"]


class LineBody(Body):
    """A line described: its name, and the pattern with fields in braces; an empty one takes it away."""

    name: Text
    pattern: Text = ""


class HeardBody(Body):
    """A line as an instrument sent it."""

    source: Text
    text: Text


def instrument_entry_routes(records: Records, people: People, clock: Clock, gate: Gate) -> APIRouter:
    """Routes for lines."""
    desk = EntryDesk(records, people, clock)
    api = APIRouter(prefix="/api/v1", responses=ENTERING)

    @api.post("/heard", status_code=201, tags=["enter"], dependencies=[Security(gate, scopes=["enter"])])
    def heard(request: Request, entry: EntryId, body: HeardBody) -> JSONResponse:
        """Keep a line as it came; where it names a ticket with a tube in a bath it is that tube's reading."""
        return answered(desk.take(request, entry, body, hear, body.source, body.text))

    @api.post(
        "/setup/lines", status_code=201, tags=["setup"], dependencies=[Security(gate, scopes=["setup"])]
    )
    def lines(request: Request, entry: EntryId, body: LineBody) -> JSONResponse:
        """Keep the pattern of a line under its name."""
        return answered(desk.take(request, entry, body, describe_line, LineTyped(body.name, body.pattern)))

    return api
