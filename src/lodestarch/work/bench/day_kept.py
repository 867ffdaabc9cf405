"""A day into the records, and out of them again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, cast

import polars as pl

from lodestarch.common.canonical import Json
from lodestarch.common.provenance import Provenance
from lodestarch.control.day_hold import DayHold, HeldResult
from lodestarch.method.day_counts import DayCounts
from lodestarch.method.scatter import ScatterLaw
from lodestarch.plan.bin_state import BinState
from lodestarch.records.day_values import DayParts, InputFile, KeptDay, RefusedLine
from lodestarch.sheets.account import RefusedRow
from lodestarch.trade.limits import Limit
from lodestarch.work.bench.outcome import DayOutcome, SheetAccount
from lodestarch.work.keeping.profiles import ProfileBook

__all__ = ["outcome_of", "parts_of"]


def parts_of(outcome: DayOutcome, readings: pl.DataFrame) -> DayParts:
    """Return what the records keep of a day; ``readings`` are the sheet's rows as it says them."""
    sheets = [("bench", outcome.sheet), ("samples", outcome.sample_sheet)]
    summary = {
        "counts": asdict(outcome.counts),
        "limits": [asdict(x) for x in outcome.limits],
        "bins": [asdict(x) for x in outcome.bins],
        "scatter": {
            "kind": outcome.scatter.kind,
            "parameters": list(outcome.scatter.parameters),
            "knots_s": list(outcome.scatter.knots_s),
            "provenance": outcome.scatter.provenance.value,
            "note": outcome.scatter.note,
        },
        **_quality(outcome),
        # What the sheet came to when first read; what was known already changes with every reading of it.
        "accounts": {
            role: {k: v for k, v in asdict(a).items() if k not in {"already_known", "changed_since"}}
            for role, a in sheets
            if a is not None
        },
    }
    return DayParts(
        title=outcome.title,
        read_at=outcome.read_at,
        demonstration=outcome.demonstration,
        inputs=tuple(InputFile(role, a.name, a.sha256) for role, a in sheets if a is not None),
        profiles=tuple(p.name for p in outcome.profiles),
        readings=readings,
        samples=outcome.samples,
        results=outcome.results,
        refused=tuple(RefusedLine("bench", r.row, r.text, r.code) for r in outcome.refused),
        findings=outcome.findings,
        summary=cast("Json", summary),
    )


def _quality(outcome: DayOutcome) -> dict[str, Any]:
    """What was held, by which causes it was lifted, and what the u of the results rests on."""
    said: dict[str, Any] = {}
    if outcome.hold is not None:
        said["hold"] = {k: v for k, v in asdict(outcome.hold).items() if k != "findings"}
        said["check_causes"] = dict(outcome.hold.cleared)
    if outcome.own is not None and outcome.own.fit is not None:
        own = outcome.own
        said["own"] = {"kept": own.kept, "brought": own.brought, "prior_weight": own.prior_weight}
    return said


def _hold(summary: Mapping[str, Any]) -> DayHold | None:
    said = summary.get("hold")
    if said is None:
        return None
    held = [
        {**h, "checks": tuple(h["checks"]), "told": tuple((who, how) for who, how in h["told"])}
        for h in said["held"]
    ]
    cleared = tuple((sample, cause) for sample, cause in said["cleared"])
    return DayHold(tuple(said["failed"]), cleared, tuple(HeldResult(**h) for h in held), ())


def _account(summary: Mapping[str, Any], role: str) -> SheetAccount | None:
    kept = summary["accounts"].get(role)
    return SheetAccount(**kept, already_known=0, changed_since=0) if kept else None


def outcome_of(kept: KeptDay, book: ProfileBook) -> DayOutcome:
    """Return a day as it was judged, from the records."""
    parts = kept.parts
    summary = cast("Mapping[str, Any]", parts.summary)
    law = summary["scatter"]
    bench = _account(summary, "bench")
    assert bench is not None  # noqa: S101 - every day has a bench sheet
    return DayOutcome(
        day_id=kept.day_id,
        title=parts.title,
        read_at=parts.read_at,
        demonstration=parts.demonstration,
        sheet=bench,
        sample_sheet=_account(summary, "samples"),
        profiles=tuple(book.versions[name] for name in parts.profiles if name in book.versions),
        scatter=ScatterLaw(
            law["kind"],
            tuple(law["parameters"]),
            Provenance(law["provenance"]),
            law["note"],
            tuple(law["knots_s"]),
        ),
        readings=parts.readings,
        results=parts.results,
        samples=parts.samples,
        refused=tuple(RefusedRow(r.row, r.text, r.code) for r in parts.refused),
        findings=parts.findings,
        counts=DayCounts(**summary["counts"]),
        limits=tuple(Limit(**x) for x in summary["limits"]),
        bins=tuple(BinState(**x) for x in summary["bins"]),
        hold=_hold(summary),
    )
