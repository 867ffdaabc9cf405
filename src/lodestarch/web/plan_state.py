"""Plan and Bins as JSON, for whoever shows them elsewhere; keys as in ``docs/api.md``."""

from __future__ import annotations

from typing import Any, Final

from fastapi import APIRouter, HTTPException, Security

from lodestarch.records.engine import Records
from lodestarch.web.allocate_pages import Plans
from lodestarch.web.api_answers import LOOKING
from lodestarch.web.bearer import Gate
from lodestarch.web.loadout_pages import Cargoes
from lodestarch.words.catalogues import term
from lodestarch.words.findings import as_json
from lodestarch.work.planning.bins_kept import bins_kept
from lodestarch.work.planning.cargo_kept import cargo_kept
from lodestarch.work.planning.plan_json import allocation_as_dict, bins_as_dict, cargo_as_dict, probe_as_dict
from lodestarch.work.planning.probe_kept import probe_now

__all__ = ["plan_state_routes"]

_PATIENCE_S: Final = 1.2


def plan_state_routes(records: Records, plans: Plans, cargoes: Cargoes, gate: Gate) -> APIRouter:
    """Routes that look."""
    reading = [Security(gate, scopes=["read"])]
    api = APIRouter(prefix="/api/v1", tags=["planning"], dependencies=reading, responses=LOOKING)

    @api.get("/bins")
    def bins() -> dict[str, Any]:
        """Give the bins in layers, the limits of contracts, and the latest movements."""
        return bins_as_dict(bins_kept(records))

    @api.get("/plan/receive")
    def probe() -> dict[str, Any]:
        """Give the probe as it stands: the rule, the trucks with their words, the bins."""
        now = probe_now(records)
        if now is None:
            raise HTTPException(404, term("receive-page.none"))
        return {**probe_as_dict(now), "findings": [as_json(f) for f in now.answer.findings]}

    @api.get("/plan/loadout")
    def cargo() -> dict[str, Any]:
        """Give the cargo as it stands."""
        kept = cargo_kept(records)
        if kept is None:
            raise HTTPException(404, term("loadout-page.none"))
        now = cargoes.now(kept)
        return {**cargo_as_dict(now), "findings": [as_json(f) for f in now.answer.findings]}

    @api.get("/plan/allocate")
    def allocation() -> dict[str, Any]:
        """Give the allocation with its settled draws; ``ready`` is false while the solver looks."""
        kept = plans.kept()
        if kept is None:
            raise HTTPException(404, term("allocate-page.none"))
        job = plans.job(kept)
        job.wait(_PATIENCE_S)
        outcome = job.outcome
        findings = () if outcome is None else outcome.findings
        return {**allocation_as_dict(kept, outcome), "findings": [as_json(f) for f in findings]}

    return api
