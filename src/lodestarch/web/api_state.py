"""The bench and one ticket as JSON, for whoever shows them elsewhere."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, HTTPException, Security

from lodestarch.common.errors import UnknownName
from lodestarch.records.engine import Records
from lodestarch.web.api_answers import LOOKING
from lodestarch.web.bearer import Gate
from lodestarch.web.clock import Clock
from lodestarch.words.catalogues import term
from lodestarch.work.bench.state import bench_now
from lodestarch.work.bench.ticket_json import bench_as_dict, ticket_as_dict
from lodestarch.work.office.tickets_one import ticket_whole

__all__ = ["state_routes"]


def state_routes(records: Records, clock: Clock, gate: Gate) -> APIRouter:
    """Routes that look."""
    reading = [Security(gate, scopes=["read"])]
    api = APIRouter(prefix="/api/v1", tags=["bench"], dependencies=reading, responses=LOOKING)

    @api.get("/bench")
    def bench() -> dict[str, Any]:
        """The bench as it stands: tickets by station, baths, the next movement of the hand."""
        return bench_as_dict(bench_now(records, at=clock()))

    @api.get("/tickets/{code}")
    def ticket(code: str) -> dict[str, Any]:
        """One ticket: its state, the line to read out, who was told, and what was replaced."""
        try:
            whole = ticket_whole(records, code)
        except UnknownName:
            raise HTTPException(404, term("lost.title-code", code=code)) from None
        return {
            **ticket_as_dict(whole.ticket),
            "read_out": whole.phone,
            "answers": [
                {"at": a.at.isoformat(), "whom": a.whom, "how": a.how, "said": a.said} for a in whole.answers
            ],
            "changes": [
                {"at": c.at.isoformat(), "person": c.person, "kind": c.kind, "reason": c.reason}
                for c in whole.changes
            ],
        }

    return api
