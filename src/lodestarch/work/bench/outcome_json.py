"""A day as one JSON object; its keys are documented in ``docs/json.md``."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import polars as pl

from lodestarch.method.reading import Kind, State
from lodestarch.work.bench.day_quality_json import day_quality_as_dict
from lodestarch.work.bench.outcome import DayOutcome
from lodestarch.work.office.day_prices_json import day_prices_as_dict

__all__ = ["day_as_dict", "result_as_dict"]

_KIND = {Kind.EXACT.value: "exact", Kind.AT_OR_BELOW.value: "at or below", Kind.ABOVE.value: "above"}
_STATE = {
    State.STANDS.value: "stands",
    State.RUN_AGAIN.value: "run again",
    State.SET_ASIDE.value: "set aside",
}
_RESULT_KEYS = (
    "sample", "ticket", "profile", "status", "kind", "seconds", "mean_s", "how", "tubes", "set_aside",
    "run_again", "tubes_stated", "spread_s", "limit_s", "agreement", "u_s", "ln", "ln_low", "ln_high",
    "estimate_s", "estimate_u_s", "moisture_pct", "pressure_hpa", "correction", "comparable_key", "first_row",
)  # fmt: skip
_READING_KEYS = (
    "row", "run", "bath", "position", "tube_id", "stirrer_id", "seconds", "kind", "moisture_pct", "mass_g",
    "portion_g", "pressure_hpa", "corrected_by_instrument", "analyst", "run_at", "set_aside_cause", "state",
    "state_code",
)  # fmt: skip


def _plain(value: Any) -> Any:
    return value.isoformat() if hasattr(value, "isoformat") else value


def _rows(frame: pl.DataFrame, keys: tuple[str, ...]) -> list[dict[str, Any]]:
    return [{k: _plain(v) for k, v in row.items()} for row in frame.select(keys).iter_rows(named=True)]


def result_as_dict(row: dict[str, Any], readings: list[dict[str, Any]]) -> dict[str, Any]:
    """One sample's result with its readings, kinds and states in words."""
    worded = [{**r, "kind": _KIND[r["kind"]], "state": _STATE[r["state"]]} for r in readings]
    kind = _KIND[row["kind"]] if row["seconds"] is not None else None
    return {**row, "kind": kind, "readings": worded}


def day_as_dict(outcome: DayOutcome, *, with_readings: bool = True) -> dict[str, Any]:
    """Return the whole day as plain values; findings are added by whoever prints it."""
    by_sample: dict[str, list[dict[str, Any]]] = {}
    if with_readings:
        for sample, reading in zip(
            outcome.readings["sample"], _rows(outcome.readings, _READING_KEYS), strict=True
        ):
            by_sample.setdefault(sample, []).append(reading)
    return {
        "day_id": outcome.day_id or None,
        "title": outcome.title,
        "read_at": outcome.read_at.isoformat(),
        "demonstration": outcome.demonstration,
        "sheet": asdict(outcome.sheet),
        "sample_sheet": asdict(outcome.sample_sheet) if outcome.sample_sheet else None,
        "profiles": [p.name for p in outcome.profiles],
        "scatter": {"kind": outcome.scatter.kind, "parameters": list(outcome.scatter.parameters),
                    "provenance": outcome.scatter.provenance.value, "note": outcome.scatter.note},
        "counts": asdict(outcome.counts),
        "results": [
            result_as_dict(row, by_sample.get(row["sample"], []))
            for row in _rows(outcome.results, _RESULT_KEYS)
        ],
        "refused": [asdict(r) for r in outcome.refused],
        "limits": [asdict(x) for x in outcome.limits],
        "bins": [
            {**asdict(b), "kind": None if b.kind is None else _KIND[b.kind]} for b in outcome.bins
        ],
        **day_quality_as_dict(outcome),
        "prices": None if outcome.prices is None else day_prices_as_dict(outcome.prices),
    }  # fmt: skip
