"""Samples on their way, as JSON under ``/api/v1``: parts, composites, what is kept, what is sent out."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, HTTPException, Request, Security
from starlette.responses import JSONResponse

from lodestarch.common.errors import UnknownName
from lodestarch.records.engine import Records
from lodestarch.web.api_answers import ENTERING, LOOKING
from lodestarch.web.api_entries import Body, EntryDesk, EntryId, LongText, Text, answered
from lodestarch.web.bearer import Gate
from lodestarch.web.clock import Clock
from lodestarch.web.person import People
from lodestarch.words.catalogues import term
from lodestarch.work.office.grain_json import grain_as_dict, left_as_dict
from lodestarch.work.office.grain_of import grain_of
from lodestarch.work.office.retained import RetainTyped, RuleTyped, discard, keep_rule, retain, retained_now
from lodestarch.work.office.sample_parts import CompositeTyped, SplitTyped, compose, split
from lodestarch.work.office.sent_out import SendTyped, StepTyped, came_back, pass_on, send_out

__all__ = ["grain_routes"]


class SplitBody(Body):
    """A part divided off a sample."""

    mass_g: Text = ""
    reason: Text = ""


class CompositeBody(Body):
    """A composite from retained grain: one part a line, ticket and grams by net weight."""

    ticket: Text
    recipe: LongText
    reason: Text = ""


class RetainBody(Body):
    """What is left of a sample, and where; without days the lab's rule says for how long."""

    mass_g: Text
    place: Text
    seal: Text = ""
    keep_days: Text = ""


class DiscardBody(Body):
    """Retained grain discarded, by its key; before its day with the reason."""

    key: Text
    reason: Text = ""


class RuleBody(Body):
    """How long a kind of sample is kept, and where that stands."""

    applies_to: Text
    keep_days: Text
    source: Text


class SendBody(Body):
    """A part sent to another laboratory."""

    laboratory: Text
    purpose: Text
    mass_g: Text = ""
    seal: Text = ""


class StepBody(Body):
    """A step of custody of a part that was sent, by its key."""

    key: Text
    what: Text
    from_whom: Text = ""
    to_whom: Text = ""
    seal: Text = ""
    note: Text = ""


class CameBackBody(Body):
    """What the other laboratory found, by the key of what was sent."""

    key: Text
    seconds: Text


def _rest(body: Body) -> dict[str, Any]:
    return body.model_dump(exclude={"made_at", "key"})


def grain_routes(records: Records, people: People, clock: Clock, gate: Gate) -> APIRouter:
    """Routes that look, and routes that enter."""
    api = APIRouter(prefix="/api/v1", tags=["samples"])
    looking = APIRouter(dependencies=[Security(gate, scopes=["read"])], responses=LOOKING)
    entering = APIRouter(dependencies=[Security(gate, scopes=["enter"])], responses=ENTERING)
    desk = EntryDesk(records, people, clock)
    _looking(looking, records, clock)
    _parts(entering, desk)
    _kept(entering, desk)
    _sent(entering, desk)
    api.include_router(looking)
    api.include_router(entering)
    return api


def _looking(api: APIRouter, records: Records, clock: Clock) -> None:
    @api.get("/retained")
    def retained() -> dict[str, Any]:
        """Everything that is kept of samples; ``due`` tells what may be discarded today."""
        today = clock().date()
        return {"retained": [left_as_dict(one, today) for one in retained_now(records)]}

    @api.get("/tickets/{code}/grain")
    def grain(code: str) -> dict[str, Any]:
        """What a sample was made from and what from it, what is kept, what was sent, its files."""
        try:
            return grain_as_dict(grain_of(records, code), clock().date())
        except UnknownName:
            raise HTTPException(404, term("lost.title-code", code=code)) from None


def _parts(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/tickets/{code}/splits", status_code=201)
    def splits(request: Request, entry: EntryId, code: str, body: SplitBody) -> JSONResponse:
        """Divide a part off a sample: a sample of its own, its code with a letter behind it."""
        return answered(desk.take(request, entry, body, split, code, SplitTyped(**_rest(body))))

    @api.post("/composites", status_code=201)
    def composites(request: Request, entry: EntryId, body: CompositeBody) -> JSONResponse:
        """Make a composite by mass from retained grain; all of it is taken, or nothing."""
        return answered(desk.take(request, entry, body, compose, CompositeTyped(**_rest(body))))


def _kept(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/tickets/{code}/retained", status_code=201)
    def kept(request: Request, entry: EntryId, code: str, body: RetainBody) -> JSONResponse:
        """Keep what is left of a sample."""
        return answered(desk.take(request, entry, body, retain, code, RetainTyped(**_rest(body))))

    @api.post("/retained/discarded", status_code=201)
    def discarded(request: Request, entry: EntryId, body: DiscardBody) -> JSONResponse:
        """Note that retained grain is discarded."""
        return answered(desk.take(request, entry, body, discard, body.key, body.reason))

    @api.post("/retention-rules", status_code=201)
    def rule(request: Request, entry: EntryId, body: RuleBody) -> JSONResponse:
        """Keep for how long a kind of sample is kept, as the lab enters it."""
        return answered(desk.take(request, entry, body, keep_rule, RuleTyped(**_rest(body))))


def _sent(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/tickets/{code}/sent", status_code=201)
    def sent(request: Request, entry: EntryId, code: str, body: SendBody) -> JSONResponse:
        """Send a part of a sample to another laboratory."""
        return answered(desk.take(request, entry, body, send_out, code, SendTyped(**_rest(body))))

    @api.post("/sent/custody", status_code=201)
    def custody(request: Request, entry: EntryId, body: StepBody) -> JSONResponse:
        """Note the next step of custody of a part that was sent."""
        return answered(desk.take(request, entry, body, pass_on, body.key, StepTyped(**_rest(body))))

    @api.post("/sent/results", status_code=201)
    def results(request: Request, entry: EntryId, body: CameBackBody) -> JSONResponse:
        """Keep what the other laboratory found."""
        return answered(desk.take(request, entry, body, came_back, body.key, body.seconds))
