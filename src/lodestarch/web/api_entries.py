"""What is entered, as JSON under ``/api/v1``: the same use cases that the pages send to.

Every entry carries ``Idempotency-Key``, an id made by the sender. The same entry sent again under it is
taken once; the pages rely on that where a connection breaks between an entry and its answer.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Annotated, Any, Final

from fastapi import APIRouter, Header, Request, Security
from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from starlette.responses import JSONResponse

from lodestarch.common.canonical import Json, canonical_text, sha256_hex
from lodestarch.records.engine import Records
from lodestarch.web.api_answers import ENTERING
from lodestarch.web.bearer import Gate
from lodestarch.web.clock import Clock
from lodestarch.web.person import People
from lodestarch.work.bench.correcting import Correction, ReadingKey, correct, judge_now, set_aside
from lodestarch.work.bench.entered import Entered, Sent
from lodestarch.work.bench.lowering import Lowered, lower, raise_lost
from lodestarch.work.bench.preparing import Ground, MoistureTyped, grind, measure, weigh
from lodestarch.work.bench.reading_in import QuickLine, ReadingsTyped, quick_line, read_in
from lodestarch.work.bench.receiving import Arrival, receive
from lodestarch.work.bench.ticket_json import entered_as_dict
from lodestarch.work.keeping.bench_choices import ChoicesTyped, set_bench_choices
from lodestarch.work.office.tickets_answer import answer
from lodestarch.work.office.tickets_release import release_by_chemist, release_by_rule

__all__ = ["Body", "EntryDesk", "EntryId", "LongText", "Text", "answered", "entry_routes"]

_LONGEST: Final = 200


def _without_nul(text: str) -> str:
    """No database keeps the character NUL in a text."""
    if "\0" in text:
        raise ValueError("the character NUL stands in it")
    return text


Text = Annotated[str, Field(max_length=_LONGEST), AfterValidator(_without_nul)]
LongText = Annotated[str, Field(max_length=4000), AfterValidator(_without_nul)]
EntryId = Annotated[
    str, Header(alias="Idempotency-Key", min_length=8, max_length=64, pattern=r"^[A-Za-z0-9-]+$")
]


class Body(BaseModel):
    """What every entry may carry: when the hand did it, by the sender's clock."""

    model_config = ConfigDict(extra="forbid")
    made_at: datetime | None = None


class ReceiveBody(Body):
    """A load or sample arrives."""

    ticket: Text
    whose: Text = ""
    kind: Text = "load"
    material: Text = ""
    needed_by: Text = ""
    mass_g: Text = ""
    condition: Text = ""
    note: Text = ""


class GroundBody(Body):
    """Cleaned and ground."""

    cleaned_how: Text = "as is"
    ground_mass_g: Text = ""


class MoistureBody(Body):
    """A moisture as typed."""

    moisture_pct: Text
    method: Text = "meter"
    measured_on: Text = "meal"


class PortionBody(Body):
    """A portion as weighed into one tube."""

    position: Text
    mass_g: Text


class LoweringBody(Body):
    """Tubes lowered into a bath."""

    bath: Text
    tubes: int = 2
    pressure_hpa: Text = ""
    note: Text = ""


class ReadingsBody(Body):
    """Seconds by position, as the instrument shows them."""

    seconds: dict[Annotated[str, Field(max_length=8)], Text] = Field(max_length=8)
    corrected_by_instrument: bool | None = None


class QuickBody(Body):
    """Ticket, moisture and readings in one line."""

    ticket: Text
    moisture_pct: Text = ""
    seconds: list[Text] = Field(max_length=8)


class SetAsideBody(Body):
    """A reading set aside with its cause."""

    run: Text
    position: Text
    cause: Text
    reason: Text = ""


class CorrectionBody(Body):
    """A slip put right; empty fields stay as they are."""

    run: Text
    position: Text
    seconds: Text = ""
    mass_g: Text = ""
    moisture_pct: Text = ""
    reason: Text = ""


class ReasonBody(Body):
    """Something that wants a reason, or may have one."""

    reason: Text = ""


class AnswerBody(Body):
    """What was read out, to whom."""

    asked_by: Text
    how: Text = "phone"


class BenchChoicesBody(Body):
    """The lab's choices for its bench."""

    profile: Text
    baths: Text
    limits: LongText = ""


def answered(entered: Entered, **more: Any) -> JSONResponse:
    """Answer with what became of an entry."""
    status = 422 if not entered.taken else 200 if entered.again else 201
    return JSONResponse({**entered_as_dict(entered), **more}, status_code=status)


class EntryDesk:
    """Takes an entry to its use case with who sent it and when."""

    def __init__(self, records: Records, people: People, clock: Clock) -> None:
        self.records, self.people, self.clock = records, people, clock

    def take(
        self, request: Request, entry_id: str, body: Body, use_case: Callable[..., Any], *parts: Any
    ) -> Any:
        """Call a use case with the entry's id and digest, the person and the present moment."""
        who = self.people.require(request)
        said: Json = {"path": request.url.path, "body": body.model_dump(mode="json")}
        made_at = body.made_at if body.made_at is None or body.made_at.tzinfo else None
        sent = Sent(entry_id, sha256_hex(canonical_text(said).encode()), made_at)
        return use_case(self.records, sent, *parts, person=who.person, at=self.clock())


