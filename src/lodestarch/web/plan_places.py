"""Plan and Bins put together: pages, what is entered on them, and the same as JSON."""

from __future__ import annotations

import numpy as np
from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from lodestarch.records.engine import Records
from lodestarch.web.allocate_pages import AllocatePages, Plans
from lodestarch.web.bearer import Gate
from lodestarch.web.bins_pages import BinsPages
from lodestarch.web.clock import Clock
from lodestarch.web.loadout_pages import Cargoes, LoadoutPages
from lodestarch.web.person import People
from lodestarch.web.plan_entries import plan_entry_routes
from lodestarch.web.plan_state import plan_state_routes
from lodestarch.web.receive_pages import ReceivePages

__all__ = ["add_planning"]


def _plan(request: Request) -> Response:
    """To the first part of Plan."""
    del request
    return RedirectResponse("/plan/receive", status_code=303)


def add_planning(app: FastAPI, records: Records, people: People, clock: Clock, gate: Gate) -> None:
    """Add everything of planning to an application over open records."""
    plans, cargoes = Plans(records, np.random.default_rng), Cargoes(np.random.default_rng)
    app.include_router(plan_state_routes(records, plans, cargoes, gate))
    app.include_router(plan_entry_routes(records, people, clock, gate))
    app.router.routes.append(Route("/plan", _plan, name="plan"))
    app.router.routes.extend(BinsPages(records, people).routes())
    app.router.routes.extend(ReceivePages(records, people).routes())
    app.router.routes.extend(LoadoutPages(records, people, cargoes).routes())
    app.router.routes.extend(AllocatePages(plans, people, clock).routes())
