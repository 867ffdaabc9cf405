"""What is entered on the pages Plan and Bins, as JSON under ``/api/v1``: the pages' own use cases."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request, Security
from pydantic import Field
from starlette.responses import JSONResponse

from lodestarch.records.engine import Records
from lodestarch.web.api_answers import ENTERING
from lodestarch.web.api_entries import Body, EntryDesk, EntryId, Text, answered
from lodestarch.web.bearer import Gate
from lodestarch.web.clock import Clock
from lodestarch.web.person import People
from lodestarch.work.planning import allocation_kept as allocation
from lodestarch.work.planning import bins_entries as bins
from lodestarch.work.planning import cargo_entries as cargo
from lodestarch.work.planning import probe_entries as probe

__all__ = ["plan_entry_routes"]

File = Annotated[str, Field(max_length=allocation.LONGEST_PROBLEM)]


class FileBody(Body):
    """A file's text and its name."""

    text: File
    name: Text = ""


class TruckBody(Body):
    """A truck at the probe; field and variety by name, or by their place in the list."""

    ticket: Text
    tonnes: Text = ""
    field: Text = ""
    variety: Text = ""
    to_come: Text = ""


class NumberBody(Body):
    """A result as told by the bench."""

    seconds: Text = ""


class DumpedBody(Body):
    """Where a truck dumped; empty: it went away again."""

    bin: Text = ""


class ModeBody(Body):
    """What happens while a test runs."""

    mode: Text
    composite_of: Text = ""


class BinBody(Body):
    """A new bin."""

    bin: Text = ""
    capacity_t: Text = ""


class InBody(Body):
    """A load put into a bin."""

    bin: Text
    ticket: Text
    tonnes: Text = ""
    seconds: Text = ""
    u_s: Text = ""


class MoveBody(Body):
    """Grain moved from one bin into another."""

    bin: Text
    to: Text
    tonnes: Text = ""


class TurnBody(Body):
    """A bin turned."""

    bin: Text


class OutBody(Body):
    """Grain taken out of a bin."""

    bin: Text
    tonnes: Text = ""


class MovementBody(Body):
    """A movement put right; 0 takes it back."""

    movement: Text
    tonnes: Text = ""
    reason: Text = ""


class DrawBody(Body):
    """A draw settled; empty tonnes let it go."""

    bin: Text
    to: Text
    tonnes: Text = ""


class TimeBody(Body):
    """How long the solver may look."""

    time_s: Text


class SublotBody(Body):
    """A sublot as loaded; an empty number is the next."""

    number: Text = ""
    tonnes: Text = ""
    shares: Text = ""


class ResultBody(Body):
    """The result of a sublot."""

    number: Text = ""
    seconds: Text = ""


class BackBody(Body):
    """A sublot taken back, and why."""

    number: Text = ""
    reason: Text = ""


def plan_entry_routes(records: Records, people: People, clock: Clock, gate: Gate) -> APIRouter:
    """Routes that enter something of planning."""
    entering = [Security(gate, scopes=["enter"])]
    api = APIRouter(prefix="/api/v1", tags=["planning"], dependencies=entering, responses=ENTERING)
    desk = EntryDesk(records, people, clock)
    _probe_routes(api, desk)
    _bin_routes(api, desk)
    _allocation_routes(api, desk)
    _cargo_routes(api, desk)
    return api


