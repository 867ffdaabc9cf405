"""What was entered of samples at the bench, as a sample sheet would say it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import polars as pl

from lodestarch.method.table import SAMPLES, conform
from lodestarch.records.tables import Equipment, Preparation
from lodestarch.records.unit import View

__all__ = ["samples_entered"]


def samples_entered(view: View, codes: list[str]) -> pl.DataFrame:
    """Return what was entered of samples, in the columns of a sample sheet."""
    names = view.names("parties")
    machines = {row.key: row.name for row in view.all(Equipment)}
    mills = {p.sample: machines.get(p.mill or "") for p in view.of_samples(Preparation, codes)}
    rows: list[dict[str, Any]] = [
        {
            "ticket": s.ticket,
            "sample": s.key,
            # Splits and regrinds have no kind of their own on a sample sheet.
            "kind": s.kind if s.kind not in {"split", "regrind"} else None,
            "material": s.material,
            "grower": names.get(s.whose or ""),
            "origin": s.origin,
            "variety": s.variety,
            "mill_id": mills.get(s.key),
            "received_at": datetime.fromisoformat(s.received_at).replace(tzinfo=None),
        }
        for s in view.in_work(codes).samples
    ]
    columns = {name: [row.get(name) for row in rows] for name in SAMPLES}
    return conform(pl.DataFrame(columns, schema=SAMPLES, strict=False), SAMPLES)
