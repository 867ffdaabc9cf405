"""The invented day, run end to end: its own records and its papers."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from lodestarch import demo
from lodestarch.demo.control import keep_control
from lodestarch.demo.handing_over import hand_over
from lodestarch.demo.morning import Morning, earlier_pairs, growth, run_morning
from lodestarch.demo.planning import keep_planning
from lodestarch.demo.trading import keep_terms
from lodestarch.plan.advice import Costs
from lodestarch.records.engine import open_records
from lodestarch.sheets import templates
from lodestarch.words.findings import as_json
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.day_order import DayFile, DayOrder
from lodestarch.work.bench.outcome import DayOutcome
from lodestarch.work.bench.outcome_json import day_as_dict
from lodestarch.work.bench.paper import (
    blank_sheet_html,
    day_sheet_html,
    wall_table_csv,
    wall_table_html,
    wall_table_text,
)
from lodestarch.work.keeping.profiles import book_of
from lodestarch.work.quality.fit_growth import FitStep

__all__ = ["RECORDS_NAME", "DemoRun", "demo_order", "run_demo"]

RECORDS_NAME = "demo.db"
_TABLES = (RECORDS_NAME, f"{RECORDS_NAME}-wal", f"{RECORDS_NAME}-shm")


@dataclass(frozen=True, slots=True)
class DemoRun:
    """What a run of the demonstration left."""

    outcome: DayOutcome
    growth: tuple[FitStep, ...]
    morning: Morning
    records: Path
    papers: tuple[Path, ...]


def demo_order() -> DayOrder:
    """The order of the invented day."""
    return DayOrder(
        sheet=DayFile(demo.BENCH_NAME, demo.bench_sheet()),
        samples=DayFile(demo.SAMPLES_NAME, demo.sample_sheet()),
        terms=DayFile(demo.TERMS_NAME, demo.terms()),
        profile=demo.PROFILE_ID,
        elevation_m=demo.ELEVATION_M,
        pressure_is_station=True,
        title=demo.TITLE,
        demonstration=True,
        materials=demo.check_materials(),
        grades=DayFile(demo.GRADES_NAME, demo.grades()),
        costs=Costs(demo.RETEST_COST, 0.0, demo.STORAGE_COST),
    )


def run_demo(out: Path, *, at: datetime, clock: Callable[[], datetime]) -> DemoRun:
    """Run the invented day and the morning after into ``out/demo.db`` and write their papers beside it.

    Parameters
    ----------
    out : Path
        Folder; made where it is missing. Records of an earlier demonstration in it are made anew.
    at : datetime
        When, with time zone.
    clock : callable

    Raises
    ------
    RecordsBusy
        When the workbench is open on an earlier demonstration there.
    """
    out.mkdir(parents=True, exist_ok=True)
    records = out / RECORDS_NAME
    if records.exists():
        # Taking the lock first keeps a running workbench's file from being pulled away under it.
        open_records(records, clock=clock).close()
        for name in _TABLES:
            (out / name).unlink(missing_ok=True)
    with open_records(records, clock=clock, site="demo") as kept:
        keep_terms(kept, person="demonstration", at=at)
        handed = hand_over(kept, out, at=at)
        keep_control(kept, person="demonstration", at=at)
        outcome = run_day(demo_order(), records=kept, person="demonstration", at=at)
        morning = run_morning(kept, person="demonstration", at=at)
        keep_planning(kept, person="demonstration", at=at)
        with kept.view() as view:
            profile = book_of(view).named(demo.PROFILE_ID)
    texts = {
        "day-sheet.html": day_sheet_html(outcome),
        "day.json": _json(outcome),
        "morning-day-sheet.html": day_sheet_html(morning.whole),
        "morning.json": _json(morning.whole),
        "wall-table.html": wall_table_html(profile, demonstration=True),
        "wall-table.csv": wall_table_csv(profile),
        "wall-table.txt": wall_table_text(profile),
        "blank-bench-sheet.html": blank_sheet_html(profile, demonstration=True),
    }
    data = {
        "earlier-pairs.csv": earlier_pairs(),
        "bench-sheet-template.csv": templates.bench_sheet_csv(),
        "bench-sheet-template.xlsx": templates.bench_sheet_xlsx(),
        "terms-template.toml": templates.terms_toml(),
    }
    papers = list(handed)
    for name, text in texts.items():
        # newline="" keeps CSV line ends as they are on every system.
        with (out / name).open("w", encoding="utf-8", newline="") as file:
            file.write(text)
        papers.append(out / name)
    for name, content in data.items():
        (out / name).write_bytes(content)
        papers.append(out / name)
    return DemoRun(outcome, growth(), morning, records, tuple(papers))


def _json(outcome: DayOutcome) -> str:
    body = {**day_as_dict(outcome), "findings": [as_json(f) for f in outcome.findings]}
    return json.dumps(body, indent=2, ensure_ascii=False) + "\n"
