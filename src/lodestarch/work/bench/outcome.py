"""What a day's bench sheet comes to: one value that terminal, page, paper and JSON all show."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import polars as pl

from lodestarch.common.findings import Finding
from lodestarch.control.day_hold import DayHold
from lodestarch.control.own_precision import OwnPrecision
from lodestarch.method.day_counts import DayCounts
from lodestarch.method.profile import Profile
from lodestarch.method.scatter import ScatterLaw
from lodestarch.plan.bin_state import BinState
from lodestarch.precision.budget import Budget
from lodestarch.sheets.account import RefusedRow
from lodestarch.trade.limits import Limit
from lodestarch.work.office.day_prices import DayPrices

__all__ = ["BinState", "DayCounts", "DayOutcome", "Limit", "SheetAccount"]


@dataclass(frozen=True, slots=True)
class SheetAccount:
    """What became of the rows of one sheet."""

    name: str
    sha256: str
    rows: int
    taken: int
    taken_with_finding: int
    refused: int
    already_known: int
    changed_since: int


@dataclass(frozen=True, slots=True)
class DayOutcome:
    """Everything that one bench sheet, with its sample sheet and terms, comes to.

    ``readings``, ``results`` and ``samples`` are frames in ``method.table.JUDGED``, ``RESULTS`` and
    ``SAMPLES``; ``findings`` are in order of severity, then row.
    """

    day_id: str
    title: str
    read_at: datetime
    demonstration: bool
    sheet: SheetAccount
    sample_sheet: SheetAccount | None
    profiles: tuple[Profile, ...]
    scatter: ScatterLaw
    readings: pl.DataFrame
    results: pl.DataFrame
    samples: pl.DataFrame
    refused: tuple[RefusedRow, ...]
    findings: tuple[Finding, ...]
    counts: DayCounts
    limits: tuple[Limit, ...]
    bins: tuple[BinState, ...]
    prices: DayPrices | None = None
    """Where terms were given with the sheet; not kept with the day."""
    own: OwnPrecision | None = None
    """What the lab's own pairs and check samples say; of a day out of the records its law alone is kept."""
    budget: Budget | None = None
    """Of one result of two tubes at the day's typical level."""
    hold: DayHold | None = None
    """What failed check samples hold back; ``None``: no check failed."""
