"""What the office enters about retests and terms, as JSON under ``/api/v1``."""

from __future__ import annotations

from fastapi import APIRouter, Request, Security
from starlette.responses import JSONResponse

from lodestarch.records.engine import Records
from lodestarch.web.api_answers import ENTERING
from lodestarch.web.api_entries import Body, EntryDesk, EntryId, Text, answered
from lodestarch.web.bearer import Gate
from lodestarch.web.clock import Clock
from lodestarch.web.person import People
from lodestarch.work.office.retests import RetestTyped, ask_retest
from lodestarch.work.office.ticket_price import tell_price

__all__ = ["trade_entry_routes"]


class RetestBody(Body):
    """A retest asked for: what it is made from, and how it combines."""

    made_from: Text = "regrind"
    rule: Text = "all-count"
    rule_from: Text = ""
    appeal_sd_s: Text = ""
    asked_by: Text = ""
    reason: Text = ""


class TellBody(Body):
    """A price as told, and to whom."""

    asked_by: Text


def trade_entry_routes(records: Records, people: People, clock: Clock, gate: Gate) -> APIRouter:
    """Routes that enter something of the trade."""
    desk = EntryDesk(records, people, clock)
    api = APIRouter(
        prefix="/api/v1",
        responses=ENTERING,
        tags=["enter"],
        dependencies=[Security(gate, scopes=["enter"])],
    )

    @api.post("/tickets/{code}/retests", status_code=201)
    def retests(request: Request, entry: EntryId, code: str, body: RetestBody) -> JSONResponse:
        """Ask for a retest; the answer names the sample that it will be run on."""
        typed = RetestTyped(**body.model_dump(exclude={"made_at"}))
        return answered(desk.take(request, entry, body, ask_retest, code, typed))

    @api.post("/tickets/{code}/prices", status_code=201)
    def prices(request: Request, entry: EntryId, code: str, body: TellBody) -> JSONResponse:
        """Keep what a ticket was said to bring, to whom and under which version of the terms."""
        return answered(desk.take(request, entry, body, tell_price, code, body.asked_by))

    return api
