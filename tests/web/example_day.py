"""An invented day for tests of pages, papers and pictures: judged by the real rules, from rows made here."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import cache

import numpy as np
import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.control.bench_rules import bench_findings
from lodestarch.method.day_counts import count_day
from lodestarch.method.judging import judge
from lodestarch.method.reading import parse_seconds
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profile
from lodestarch.method.table import READINGS, SAMPLES, conform, empty
from lodestarch.plan.bin_state import bin_states
from lodestarch.sheets.account import RefusedRow
from lodestarch.work.bench.outcome import DayOutcome, Limit, SheetAccount

PROFILE = shipped_profile("meal-14")
GROWERS = ("Ebner", "Thornby Farms", "Halvorsen", "Pascoe", "Lindqvist & Sons", "Okoro", "Marchetti")
LIMITS = (
    Limit("quillmere", "Quillmere", 300.0, None, "q-1"),
    Limit("oster", "Oster Mill", 250.0, None, "o-1"),
    Limit("hallam", "Hallam Feed", 180.0, None, "h-1"),
    Limit("brandt", "Brandt Malt", 220.0, 340.0, "b-1"),
)
_ORDER = {Severity.STOP: 0, Severity.CHECK: 1, Severity.NOTE: 2}
_START = datetime(2026, 8, 12, 7, 30)  # noqa: DTZ001 - bench sheets carry local times


def _reading(row: int, sample: str, position: str, seconds: str, **more: object) -> dict[str, object]:
    read = parse_seconds(seconds)
    assert read is not None
    return {
        "row": row, "sample": sample, "ticket": sample, "run": "2026-08-12", "position": position,
        "seconds": read.value_s, "kind": read.kind.value, "moisture_pct": 13.1, "mass_g": 6.91,
        "pressure_hpa": 1004.0, "corrected_by_instrument": False, "analyst": "RK",
        "position_stated": True, "row_text": f"{sample}\x1f{position}\x1f{seconds}", **more,
    }  # fmt: skip


def _special() -> dict[int, list[tuple[str, dict[str, object]]]]:
    """What goes wrong, by the place of the sample in the day: seconds as typed, and other fields."""
    return {
        4: [("62", {}), ("62", {})],
        9: [("2910", {}), ("291", {})],
        14: [("287", {}), ("351", {})],
        17: [("302", {"set_aside_cause": "hang-up"}), ("226", {})],
        20: [(">400", {}), (">400", {})],
        25: [("<=62", {}), ("<=62", {})],
        28: [("301", {})],
        33: [("315", {"moisture_pct": None}), ("309", {"moisture_pct": None})],
        38: [("45", {}), ("48", {})],
        41: [("268", {"mass_g": 6.2}), ("259", {})],
        46: [("62", {}), ("65", {})],
        52: [("243", {"moisture_pct": 17.2}), ("239", {"moisture_pct": 17.2})],
    }


@cache
def example_day(samples: int = 60) -> DayOutcome:
    """A wet-harvest day at an invented lab, the same every time."""
    rng = np.random.default_rng(20260812)
    level = np.clip(rng.normal(292.0, 58.0, samples), 120.0, 392.0)
    rows: list[dict[str, object]] = []
    sheet: list[dict[str, object]] = []
    special = _special()
    for i in range(samples):
        name = str(8801 + i)
        at = _START + timedelta(minutes=7 * i)
        pair = special.get(i) or [(f"{v:.0f}", {}) for v in rng.normal(level[i], 0.018 * level[i], 2)]
        for tube, (seconds, more) in enumerate(pair, start=1):
            fields = {"stirrer_id": f"S{tube}", "bath": "A", "run_at": at, **more}
            rows.append(_reading(len(rows) + 2, name, str(tube), seconds, **fields))
        check = i % 20 == 7
        sheet.append({
            "row": i + 2, "ticket": name, "sample": name, "kind": "check" if check else "load",
            "material": "check-low" if check else "wheat", "grower": None if check else GROWERS[i % 7],
            "variety": None if check else "Kestrel", "harvest_date": date(2026, 8, 11),
            "tonnes": None if check else 18.0 + i % 9, "bin": None if check else f"Bin {1 + i % 6}",
            "ground_mass_g": 210.0 if i == 30 else 320.0, "mill_id": "M1",
            "ground_at": at - timedelta(minutes=25), "moisture_method": "oven",
            "moisture_on": "meal", "row_text": name,
        })  # fmt: skip
    return outcome_from(rows, sheet)


def _frame(rows: list[dict[str, object]], schema: dict[str, pl.DataType]) -> pl.DataFrame:
    if not rows:
        return empty(schema)
    return conform(pl.DataFrame(rows, schema_overrides=schema, strict=False), schema)


def outcome_from(
    rows: list[dict[str, object]],
    sheet: list[dict[str, object]],
    *,
    limits: tuple[Limit, ...] = LIMITS,
    demonstration: bool = True,
    day_id: str = "2026-08-12",
    title: str = "12 August 2026",
) -> DayOutcome:
    """Judge rows into a day, as the use case does."""
    readings, samples = _frame(rows, READINGS), _frame(sheet, SAMPLES)
    judged = judge(readings, {PROFILE.profile_id: PROFILE}, PROFILE, DEFAULT_SCATTER, elevation_m=80.0,
                   pressure_is_station=True)  # fmt: skip
    found = [*judged.findings, *bench_findings(judged.readings, judged.results, samples, profiles=[PROFILE],
                                               scatter=DEFAULT_SCATTER)]  # fmt: skip
    if rows:
        where = Where(source="bench.csv", row=12, sample="8806", ticket="8806")
        found.append(Finding("row-changed-since", where))
    ordered = sorted(found, key=lambda f: (_ORDER[f.severity], f.where.row or 0))
    return DayOutcome(
        day_id=day_id,
        title=title,
        read_at=datetime(2026, 8, 12, 18, 5),  # noqa: DTZ001 - local time of the lab
        demonstration=demonstration,
        sheet=SheetAccount("bench.csv", "4f1c" + "0" * 60, len(rows) + 1, len(rows), 9, 1, 0, 1),
        sample_sheet=SheetAccount("samples.csv", "9a0d" + "0" * 60, len(sheet), len(sheet), 0, 0, 0, 0),
        profiles=(PROFILE,),
        scatter=DEFAULT_SCATTER,
        readings=judged.readings,
        results=judged.results,
        samples=samples,
        refused=(RefusedRow(99, "8871\x1f2\x1f2b7", "seconds-unreadable"),),
        findings=tuple(ordered),
        counts=count_day(judged.results, judged.readings),
        limits=limits,
        bins=bin_states(samples, judged.results),
    )


def empty_day() -> DayOutcome:
    """A sheet without a row."""
    return outcome_from([], [], limits=(), demonstration=False, day_id="2026-08-13", title="13 August 2026")