def entry_routes(records: Records, people: People, clock: Clock, gate: Gate) -> APIRouter:
    """Routes that enter something, by what a token has to be meant for."""
    desk, api = EntryDesk(records, people, clock), APIRouter(prefix="/api/v1", responses=ENTERING)
    parts = (
        ("enter", _bench_routes),
        ("enter", _reading_routes),
        ("release", _office_routes),
        ("setup", _setup_routes),
    )
    for scope, add in parts:
        part = APIRouter(tags=[scope], dependencies=[Security(gate, scopes=[scope])])
        add(part, desk)
        api.include_router(part)
    return api


def _bench_routes(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/tickets", status_code=201)
    def receive_ticket(request: Request, entry: EntryId, body: ReceiveBody) -> JSONResponse:
        """Receive a load or sample under its ticket."""
        arrival = Arrival(**body.model_dump(exclude={"made_at"}))
        return answered(desk.take(request, entry, body, receive, arrival))

    @api.post("/quick", status_code=201)
    def quick(request: Request, entry: EntryId, body: QuickBody) -> JSONResponse:
        """Take ticket, moisture and readings in one line; a new ticket is received with them."""
        line = QuickLine(body.ticket, body.moisture_pct, tuple(body.seconds))
        return answered(desk.take(request, entry, body, quick_line, line))

    @api.post("/tickets/{code}/ground", status_code=201)
    def ground(request: Request, entry: EntryId, code: str, body: GroundBody) -> JSONResponse:
        """Note that a sample is cleaned and ground."""
        typed = Ground(body.cleaned_how, body.ground_mass_g)
        return answered(desk.take(request, entry, body, grind, code, typed))

    @api.post("/tickets/{code}/moisture", status_code=201)
    def moisture(request: Request, entry: EntryId, code: str, body: MoistureBody) -> JSONResponse:
        """Record a moisture; the portion follows from it."""
        typed = MoistureTyped(body.moisture_pct, body.method, body.measured_on)
        return answered(desk.take(request, entry, body, measure, code, typed))

    @api.post("/tickets/{code}/portions", status_code=201)
    def portion(request: Request, entry: EntryId, code: str, body: PortionBody) -> JSONResponse:
        """Record the portion weighed into one tube."""
        return answered(desk.take(request, entry, body, weigh, code, body.position, body.mass_g))

    @api.post("/tickets/{code}/lowerings", status_code=201)
    def lowering(request: Request, entry: EntryId, code: str, body: LoweringBody) -> JSONResponse:
        """Lower tubes into a bath."""
        typed = Lowered(body.bath, body.tubes, body.pressure_hpa, body.note)
        return answered(desk.take(request, entry, body, lower, code, typed))


def _reading_routes(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/tickets/{code}/lost", status_code=201)
    def lost(request: Request, entry: EntryId, code: str, body: ReasonBody) -> JSONResponse:
        """Take tubes out of a bath without a reading, with the reason."""
        return answered(desk.take(request, entry, body, raise_lost, code, body.reason))

    @api.post("/tickets/{code}/readings", status_code=201)
    def readings(request: Request, entry: EntryId, code: str, body: ReadingsBody) -> JSONResponse:
        """Enter seconds by position; the sample is judged once no tube of it is in a bath."""
        typed = ReadingsTyped(body.seconds, body.corrected_by_instrument)
        return answered(desk.take(request, entry, body, read_in, code, typed))

    @api.post("/tickets/{code}/judgement", status_code=201)
    def judgement(request: Request, entry: EntryId, code: str, body: Body) -> JSONResponse:
        """Judge a sample by the readings that it has."""
        return answered(desk.take(request, entry, body, judge_now, code))

    @api.post("/tickets/{code}/set-aside", status_code=201)
    def aside(request: Request, entry: EntryId, code: str, body: SetAsideBody) -> JSONResponse:
        """Set a reading aside with its cause."""
        key = ReadingKey(body.run, body.position)
        return answered(desk.take(request, entry, body, set_aside, code, key, body.cause, body.reason))

    @api.post("/tickets/{code}/corrections", status_code=201)
    def correction(request: Request, entry: EntryId, code: str, body: CorrectionBody) -> JSONResponse:
        """Put a slip right, with the reason; what stood before is kept."""
        key = ReadingKey(body.run, body.position)
        typed = Correction(body.seconds, body.mass_g, body.moisture_pct, body.reason)
        return answered(desk.take(request, entry, body, correct, code, key, typed))


def _office_routes(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/tickets/{code}/release", status_code=201)
    def release(request: Request, entry: EntryId, code: str, body: ReasonBody) -> JSONResponse:
        """Let one result out on the chemist's word."""
        return answered(desk.take(request, entry, body, release_by_chemist, code, body.reason))

    @api.post("/release-by-rule", status_code=201)
    def by_rule(request: Request, entry: EntryId, body: Body) -> JSONResponse:
        """Let every result out that nothing stands against."""
        entered, count = desk.take(request, entry, body, release_by_rule)
        return answered(entered, released=count)

    @api.post("/tickets/{code}/answers", status_code=201)
    def answers(request: Request, entry: EntryId, code: str, body: AnswerBody) -> JSONResponse:
        """Keep what was read out, to whom and how."""
        return answered(desk.take(request, entry, body, answer, code, body.asked_by, body.how))


def _setup_routes(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/setup/bench", status_code=201)
    def bench_setup(request: Request, entry: EntryId, body: BenchChoicesBody) -> JSONResponse:
        """Keep the lab's choices for its bench."""
        typed = ChoicesTyped(body.profile, body.baths, body.limits)
        return answered(desk.take(request, entry, body, set_bench_choices, typed))