def _probe_routes(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/plan/receive/site", status_code=201)
    def site(request: Request, entry: EntryId, body: FileBody) -> JSONResponse:
        """Keep the receiving site by its file."""
        name = body.name or "site.toml"
        return answered(desk.take(request, entry, body, probe.keep_site, body.text, name))

    @api.post("/plan/receive/mode", status_code=201)
    def mode(request: Request, entry: EntryId, body: ModeBody) -> JSONResponse:
        """Choose what happens while a test runs."""
        return answered(desk.take(request, entry, body, probe.choose_mode, body.mode, body.composite_of))

    @api.post("/plan/receive/trucks", status_code=201)
    def truck(request: Request, entry: EntryId, body: TruckBody) -> JSONResponse:
        """Enter a truck at the probe; its word is kept with it."""
        typed = probe.TruckTyped(body.ticket, body.tonnes, body.field, body.variety, body.to_come)
        return answered(desk.take(request, entry, body, probe.truck_comes, typed))

    @api.post("/plan/receive/trucks/{ticket}/number", status_code=201)
    def number(request: Request, entry: EntryId, ticket: str, body: NumberBody) -> JSONResponse:
        """Enter the number of a load or a composite."""
        return answered(desk.take(request, entry, body, probe.number_came, ticket, body.seconds))

    @api.post("/plan/receive/trucks/{ticket}/dumped", status_code=201)
    def dumped(request: Request, entry: EntryId, ticket: str, body: DumpedBody) -> JSONResponse:
        """Enter where a truck dumped."""
        return answered(desk.take(request, entry, body, probe.dumped, ticket, body.bin))


def _bin_routes(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/bins", status_code=201)
    def add(request: Request, entry: EntryId, body: BinBody) -> JSONResponse:
        """Add a bin."""
        return answered(desk.take(request, entry, body, bins.add_bin, body.bin, body.capacity_t))

    @api.post("/bins/in", status_code=201)
    def put_in(request: Request, entry: EntryId, body: InBody) -> JSONResponse:
        """Put a load into a bin as a layer on top."""
        typed = (body.bin, body.ticket, body.tonnes, body.seconds, body.u_s)
        return answered(desk.take(request, entry, body, bins.put_in, typed))

    @api.post("/bins/moved", status_code=201)
    def moved(request: Request, entry: EntryId, body: MoveBody) -> JSONResponse:
        """Move grain from one bin into another."""
        return answered(desk.take(request, entry, body, bins.move, body.bin, body.to, body.tonnes))

    @api.post("/bins/turned", status_code=201)
    def turned(request: Request, entry: EntryId, body: TurnBody) -> JSONResponse:
        """Turn a bin: all of it is one layer."""
        return answered(desk.take(request, entry, body, bins.turn, body.bin))

    @api.post("/bins/out", status_code=201)
    def out(request: Request, entry: EntryId, body: OutBody) -> JSONResponse:
        """Take grain out of a bin."""
        return answered(desk.take(request, entry, body, bins.take_out, body.bin, body.tonnes))

    @api.post("/bins/corrections", status_code=201)
    def correction(request: Request, entry: EntryId, body: MovementBody) -> JSONResponse:
        """Put the tonnes of a movement right, with the reason."""
        typed = (body.movement, body.tonnes, body.reason)
        return answered(desk.take(request, entry, body, bins.correct_movement, *typed))


def _allocation_routes(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/plan/allocate/problem", status_code=201)
    def problem(request: Request, entry: EntryId, body: FileBody) -> JSONResponse:
        """Keep another plan problem."""
        name = body.name or "plan.toml"
        return answered(desk.take(request, entry, body, allocation.keep_problem, body.text, name))

    @api.post("/plan/allocate/draws", status_code=201)
    def draw(request: Request, entry: EntryId, body: DrawBody) -> JSONResponse:
        """Settle a draw, or let it go."""
        return answered(desk.take(request, entry, body, allocation.pin, body.bin, body.to, body.tonnes))

    @api.post("/plan/allocate/back", status_code=201)
    def back(request: Request, entry: EntryId, body: Body) -> JSONResponse:
        """Undo the last change of the settled draws."""
        return answered(desk.take(request, entry, body, allocation.step_back))

    @api.post("/plan/allocate/forth", status_code=201)
    def forth(request: Request, entry: EntryId, body: Body) -> JSONResponse:
        """Do again what was undone last."""
        return answered(desk.take(request, entry, body, allocation.step_forth))

    @api.post("/plan/allocate/time", status_code=201)
    def time(request: Request, entry: EntryId, body: TimeBody) -> JSONResponse:
        """Keep how long the solver may look."""
        return answered(desk.take(request, entry, body, allocation.settle_time, body.time_s))


def _cargo_routes(api: APIRouter, desk: EntryDesk) -> None:
    @api.post("/plan/loadout/cargo", status_code=201)
    def new_cargo(request: Request, entry: EntryId, body: FileBody) -> JSONResponse:
        """Keep another cargo by its file."""
        name = body.name or "cargo.toml"
        return answered(desk.take(request, entry, body, cargo.keep_cargo, body.text, name))

    @api.post("/plan/loadout/sublots", status_code=201)
    def sublot(request: Request, entry: EntryId, body: SublotBody) -> JSONResponse:
        """Enter a sublot as loaded."""
        typed = (body.number, body.tonnes, body.shares)
        return answered(desk.take(request, entry, body, cargo.load_sublot, typed))

    @api.post("/plan/loadout/results", status_code=201)
    def result(request: Request, entry: EntryId, body: ResultBody) -> JSONResponse:
        """Enter the result of a sublot."""
        return answered(desk.take(request, entry, body, cargo.result_came, body.number, body.seconds))

    @api.post("/plan/loadout/taken-back", status_code=201)
    def take_back(request: Request, entry: EntryId, body: BackBody) -> JSONResponse:
        """Take a sublot out of the cargo again."""
        return answered(desk.take(request, entry, body, cargo.take_back, body.number, body.reason))
