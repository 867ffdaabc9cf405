"""Control of the bench as JSON under ``/api/v1``: how it stands, and everything that is entered for it."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Request, Security
from pydantic import Field
from starlette.responses import JSONResponse

from lodestarch.records.engine import Records
from lodestarch.web.api_answers import ENTERING, LOOKING
from lodestarch.web.api_entries import Body, EntryDesk, EntryId, Text, answered
from lodestarch.web.bearer import Gate
from lodestarch.web.clock import Clock
from lodestarch.web.person import People
from lodestarch.work.quality import check_entries as checks
from lodestarch.work.quality import upkeep_entries as upkeep
from lodestarch.work.quality.bench_control import bench_control
from lodestarch.work.quality.bench_control_json import control_as_dict, watch_as_dict
from lodestarch.work.quality.bench_now import bench_watch_now, failed_checks
from lodestarch.work.quality.check_entry import CheckTyped, run_check

__all__ = ["control_entry_routes", "control_routes"]


class CheckBody(Body):
    """A check sample; without seconds it waits at the bench."""

    material: Text
    bath: Text = ""
    mill: Text = ""
    moisture_pct: Text = ""
    seconds: list[Text] = Field(default_factory=list, max_length=4)


class MaterialBody(Body):
    """A check material, new or changed."""

    name: Text
    lot: Text = ""
    form: Text = "meal"
    target_s: Text = ""
    u_s: Text = ""
    source: Text = ""
    expires_on: Text = ""


class UpkeepBody(Body):
    """Something done to the bench."""

    item: Text
    place: Text = ""
    done_at: Text = ""
    note: Text = ""


class IntervalBody(Body):
    """How often an item is due here."""

    item: Text
    every_days: Text = ""
    every_runs: Text = ""
    source: Text = ""


class TickBody(Body):
    """One item of the list at the start of a shift."""

    item: Text
    value: Text = ""
    held: Annotated[str, Field(pattern="^(yes|no)$")] = "yes"
    note: Text = ""


class CauseBody(Body):
    """The cause found for a failed check sample: what lifts its hold."""

    check: Text
    cause: Text = ""
    note: Text = ""


class PlanBody(Body):
    """When check samples are due and when shifts begin."""

    every_runs: Text = ""
    shift_starts: Text = ""


class BlindBody(Body):
    """A blind duplicate, split off a sample under a second ticket."""

    ticket: Text
    blind: Text = ""


def control_routes(records: Records, clock: Clock, gate: Gate) -> APIRouter:
    """Routes that look."""
    reading = [Security(gate, scopes=["read"])]
    api = APIRouter(prefix="/api/v1", tags=["control"], dependencies=reading, responses=LOOKING)

    @api.get("/control")
    def control() -> dict[str, Any]:
        """May the bench run, what is due, what is held, and the charts."""
        return control_as_dict(bench_control(records, at=clock()))

    @api.get("/shift")
    def shift() -> dict[str, Any]:
        """The verdict, the list at the start of the shift, and upkeep."""
        return watch_as_dict(bench_watch_now(records, at=clock()))

    return api


def control_entry_routes(records: Records, people: People, clock: Clock, gate: Gate) -> APIRouter:
    """Routes that enter something, by what a token has to be meant for."""
    desk, api = EntryDesk(records, people, clock), APIRouter(prefix="/api/v1/control", responses=ENTERING)
    for scope, add in (("enter", _bench_routes), ("setup", _chemist_routes)):
        part = APIRouter(tags=["control"], dependencies=[Security(gate, scopes=[scope])])
        add(part, desk)
        api.include_router(part)
    return api


def _bench_routes(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/check-samples", status_code=201)
    def check_sample(request: Request, entry: EntryId, body: CheckBody) -> JSONResponse:
        """Take up a check sample, or enter it with its readings."""
        typed = CheckTyped(body.material, body.bath, body.mill, body.moisture_pct, tuple(body.seconds))
        return answered(desk.take(request, entry, body, run_check, typed))

    @api.post("/upkeep", status_code=201)
    def done(request: Request, entry: EntryId, body: UpkeepBody) -> JSONResponse:
        """Keep that something was done to the bench."""
        typed = upkeep.UpkeepTyped(body.item, body.place, body.done_at, body.note)
        return answered(desk.take(request, entry, body, upkeep.upkeep_done, typed))

    @api.post("/shift", status_code=201)
    def shift_item(request: Request, entry: EntryId, body: TickBody) -> JSONResponse:
        """Tick one item of the list at the start of a shift."""
        typed = upkeep.TickTyped(body.item, body.value, body.held == "yes", body.note)
        return answered(desk.take(request, entry, body, upkeep.tick, typed))


def _chemist_routes(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/materials", status_code=201)
    def material(request: Request, entry: EntryId, body: MaterialBody) -> JSONResponse:
        """Register a check material, or change one."""
        typed = checks.MaterialTyped(**body.model_dump(exclude={"made_at"}))
        return answered(desk.take(request, entry, body, checks.register_material, typed))

    @api.post("/intervals", status_code=201)
    def interval(request: Request, entry: EntryId, body: IntervalBody) -> JSONResponse:
        """Keep how often an item of upkeep is due here."""
        typed = upkeep.IntervalTyped(**body.model_dump(exclude={"made_at"}))
        return answered(desk.take(request, entry, body, upkeep.set_interval, typed))

    @api.post("/causes", status_code=201)
    def cause(request: Request, entry: EntryId, body: CauseBody) -> JSONResponse:
        """Lift the hold of a failed check sample, with the cause that was found."""
        typed = checks.CauseTyped(body.check, body.cause, body.note)
        failed = failed_checks(desk.records)
        return answered(desk.take(request, entry, body, checks.find_cause, typed, failed))

    @api.post("/plan", status_code=201)
    def plan(request: Request, entry: EntryId, body: PlanBody) -> JSONResponse:
        """Keep when check samples are due and when shifts begin."""
        typed = checks.PlanTyped(body.every_runs, body.shift_starts)
        return answered(desk.take(request, entry, body, checks.set_plan, typed))

    @api.post("/blind", status_code=201)
    def blind(request: Request, entry: EntryId, body: BlindBody) -> JSONResponse:
        """Split a blind duplicate off a sample under a second ticket."""
        return answered(desk.take(request, entry, body, checks.add_blind, body.ticket, body.blind))
