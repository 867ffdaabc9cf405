"""A day at the bench as the pages of a day show it: judged as its readings stand now."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import polars as pl

from lodestarch.common.findings import in_order
from lodestarch.method.day_counts import count_day
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.table import SAMPLES, conform
from lodestarch.plan.bin_state import bin_states
from lodestarch.records.day_values import KeptDay
from lodestarch.records.tables import Equipment, Preparation
from lodestarch.records.unit import View
from lodestarch.work.bench.bench_day import judge_standing
from lodestarch.work.bench.choices import limits_read_out
from lodestarch.work.bench.outcome import DayOutcome, SheetAccount
from lodestarch.work.keeping.profiles import ProfileBook

__all__ = ["live_outcome", "samples_entered"]


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


def live_outcome(view: View, kept: KeptDay, book: ProfileBook) -> DayOutcome:
    """Return a day at the bench as it stands.

    Parameters
    ----------
    view : View
    kept : KeptDay
        Opened at the bench; its readings name the samples that were read that day.
    book : ProfileBook
    """
    parts = kept.parts
    codes = parts.readings["sample"].unique(maintain_order=True).to_list()
    judged = judge_standing(view, view.standing_readings(codes), book)
    samples = samples_entered(view, codes)
    read = judged.readings.height
    used = [
        book.versions[n] for n in judged.results["profile"].unique(maintain_order=True) if n in book.versions
    ]
    return DayOutcome(
        day_id=kept.day_id,
        title=parts.title,
        read_at=parts.read_at,
        demonstration=parts.demonstration,
        sheet=SheetAccount(parts.title, "", read, read, 0, 0, 0, 0),
        sample_sheet=None,
        profiles=tuple(used),
        scatter=DEFAULT_SCATTER,
        readings=judged.readings,
        results=judged.results,
        samples=samples,
        refused=(),
        findings=in_order(judged.findings),
        counts=count_day(judged.results, judged.readings),
        limits=limits_read_out(view),
        bins=bin_states(samples, judged.results),
    )
