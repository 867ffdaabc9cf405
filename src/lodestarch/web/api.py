"""The same as JSON, under ``/api/v1``; keys as in ``docs/json.md``."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import polars as pl
from fastapi import APIRouter, HTTPException, Security

from lodestarch.common.errors import UnknownName
from lodestarch.web.api_answers import LOOKING
from lodestarch.web.bearer import Gate
from lodestarch.web.source import DaySource
from lodestarch.words.catalogues import term
from lodestarch.words.findings import as_json
from lodestarch.work.bench.outcome_json import day_as_dict

__all__ = ["api_routes"]


def api_routes(source: DaySource, gate: Gate) -> APIRouter:
    """Routes over one source of days."""
    reading = [Security(gate, scopes=["read"])]
    api = APIRouter(prefix="/api/v1", tags=["days"], dependencies=reading, responses=LOOKING)

    @api.get("/days")
    def days() -> dict[str, Any]:
        """Every day, the newest first."""
        return {
            "days": [
                {
                    "day_id": d.day_id,
                    "title": d.title,
                    "read_at": d.read_at.isoformat(),
                    "samples": d.samples,
                    "waiting": d.waiting,
                }
                for d in source.list_days()
            ]
        }

    @api.get("/days/{day_id}")
    def day(day_id: str) -> dict[str, Any]:
        """One day: counts, results with their readings, findings in words."""
        try:
            found = source.load_day(day_id)
        except UnknownName:
            raise HTTPException(404, term("lost.title-day", code=day_id)) from None
        return {**day_as_dict(found), "findings": [as_json(f) for f in found.findings]}

    @api.get("/samples/{code:path}")
    def sample(code: str) -> dict[str, Any]:
        """A ticket or sample on every day that has it, the newest first."""
        places = source.find(code)
        if not places:
            raise HTTPException(404, term("lost.title-code", code=code))
        return {"code": code, "days": [_on_day(source, *place) for place in places]}

    return api


def _on_day(source: DaySource, day_id: str, sample: str) -> dict[str, Any]:
    day = source.load_day(day_id)
    mine = pl.col("sample") == sample
    alone = replace(day, results=day.results.filter(mine), readings=day.readings.filter(mine))
    results = day_as_dict(alone)["results"]
    return {
        "day_id": day_id,
        "title": day.title,
        "result": results[0] if results else None,
        "findings": [as_json(f) for f in day.findings if f.where.sample == sample],
    }
